#include "first_blocks.h"

#include "rerun.h"
#include "ride/fit.h"
#include "ruler.h"

static bool may_count(const struct store_ride *ride)
{
    return ride->state != STORE_BY_HAND && ride->summary.ending == STORE_ENDING_DONE &&
           ride->summary.duration_s >= PLAN_LENGTH_MIN_MS / 1000 && !ruler_is_virtual(ride);
}

struct work_done {
    uint32_t asked_ms, ridden_ms;
};

static void take(void *user, const struct ride *ride)
{
    struct work_done *done = user;

    done->asked_ms = plan_work_ms(&ride->setup.plan);
    done->ridden_ms = (uint32_t)ride->totals.work_s * 1000;
}

/* Out of the journal, which says of rides of any age what was to be ridden and what was. One that
 * cannot be read proves nothing. */
static bool most_work_was_ridden(struct store *store, int64_t id)
{
    struct work_done done = {0};
    struct rerun rerun;

    return rerun_stored(store, id, (struct rerun_watch){take, &done}, &rerun) == RESULT_OK &&
           done.ridden_ms > done.asked_ms / 2;
}

bool first_blocks_go_on(const struct settings *settings, struct store *store)
{
    struct store_ride ride = {.id = INT64_MAX};
    unsigned count = 0;

    if (settings->is_experienced)
        return false;
    while (store != NULL && count < FIRST_BLOCKS &&
           store_next_older(store, ride.id, &ride) == RESULT_OK)
        count += may_count(&ride) && most_work_was_ridden(store, ride.id);
    return count < FIRST_BLOCKS;
}

void first_blocks_ease(const struct rider *rider, struct plan *plan)
{
    struct limits limits;

    limits_set(rider, NULL, 0, &limits);
    plan_cap_power(plan, limits.load_max_w);
}
