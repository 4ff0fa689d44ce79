#include "own_power.h"

#include <stdio.h>
#include <stdlib.h>

#include "app/command.h"
#include "app/ride_record.h"
#include "beat.h"
#include "body/critical_power.h"

/* The model holds from 2 min on, and no block is longer than a few minutes more. */
static const uint32_t windows_s[] = {120, 180, 240, 300, 360, 420};
enum { WINDOWS = sizeof windows_s / sizeof windows_s[0], RIDES_MAX = 24, TRIALS_MIN = 3 };

/* Below that, as in the rider's settings, the efforts were all at the same power: held, not spent.
 */
#define W_PRIME_LEAST_J 1000

/* The most work done over each window of the intervals, in the rides of one kind. */
struct efforts {
    uint32_t rides;
    int32_t best_j[WINDOWS];
};

static void take_curve(struct efforts *efforts, const struct mark_curve *curve)
{
    const uint32_t from_s = curve->before_ms / 1000;
    const uint32_t done_s = from_s + curve->length_ms / 1000;
    const uint32_t to_s = done_s < curve->seconds ? done_s : curve->seconds;

    for (size_t w = 0; w < WINDOWS; w++)
        for (uint32_t end = from_s + windows_s[w]; end <= to_s; end++) {
            const int32_t done_j = curve->work_j[end] - curve->work_j[end - windows_s[w]];
            if (done_j > efforts->best_j[w])
                efforts->best_j[w] = done_j;
        }
    efforts->rides++;
}

static void collect(struct store *store, struct efforts efforts[2])
{
    struct store_ride ride = {.id = INT64_MAX};

    while (store_next_older(store, ride.id, &ride) == RESULT_OK) {
        struct efforts *own = &efforts[ride.is_fresh ? 1 : 0];
        if (ride.state == STORE_RIDING || own->rides == RIDES_MAX)
            continue;
        struct mark_curve *curve = load_curve(store, ride.id);
        if (curve != NULL)
            take_curve(own, curve);
        free(curve);
    }
}

static void print_fit(const char *kind, const struct efforts *efforts)
{
    struct trial trials[WINDOWS];
    struct critical_power fit;
    size_t count = 0;

    for (size_t w = 0; w < WINDOWS; w++)
        if (efforts->best_j[w] > 0)
            trials[count++] =
                (struct trial){windows_s[w], (double)efforts->best_j[w] / windows_s[w]};
    if (count < TRIALS_MIN)
        say("%s: too little to fit; it takes rides with hard efforts of 2, 3 and 4 min.\n", kind);
    else if (critical_power_fit(CRITICAL_POWER_WORK_TIME, trials, count, &fit) != RESULT_OK ||
             fit.w_prime_j < W_PRIME_LEAST_J)
        say("%s: your best efforts fit no critical power; they were not all you had.\n", kind);
    else
        say("%s: the best of %u rides over %.0f to %.0f s come to %.0f W (+- %.0f) and %.1f kJ "
            "(+- %.1f).\n",
            kind, efforts->rides, trials[0].time_s, trials[count - 1].time_s, fit.power_w,
            fit.power_error_w, fit.w_prime_j / 1000, fit.w_prime_error_j / 1000);
}

void print_own_power(void)
{
    struct efforts efforts[2] = {{0}, {0}};
    struct store *store = NULL;

    if (ride_record_open(&store) != RESULT_OK)
        return;
    collect(store, efforts);
    store_close(store);
    if (efforts[0].rides + efforts[1].rides == 0)
        return;
    say("\nCritical power and W' from your own best efforts, an estimate: as low as those were "
        "easy, and too high when all were short. 'afterset rider critical-power 210' takes "
        "one.\n");
    print_fit("After leg work", &efforts[0]);
    print_fit("Fresh", &efforts[1]);
}
