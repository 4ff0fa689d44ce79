#include "load_choice.h"

#include <stdlib.h>

#include "app/command.h"
#include "ride_plan.h"

struct asked load_choice_written(const struct profile *profile, const struct rider *rider,
                                 bool is_virtual)
{
    struct plan *plan = calloc(1, sizeof *plan);
    struct rider whole = *rider;
    struct asked asked = {0};

    ride_plan_complete_rider(&whole, is_virtual);
    if (plan != NULL && profile_plan(profile, &whole, plan) == RESULT_OK)
        asked = asked_of(plan, 0);
    free(plan);
    return asked;
}

/* The same again is as long again, where the profile can be. */
static void follow_length(const struct profile *profile, uint32_t length_s, struct fit_wish *wish)
{
    const uint32_t length_ms = length_s * 1000;
    struct fit_span span;

    if (wish->length_ms == 0 && length_ms >= profile->length_min_ms &&
        length_ms <= profile->length_max_ms && fit_span(profile, &span) == RESULT_OK)
        wish->length_ms = length_ms;
}

static uint32_t chosen_length_ms(const struct profile *profile, const struct fit_wish *wish)
{
    struct profile_size size = {0};
    struct fit_span span;

    if (wish->length_ms > 0 && fit_span(profile, &span) == RESULT_OK)
        return fit_length_ms(&span, fit_rounds(&span, wish->length_ms));
    return profile_measure(profile, &size) == RESULT_OK ? (uint32_t)size.length_ms : 0;
}

void load_choice_settle(struct store *store, const struct profile *profile,
                        const struct rider *rider, bool is_virtual, struct ride_options *options,
                        struct store_ride *about)
{
    struct fit_wish *wish = &options->wish;
    struct next_time next = {0};

    if (options->load == LOAD_AS_WRITTEN)
        return;
    if (store != NULL)
        next_time_for(store, about, rider, &next);
    if (next.count == 0) {
        if (options->load == LOAD_NEXT)
            complain("--load next: there is no earlier block like this one; it is ridden as "
                     "written");
        return;
    }
    const struct asked written = load_choice_written(profile, rider, is_virtual);
    const int32_t load_pct = next_time_load_pct(&next, &written);
    if (options->load == LOAD_NEXT) {
        wish->load_pct = load_pct;
        follow_length(profile, next.progress.length_s, wish);
    } else if (wish->load_pct != load_pct) {
        about->proposed = next.progress.asked;
    }
    if (next.progress.length_s > 0 &&
        chosen_length_ms(profile, wish) / 1000 != next.progress.length_s)
        about->proposed_length_ms = next.progress.length_s * 1000;
}
