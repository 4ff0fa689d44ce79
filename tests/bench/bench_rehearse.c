/*
 * A block rehearsed, as `afterset rehearse` and every key in `afterset draft` do it.
 */
#include "app/rehearse.h"
#include "common.h"

#define TRIES 21u

static void add(struct plan *plan, enum step_kind kind, uint32_t seconds, int32_t power_w)
{
    plan->steps[plan->step_count++] =
        (struct plan_step){.kind = kind,
                           .duration_ms = seconds * 1000,
                           .targets = {.power_w = {true, power_w - 10, power_w + 10}}};
}

/* 0:30, 20/10 x 8, 0:30 */
static void make_plan(struct plan *plan)
{
    add(plan, STEP_WARM_UP, 30, 100);
    for (int round = 0; round < 8; round++) {
        add(plan, STEP_WORK, 20, 240);
        add(plan, STEP_REST, 10, 80);
    }
    add(plan, STEP_COOL_DOWN, 30, 70);
}

int main(void)
{
    static struct plan plan;
    static struct rehearsal rehearsal;
    const struct rider rider = {.critical_power_w = 200, .w_prime_j = 15000};
    uint64_t took_ns[TRIES];

    make_plan(&plan);
    for (size_t i = 0; i < TRIES; i++) {
        const uint64_t began_ns = bench_now_ns();
        if (rehearse(&plan, &rider, NULL, &rehearsal) != RESULT_OK ||
            rehearsal.summary.end != END_DONE)
            bench_fail("the block was not rehearsed to its end");
        took_ns[i] = bench_now_ns() - began_ns;
    }
    const double median_ns = bench_median(took_ns, TRIES);
    bench_row("a block of 5 minutes, afterset rehearse", bench_time(median_ns).text, "< 20 ms",
              "%.0f times real time", 300e9 / median_ns);
    return 0;
}
