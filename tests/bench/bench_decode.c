/*
 * The two things done for every reading, beside a copy of as many octets.
 */
#include <stdlib.h>
#include <string.h>

#include "common.h"
#include "rehearsal.h"
#include "wire/ftms_bike_data.h"

#define TRIES  31u
#define ROUNDS 100000u

/* Speed, cadence, distance, power and heart rate: Fitness Machine Service 1.0.1, table 4.10. */
static const uint8_t frame[] = {0x54, 0x02, 0x10, 0x0E, 0xB4, 0x00,
                                0x39, 0x30, 0x00, 0xE6, 0x00, 0x91};

/* As far as the compiler can tell, what stands there is changed and looked at. */
static void touch(const void *memory)
{
    __asm__ volatile("" : : "g"(memory) : "memory");
}

static uint64_t time_copies(size_t length)
{
    static uint8_t to[FTMS_BIKE_DATA_MAX];
    void *(*const volatile copy)(void *, const void *, size_t) = memcpy;
    void *(*const called)(void *, const void *, size_t) = copy;
    const uint64_t began_ns = bench_now_ns();

    for (size_t i = 0; i < ROUNDS; i++) {
        touch(frame);
        called(to, frame, length);
        touch(to);
    }
    return bench_now_ns() - began_ns;
}

static uint64_t time_decodes(size_t length)
{
    struct ftms_bike_data data;
    const uint64_t began_ns = bench_now_ns();

    for (size_t i = 0; i < ROUNDS; i++) {
        touch(frame);
        if (ftms_decode_bike_data(frame, length, &data) != RESULT_OK)
            bench_fail("the frame is no frame");
        touch(&data);
    }
    return bench_now_ns() - began_ns;
}

/* Every event of a block, one after the other. */
static uint64_t time_steps(const struct event *events, size_t count)
{
    static struct ride_setup setup;
    static struct ride ride;
    struct effects effects;

    rehearsal_setup(&setup);
    ride_init(&ride, &setup);
    const uint64_t began_ns = bench_now_ns();
    for (size_t i = 0; i < count; i++) {
        ride_step(&ride, &events[i], &effects);
        touch(&effects);
    }
    return bench_now_ns() - began_ns;
}

int main(void)
{
    uint64_t copies_ns[TRIES], decodes_ns[TRIES], steps_ns[TRIES];
    struct rehearsal rehearsal = {.events = calloc(REHEARSAL_EVENTS_MAX, sizeof(struct event))};

    if (rehearsal.events == NULL)
        bench_fail("out of memory");
    rehearsal_run(&rehearsal);
    if (rehearsal.event_count > REHEARSAL_EVENTS_MAX)
        bench_fail("more events than are kept");
    for (size_t i = 0; i < TRIES; i++) {
        copies_ns[i] = time_copies(sizeof frame);
        decodes_ns[i] = time_decodes(sizeof frame);
        steps_ns[i] = time_steps(rehearsal.events, rehearsal.event_count);
    }
    const double copy_ns = bench_median(copies_ns, TRIES) / ROUNDS;
    const double decode_ns = bench_median(decodes_ns, TRIES) / ROUNDS;
    const double step_ns = bench_median(steps_ns, TRIES) / (double)rehearsal.event_count;

    bench_row("one Indoor Bike Data frame decoded", bench_time(decode_ns).text, "",
              "%.1f times a memcpy of its %zu octets (%s)", decode_ns / copy_ns, sizeof frame,
              bench_time(copy_ns).text);
    bench_row("one ride_step, mean of a block", bench_time(step_ns).text, "",
              "%.1f times the decoding of a frame, %.0f times that memcpy", step_ns / decode_ns,
              step_ns / copy_ns);
    free(rehearsal.events);
    return 0;
}
