#include "by_hand.h"

#include <string.h>
#include <time.h>

#include "body/energy.h"

_Static_assert(HAND_BIKE_MAX == STORE_BIKE_MAX && HAND_NOTE_MAX == STORE_NOTE_MAX,
               "what can be written down can be kept");

#define DAY_S 86400 /* so that today's noon may be written down in the morning */

static bool time_of(const struct hand_date *date, int64_t now_unix_s, int64_t *ret)
{
    struct tm parts = {.tm_year = date->year - 1900,
                       .tm_mon = date->month - 1,
                       .tm_mday = date->day,
                       .tm_hour = date->hour,
                       .tm_min = date->minute,
                       .tm_isdst = -1};

    *ret = (int64_t)mktime(&parts);
    return *ret >= 0 && *ret <= now_unix_s + DAY_S;
}

bool by_hand_ride(const struct hand_block *block, int64_t now_unix_s, struct store_ride *ret)
{
    struct store_ride ride = {.state = STORE_BY_HAND,
                              .feel = block->feel,
                              .is_fresh = block->is_fresh,
                              .rating = {block->has_effort, block->effort, ""}};
    struct store_summary *summary = &ride.summary;

    if (!time_of(&block->date, now_unix_s, &ride.started_unix_s))
        return false;
    memcpy(ride.title, block->profile, sizeof block->profile);
    memcpy(ride.bike, block->bike, sizeof block->bike);
    memcpy(ride.rating.note, block->note, sizeof block->note);
    *summary = (struct store_summary){.ending = STORE_ENDING_DONE,
                                      .duration_s = block->duration_s,
                                      .work_j = block->work_j,
                                      .average_power_w = block->power_w,
                                      .distance_m = block->distance_m,
                                      .calories_kcal = block->calories_kcal,
                                      .average_heart_bpm = block->heart_bpm};
    if (block->calories_kcal == 0) {
        const struct energy_range energy = energy_range(block->work_j / 1000.0);
        summary->calories_kcal = (uint32_t)(energy.mid_kcal + 0.5);
        summary->calories_low_kcal = (uint32_t)(energy.low_kcal + 0.5);
        summary->calories_high_kcal = (uint32_t)(energy.high_kcal + 0.5);
    }
    *ret = ride;
    return true;
}
