/*
 * A whole block in no time: a rehearsal of it, what its parts take alone, and the same with a
 * journal and the readings of a fast bike.
 */
#include <stdlib.h>

#include "app/rehearse.h"
#include "block.h"
#include "common.h"
#include "io/virtual_bike.h"
#include "io/virtual_config.h"

#define TRIES 21u

static struct block block;
static struct ride_setup setup;

static void rehearse_once(void)
{
    static struct rehearsal rehearsal;
    struct rider rider = setup.rider;

    rehearse_complete(&rider);
    if (rehearse(&setup.plan, &rider, &rehearsal) != RESULT_OK || rehearsal.summary.end != END_DONE)
        bench_fail("the block was not rehearsed to its end");
}

static void ride_once(void)
{
    block_ride(&block);
}

static void step_once(void)
{
    static struct ride ride;
    struct effects effects;

    ride_init(&ride, &setup);
    for (size_t i = 0; i < block.event_count; i++)
        ride_step(&ride, &block.events[i], &effects);
}

/* Nobody hears it and nobody tells it anything: rider, flywheel and brake alone. */
static void turn_once(void)
{
    static struct virtual_bike bike;
    const struct virtual_machine_config machine = virtual_machine_default();
    const struct virtual_rider_config rider = virtual_rider_default();

    if (virtual_bike_init(&bike, &machine, &rider, 1) != RESULT_OK)
        bench_fail("the virtual bike cannot be set up");
    virtual_bike_connect(&bike, 0);
    virtual_bike_advance(&bike, block.ride_ms);
}

static double median_of(void (*once)(void))
{
    uint64_t took_ns[TRIES];

    once(); /* fills the caches */
    for (size_t i = 0; i < TRIES; i++) {
        const uint64_t began_ns = bench_now_ns();
        once();
        took_ns[i] = bench_now_ns() - began_ns;
    }
    return bench_median(took_ns, TRIES);
}

int main(void)
{
    block.events = calloc(BLOCK_EVENTS_MAX, sizeof *block.events);
    if (block.events == NULL)
        bench_fail("out of memory");
    block_setup(&setup);
    const double ride_ns = median_of(ride_once);
    const double rehearsal_ns = median_of(rehearse_once);
    const double turn_ns = median_of(turn_once), step_ns = median_of(step_once);

    bench_row("a block of 5 minutes, rehearsed", bench_time(rehearsal_ns).text, "< 20 ms",
              "%.0f times real time", (double)block.ride_ms * 1e6 / rehearsal_ns);
    bench_row("  virtual bike alone", bench_time(turn_ns).text, "", "%.0f %% of it",
              100 * turn_ns / rehearsal_ns);
    bench_row("the same, 10 readings/s and a journal", bench_time(ride_ns).text, "",
              "%zu events, %zu of them readings; journal of %zu kB", block.event_count,
              block.reading_count, block.journal_length / 1000);
    bench_row("  ride_step alone", bench_time(step_ns).text, "", "%.0f %% of it",
              100 * step_ns / ride_ns);
    free(block.events);
    return 0;
}
