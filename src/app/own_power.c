#include "own_power.h"

#include <stdio.h>
#include <stdlib.h>

#include "app/command.h"
#include "app/ride_record.h"
#include "beat.h"
#include "ruler.h"

/* The model holds from 2 min on, and no block is longer than a few minutes more. */
static const uint32_t windows_s[OWN_POWER_WINDOWS] = {120, 180, 240, 300, 360, 420};
enum { RIDES_MAX = 24, TRIALS_MIN = 3 };

/* Below that, as in the rider's settings, the efforts were all at the same power: held, not spent.
 * And an error of more than half of it says that they are on no line. */
#define W_PRIME_LEAST_J 1000

static void take_curve(struct own_power *efforts, const struct mark_curve *curve)
{
    const uint32_t from_s = curve->before_ms / 1000;
    const uint32_t done_s = from_s + curve->length_ms / 1000;
    const uint32_t to_s = done_s < curve->seconds ? done_s : curve->seconds;

    for (size_t w = 0; w < OWN_POWER_WINDOWS; w++)
        for (uint32_t end = from_s + windows_s[w]; end <= to_s; end++) {
            const int32_t done_j = curve->work_j[end] - curve->work_j[end - windows_s[w]];
            if (done_j > efforts->best_j[w])
                efforts->best_j[w] = done_j;
        }
    efforts->rides++;
}

/* Ridden by one source of power. */
static bool is_of_kind(const struct store_ride *ride, bool is_fresh)
{
    return ride->state != STORE_RIDING && ride->state != STORE_BY_HAND &&
           ride->is_fresh == is_fresh && !ruler_is_mixed(ride);
}

/* By whose power: the newest ride's, a virtual bike's only where there is no other. */
static bool find_ruler(struct store *store, bool is_fresh, struct store_ride *ret)
{
    struct store_ride ride = {.id = INT64_MAX};
    bool is_found = false;

    while (store_next_older(store, ride.id, &ride) == RESULT_OK) {
        if (!is_of_kind(&ride, is_fresh) || (is_found && ruler_is_virtual(&ride)))
            continue;
        *ret = ride;
        if (!ruler_is_virtual(&ride))
            return true;
        is_found = true;
    }
    return is_found;
}

struct own_power own_power_collect(struct store *store, bool is_fresh)
{
    struct own_power efforts = {0};
    struct store_ride ride = {.id = INT64_MAX}, ruler;
    double factor;

    if (!find_ruler(store, is_fresh, &ruler))
        return efforts;
    while (efforts.rides < RIDES_MAX && store_next_older(store, ride.id, &ride) == RESULT_OK) {
        if (!is_of_kind(&ride, is_fresh) || !ruler_is_same(&ride, &ruler) ||
            !ruler_factor_anywhere(&ride, &ruler, &factor))
            continue;
        struct mark_curve *curve = load_curve(store, ride.id);
        if (curve != NULL)
            take_curve(&efforts, curve);
        free(curve);
    }
    return efforts;
}

static size_t trials_of(const struct own_power *efforts, struct trial *ret)
{
    size_t count = 0;

    for (size_t w = 0; w < OWN_POWER_WINDOWS; w++)
        if (efforts->best_j[w] > 0)
            ret[count++] = (struct trial){windows_s[w], (double)efforts->best_j[w] / windows_s[w]};
    return count;
}

enum result own_power_fit(const struct own_power *efforts, struct critical_power *ret)
{
    struct trial trials[OWN_POWER_WINDOWS];
    const size_t count = trials_of(efforts, trials);

    if (count < TRIALS_MIN)
        return RESULT_NEED_MORE;
    const enum result result = critical_power_fit(CRITICAL_POWER_WORK_TIME, trials, count, ret);
    if (result == RESULT_OK &&
        (ret->w_prime_j < W_PRIME_LEAST_J || ret->w_prime_error_j > ret->w_prime_j / 2))
        return RESULT_RANGE;
    return result;
}

/* How far the forms of the fit are apart says more of its doubt than the errors of one. */
static void print_other_forms(const struct trial *trials, size_t count)
{
    struct critical_power inverse, hyperbolic;

    if (critical_power_fit(CRITICAL_POWER_INVERSE_TIME, trials, count, &inverse) == RESULT_OK &&
        critical_power_fit(CRITICAL_POWER_HYPERBOLIC, trials, count, &hyperbolic) == RESULT_OK)
        say("Two other ways of fitting them give %.0f W and %.1f kJ, %.0f W and %.1f kJ.\n",
            inverse.power_w, inverse.w_prime_j / 1000, hyperbolic.power_w,
            hyperbolic.w_prime_j / 1000);
}

static void print_fit(const char *kind, const struct own_power *efforts)
{
    struct trial trials[OWN_POWER_WINDOWS];
    const size_t count = trials_of(efforts, trials);
    struct critical_power fit;
    const enum result result = own_power_fit(efforts, &fit);

    if (result == RESULT_NEED_MORE)
        say("%s: too little to fit; it takes rides with hard efforts of 2, 3 and 4 min.\n", kind);
    else if (result != RESULT_OK)
        say("%s: your best efforts fit no critical power; they were not all you had.\n", kind);
    else {
        say("%s: the best of %u rides over %.0f to %.0f s come to %.0f W (+- %.0f) and %.1f kJ "
            "(+- %.1f).\n",
            kind, efforts->rides, trials[0].time_s, trials[count - 1].time_s, fit.power_w,
            fit.power_error_w, fit.w_prime_j / 1000, fit.w_prime_error_j / 1000);
        print_other_forms(trials, count);
    }
}

void print_own_power(void)
{
    struct store *store = NULL;

    if (ride_record_open(&store) != RESULT_OK)
        return;
    const struct own_power tired = own_power_collect(store, false);
    const struct own_power fresh = own_power_collect(store, true);
    store_close(store);
    if (tired.rides + fresh.rides == 0)
        return;
    say("\nCritical power and W' from your own best efforts, an estimate: as low as those were "
        "easy, too high when all were short. After leg work and fresh are fitted each for itself, "
        "neither out of the other. 'afterset rider critical-power 210' takes one.\n");
    print_fit("After leg work", &tired);
    print_fit("Fresh", &fresh);
}
