#include "beat.h"

#include <stdlib.h>

#include "app/command.h"
#include "earlier.h"
#include "rerun.h"
#include "ruler.h"

static void take(void *user, const struct ride *ride)
{
    mark_curve_take(user, ride);
}

struct mark_curve *load_curve(struct store *store, int64_t id)
{
    struct mark_curve *curve = calloc(1, sizeof *curve);
    struct rerun rerun;

    if (curve != NULL &&
        rerun_stored(store, id, (struct rerun_watch){take, curve}, &rerun) != RESULT_OK) {
        free(curve);
        curve = NULL;
    }
    return curve;
}

bool beat_find(struct beat *beat, struct store *store, const struct store_ride *like,
               enum mark_measure measure, const struct ride_setup *setup)
{
    struct earlier earlier = {0};

    if (store != NULL && earlier_find(store, like, &earlier) == RESULT_OK &&
        earlier.last_ridden_id != 0)
        beat->curve = load_curve(store, earlier.last_ridden_id);
    if (beat->curve == NULL) {
        const bool is_other_source = earlier.last.id != 0 && !ruler_is_same(&earlier.last, like);
        complain("--beat: there is no earlier block like this one%s to beat; this one will be it",
                 is_other_source ? " by the same source of power" : "");
        return false;
    }
    beat->mark = mark_of(beat->curve, measure, &setup->plan, setup->rider.critical_power_w,
                         earlier_typical_error_pct(&earlier));
    return true;
}

void beat_free(struct beat *beat)
{
    free(beat->curve);
    *beat = (struct beat){0};
}

uint16_t beat_power_w(struct store *store, const struct store_ride *like)
{
    struct earlier earlier = {0};

    if (store == NULL || earlier_find(store, like, &earlier) != RESULT_OK)
        return 0;
    const double power_w =
        earlier.last.summary.work_power_w * ruler_to_machine(&earlier.last) + 0.5;
    return power_w < UINT16_MAX ? (uint16_t)power_w : 0;
}
