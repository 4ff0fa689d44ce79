#include "ride_plan.h"

#include "app/command.h"
#include "first_blocks.h"

/* Low on purpose (common practice): too easy a first block is soon mended. */
#define ASSUMED_CRITICAL_POWER_W 120

void ride_plan_complete_virtual(struct rider *rider)
{
    if (rider->mass_kg <= 0.0)
        rider->mass_kg = 75.0;
    if (rider->age_years == 0)
        rider->age_years = 30;
    if (rider->critical_power_w == 0)
        rider->critical_power_w = 200;
    if (rider->w_prime_j == 0)
        rider->w_prime_j = 15000;
}

static bool asks_for_shares(const struct profile *profile)
{
    for (size_t i = 0; i < profile->item_count; i++)
        if (profile->items[i].targets.power_cp_tenths.set)
            return true;
    return false;
}

static void complete_rider(struct rider *rider, const struct profile *profile, bool is_virtual)
{
    if (is_virtual)
        ride_plan_complete_virtual(rider);
    if (rider->critical_power_w != 0 || !asks_for_shares(profile))
        return;
    rider->critical_power_w = ASSUMED_CRITICAL_POWER_W;
    complain("your critical power is not known; %d W is assumed, which is low "
             "('afterset rider critical-power 180' sets it)",
             ASSUMED_CRITICAL_POWER_W);
}

static bool fit_profile(const struct ride_options *options, const struct fit_wish *wish,
                        struct profile *profile, char *ret_fit)
{
    struct fit fit;
    const enum result result = profile_fit(profile, wish, profile, &fit);
    struct text_writer writer = text_writer(ret_fit, RIDE_FIT_TEXT_SIZE);

    if (result != RESULT_OK)
        complain("%s: it cannot be fitted: %s", options->profile, fit_problem(wish, result));
    else
        fit_put(&writer, &fit);
    return result == RESULT_OK;
}

bool ride_plan_make(const struct ride_options *options, struct profile *profile, bool is_virtual,
                    struct ride_setup *setup, char *ret_fit)
{
    struct fit_wish wish = options->wish;

    wish.is_first = setup->rider.is_new;
    if (!fit_profile(options, &wish, profile, ret_fit))
        return false;
    complete_rider(&setup->rider, profile, is_virtual);
    const enum result result = profile_plan(profile, &setup->rider, &setup->plan);
    if (result != RESULT_OK)
        complain("%s: no plan can be made of it: %s", options->profile, result_text(result));
    else if (setup->rider.is_new)
        first_blocks_ease(setup);
    return result == RESULT_OK;
}
