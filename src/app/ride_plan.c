#include "ride_plan.h"

#include "app/command.h"
#include "first_blocks.h"

/* Who rides the virtual bike, invented, where the rider has not said otherwise. */
static void complete_for_virtual_bike(struct rider *rider)
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

void ride_plan_complete_rider(struct rider *rider, bool is_virtual)
{
    if (is_virtual)
        complete_for_virtual_bike(rider);
    if (rider->critical_power_w == 0)
        rider->critical_power_w = ASSUMED_CRITICAL_POWER_W;
}

static void complete_rider(struct rider *rider, const struct profile *profile, bool is_virtual)
{
    const bool is_assumed = rider->critical_power_w == 0 && !is_virtual;

    if (is_assumed && !profile_asks_for_critical_power(profile, rider))
        return;
    ride_plan_complete_rider(rider, is_virtual);
    if (is_assumed)
        complain("your critical power is not known; %d W is assumed, which is low "
                 "('afterset rider critical-power 180' sets it)",
                 ASSUMED_CRITICAL_POWER_W);
}

static void put_mark(struct text_writer *writer, uint16_t mark_power_w)
{
    if (mark_power_w == 0) {
        text_put(writer, ", no mark yet: its shares are of critical power");
        return;
    }
    text_put(writer, ", mark ");
    text_put_unsigned(writer, mark_power_w);
    text_put(writer, " W");
}

static bool fit_profile(const struct ride_options *options, const struct fit_wish *wish,
                        struct profile *profile, uint16_t mark_power_w, char *ret_fit)
{
    struct fit fit;
    const enum result result = profile_fit(profile, wish, profile, &fit);
    struct text_writer writer = text_writer(ret_fit, RIDE_FIT_TEXT_SIZE);

    if (result != RESULT_OK) {
        complain("%s: it cannot be fitted: %s", options->profile, fit_problem(wish, result));
        return false;
    }
    if (wish->length_ms > 0 || wish->feel > 0 || wish->load_pct != 0 || wish->is_first ||
        profile_asks_for_mark(profile))
        fit_put(&writer, &fit);
    if (profile_asks_for_mark(profile))
        put_mark(&writer, mark_power_w);
    return true;
}

bool ride_plan_make(const struct ride_options *options, struct profile *profile, bool is_virtual,
                    struct ride_setup *setup, char *ret_fit)
{
    struct fit_wish wish = options->wish;

    wish.is_first = setup->rider.is_new;
    if (!fit_profile(options, &wish, profile, setup->rider.mark_power_w, ret_fit))
        return false;
    complete_rider(&setup->rider, profile, is_virtual);
    const enum result result = profile_plan(profile, &setup->rider, &setup->plan);
    if (result != RESULT_OK)
        complain("%s: no plan can be made of it: %s", options->profile, result_text(result));
    else if (setup->rider.is_new)
        first_blocks_ease(&setup->rider, &setup->plan);
    return result == RESULT_OK;
}
