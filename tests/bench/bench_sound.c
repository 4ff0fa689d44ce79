/*
 * What it costs to be heard: wake-ups and time of a whole block, and from the edge of a step to the
 * samples in the device. ALSA_CONFIG_PATH should name a device that takes them at once.
 */
#include "common.h"
#include "io/speaker_alsa.h"
#include "ride/cues.h"
#include "support/drive.h"

#define TRIES 51u

static unsigned ticks, wake_ups;

/* A block of six minutes, four readings and ticks a second, with or without somebody who listens.
 */
static double ride_block(bool is_heard)
{
    static struct drive drive;
    struct cues cues = {0};
    uint64_t next_t_ms = CUES_NEVER;

    drive_init(&drive);
    drive_to(&drive, 1);
    ticks = wake_ups = 0;
    const uint64_t began_ns = bench_now_ns();
    for (; drive.ride.phase == PHASE_RIDING; ticks++) {
        for (; is_heard && next_t_ms <= drive.t_ms + TICK_MS; wake_ups++)
            (void)cues_step(&cues, &drive.ride, NULL, next_t_ms, &next_t_ms);
        drive_for(&drive, TICK_MS);
        if (is_heard)
            (void)cues_step(&cues, &drive.ride, &drive.effects, drive.t_ms, &next_t_ms);
    }
    return (double)(bench_now_ns() - began_ns);
}

static void on_failed(void *user, const char *why)
{
    (void)user;
    bench_fail(why);
}

static double time_to_device(size_t *ret_octets)
{
    struct loop *loop = loop_new(LOOP_REAL, 1.0);
    struct speaker *speaker = NULL;
    const char *why = NULL;
    uint64_t took_ns[TRIES];

    if (loop == NULL || speaker_alsa_open(loop, &speaker, &why) != RESULT_OK)
        bench_fail(why != NULL ? why : "out of memory");
    speaker->failed = on_failed;
    for (size_t i = 0; i < TRIES; i++) {
        const uint64_t began_ns = bench_now_ns();
        speaker->operations->play(speaker, CUE_WORK, 0, 70);
        took_ns[i] = bench_now_ns() - began_ns;
    }
    speaker->operations->close(speaker, 0);
    loop_free(loop);
    *ret_octets = (size_t)cue_length_ms(CUE_WORK) * 48 * 2;
    return bench_median(took_ns, TRIES);
}

int main(void)
{
    uint64_t heard_ns[TRIES], silent_ns[TRIES];
    size_t octets = 0;

    for (size_t i = 0; i < TRIES; i++) {
        silent_ns[i] = (uint64_t)ride_block(false);
        heard_ns[i] = (uint64_t)ride_block(true);
    }
    const double heard = bench_median(heard_ns, TRIES), silent = bench_median(silent_ns, TRIES);
    const double to_device_ns = time_to_device(&octets);

    bench_row("the cues of a block, a tick", bench_time((heard - silent) / ticks).text, "< 1 us",
              "%.2f times a ride that is silent; %.2f wake-ups a second more at most",
              heard / silent, wake_ups * 1000.0 / (ticks * (double)TICK_MS));
    bench_row("from the edge to the sound device", bench_time(to_device_ns).text, "< 20 ms",
              "a whole long tone, %zu kB of samples", octets / 1000);
    return 0;
}
