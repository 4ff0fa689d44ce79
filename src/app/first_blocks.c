#include "first_blocks.h"

#include <string.h>

#include "ride/fit.h"

static bool counts(const struct store_ride *ride)
{
    return ride->state != STORE_BY_HAND && ride->summary.ending == STORE_ENDING_DONE &&
           ride->summary.duration_s >= PLAN_LENGTH_MIN_MS / 1000 &&
           strcmp(ride->bike, "virtual") != 0 && strncmp(ride->bike, "unix:", 5) != 0 &&
           strncmp(ride->bike, "capture:", 8) != 0;
}

bool first_blocks_go_on(const struct settings *settings, struct store *store)
{
    struct store_ride ride = {.id = INT64_MAX};
    unsigned count = 0;

    if (settings->is_experienced)
        return false;
    while (store != NULL && count < FIRST_BLOCKS &&
           store_next_older(store, ride.id, &ride) == RESULT_OK)
        count += counts(&ride);
    return count < FIRST_BLOCKS;
}

void first_blocks_ease(struct ride_setup *setup)
{
    struct limits limits;

    limits_set(&setup->rider, NULL, 0, &limits);
    plan_cap_power(&setup->plan, limits.load_max_w);
}
