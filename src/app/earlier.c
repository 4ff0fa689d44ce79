#include "earlier.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/ride_record.h"

#define SAME_S 2u

static bool is_whole(const struct store_ride *ride)
{
    return ride->state == STORE_FINISHED && ride->summary.ending == STORE_ENDING_DONE;
}

static bool is_alike(const struct store_ride *a, const struct store_ride *b)
{
    return strcmp(a->title, b->title) == 0 && strcmp(a->bike, b->bike) == 0 &&
           a->is_fresh == b->is_fresh;
}

size_t earlier_find(struct store *store, const struct store_ride *like,
                    struct store_ride ret[EARLIER_MAX])
{
    struct store_ride ride = {.id = like->id};
    size_t count = 0;

    while (count < EARLIER_MAX && store_next_older(store, ride.id, &ride) == RESULT_OK)
        if (is_whole(&ride) && is_alike(&ride, like))
            ret[count++] = ride;
    return count;
}

bool earlier_compare(const struct store_ride *now, const struct store_ride *earlier, size_t count,
                     char *ret, size_t size)
{
    char day[24], work[80] = "", power[48] = "";

    if (count == 0 || !is_whole(now))
        return false;
    const struct store_summary *a = &now->summary, *b = &earlier[0].summary;
    ride_record_day(&earlier[0], day, sizeof day);
    /* Work and distance say something only where there was as much time for them. */
    if (now->length_ms == earlier[0].length_ms && a->duration_s <= b->duration_s + SAME_S &&
        b->duration_s <= a->duration_s + SAME_S)
        (void)snprintf(work, sizeof work, "%+.1f kJ, %+lld m",
                       (a->work_j - (double)b->work_j) / 1000,
                       (long long)a->distance_m - b->distance_m);
    if (a->work_power_w > 0 && b->work_power_w > 0)
        (void)snprintf(power, sizeof power, "%+lld W in the work",
                       (long long)a->work_power_w - b->work_power_w);
    if (work[0] == '\0' && power[0] == '\0')
        return false;
    (void)snprintf(ret, size, "%s%s%s on last time (%s)", work,
                   work[0] != '\0' && power[0] != '\0' ? ", " : "", power, day);
    return true;
}

bool earlier_words(struct store *store, int64_t id, char *ret, size_t size)
{
    struct store_ride *list = calloc(EARLIER_MAX, sizeof *list);
    struct store_ride now;
    bool known = false;

    if (list != NULL && store_get(store, id, &now) == RESULT_OK)
        known = earlier_compare(&now, list, earlier_find(store, &now, list), ret, size);
    free(list);
    return known;
}
