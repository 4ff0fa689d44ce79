/*
 * A whole block in no time: how fast, and who takes how much of it.
 */
#include "common.h"
#include "rehearsal.h"

#define TRIES 21u

static double time_block(struct rehearsal *rehearsal)
{
    uint64_t took_ns[TRIES];

    rehearsal_run(rehearsal); /* fills the caches */
    for (size_t i = 0; i < TRIES; i++) {
        const uint64_t began_ns = bench_now_ns();
        rehearsal_run(rehearsal);
        took_ns[i] = bench_now_ns() - began_ns;
    }
    return bench_median(took_ns, TRIES);
}

int main(void)
{
    static const char *const names[] = {[STAGE_BIKE] = "  virtual bike",
                                        [STAGE_WIRE] = "  wire",
                                        [STAGE_RIDE] = "  ride_step",
                                        [STAGE_WATCH] = "  journal text"};
    struct rehearsal rehearsal = {0};
    const double took_ns = time_block(&rehearsal);
    uint64_t total_ns = 0;

    bench_row("a block of 5 minutes, rehearsed", bench_time(took_ns).text, "< 20 ms",
              "%.0f times real time; %zu events, %zu of them readings; journal of %zu kB",
              (double)rehearsal.ride_ms * 1e6 / took_ns, rehearsal.event_count,
              rehearsal.reading_count, rehearsal.journal_length / 1000);
    rehearsal.is_timed = true;
    rehearsal_run(&rehearsal);
    for (size_t i = 0; i < STAGE_HAND_COUNT; i++)
        total_ns += rehearsal.share_ns[i];
    for (size_t i = 0; i < STAGE_HAND_COUNT; i++)
        bench_row(
            names[i],
            bench_text("%.0f %%", 100.0 * (double)rehearsal.share_ns[i] / (double)total_ns).text,
            "", "%s", i == 0 ? "of another run, timed at each change of hands" : "");
    return 0;
}
