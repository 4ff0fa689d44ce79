/*
 * A sound device that is full, breaks off, stands still or goes away: the functions of ALSA that
 * the speaker calls, with a device behind them that does as a test says. (test_speakers.c has the
 * real ones, whose own devices are never full.)
 */
#include <alsa/asoundlib.h>
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <cmocka.h>

#include "io/speaker_alsa.h"
#include "io/tones.h"

#define RATE_HZ     48000u
#define ROOM        9600 /* frames in its buffer: 200 ms */
#define SAMPLES_MAX (RATE_HZ * 4)

static struct {
    int ready_fd; /* readable while it takes something */
    int held;     /* frames it has and has not played */
    int break_at; /* after so many frames it breaks off with: */
    int error;
    int breaks; /* so often */
    bool is_running;
    unsigned drops, closes;
    size_t count;
    int16_t samples[SAMPLES_MAX];
} device;

static void set_ready(bool is_ready)
{
    uint64_t number = 1;

    (void)!read(device.ready_fd, &number, sizeof number);
    number = 1;
    if (is_ready)
        assert_int_equal(write(device.ready_fd, &number, sizeof number), sizeof number);
}

int snd_pcm_open(snd_pcm_t **pcm, const char *name, snd_pcm_stream_t stream, int mode)
{
    assert_string_equal(name, "default");
    assert_int_equal(stream, SND_PCM_STREAM_PLAYBACK);
    assert_int_equal(mode, SND_PCM_NONBLOCK);
    *pcm = (snd_pcm_t *)&device;
    return 0;
}

int snd_pcm_set_params(snd_pcm_t *pcm, snd_pcm_format_t format, snd_pcm_access_t access,
                       unsigned channels, unsigned rate, int soft_resample, unsigned latency)
{
    (void)pcm;
    (void)soft_resample;
    (void)latency;
    assert_int_equal(format, SND_PCM_FORMAT_S16);
    assert_int_equal(access, SND_PCM_ACCESS_RW_INTERLEAVED);
    assert_int_equal(channels, 1);
    assert_int_equal(rate, RATE_HZ);
    return 0;
}

int snd_pcm_sw_params_current(snd_pcm_t *pcm, snd_pcm_sw_params_t *params)
{
    (void)pcm;
    (void)params;
    return 0;
}

int snd_pcm_sw_params_set_start_threshold(snd_pcm_t *pcm, snd_pcm_sw_params_t *params,
                                          snd_pcm_uframes_t frames)
{
    (void)pcm;
    (void)params;
    assert_int_equal(frames, 1); /* the first sample starts it */
    return 0;
}

int snd_pcm_sw_params(snd_pcm_t *pcm, snd_pcm_sw_params_t *params)
{
    (void)pcm;
    (void)params;
    return 0;
}

int snd_pcm_prepare(snd_pcm_t *pcm)
{
    (void)pcm;
    device.held = 0;
    return 0;
}

int snd_pcm_drop(snd_pcm_t *pcm)
{
    (void)pcm;
    device.drops++;
    device.held = 0;
    device.is_running = false;
    return 0;
}

int snd_pcm_close(snd_pcm_t *pcm)
{
    (void)pcm;
    device.closes++;
    return 0;
}

snd_pcm_sframes_t snd_pcm_writei(snd_pcm_t *pcm, const void *buffer, snd_pcm_uframes_t size)
{
    int taken = (int)size < ROOM - device.held ? (int)size : ROOM - device.held;

    (void)pcm;
    if (device.breaks > 0 && (int)device.count >= device.break_at) {
        device.breaks--;
        return device.error;
    }
    if (taken == 0) {
        set_ready(false);
        return -EAGAIN;
    }
    assert_true(device.count + (size_t)taken <= SAMPLES_MAX);
    memcpy(device.samples + device.count, buffer, (size_t)taken * sizeof(int16_t));
    device.count += (size_t)taken;
    device.held += taken;
    device.is_running = true;
    return taken;
}

int snd_pcm_poll_descriptors(snd_pcm_t *pcm, struct pollfd *fds, unsigned space)
{
    (void)pcm;
    assert_true(space >= 1);
    fds[0] = (struct pollfd){.fd = device.ready_fd, .events = POLLIN};
    return 1;
}

int snd_pcm_poll_descriptors_revents(snd_pcm_t *pcm, struct pollfd *fds, unsigned count,
                                     unsigned short *revents)
{
    (void)pcm;
    assert_int_equal(count, 1);
    assert_int_equal(fds[0].revents, POLLIN);
    *revents = POLLOUT;
    return 0;
}

snd_pcm_state_t snd_pcm_state(snd_pcm_t *pcm)
{
    (void)pcm;
    return device.is_running ? SND_PCM_STATE_RUNNING : SND_PCM_STATE_XRUN;
}

int snd_pcm_delay(snd_pcm_t *pcm, snd_pcm_sframes_t *frames)
{
    (void)pcm;
    *frames = device.held;
    return 0;
}

/* ---- the tests ---- */

static struct loop *loop;
static struct speaker *speaker;
static unsigned failures;
static const char *why_failed;

static void on_failed(void *user, const char *why)
{
    (void)user;
    failures++;
    why_failed = why;
}

static int open_device(void **state)
{
    const char *why = NULL;

    (void)state;
    memset(&device, 0, sizeof device);
    device.ready_fd = eventfd(0, EFD_NONBLOCK);
    failures = 0;
    loop = loop_new(LOOP_STEPPED, 10000.0);
    if (loop == NULL || speaker_alsa_open(loop, &speaker, &why) != RESULT_OK)
        return -1;
    speaker->failed = on_failed;
    return 0;
}

static int close_device(void **state)
{
    (void)state;
    if (speaker != NULL)
        speaker->operations->close(speaker, 0);
    loop_free(loop);
    return close(device.ready_fd);
}

static void play(enum cue cue)
{
    speaker->operations->play(speaker, cue, 0, 100);
}

/* A tenth of a second is played. */
static void on_played(void *user)
{
    (void)user;
    device.held = device.held > 4800 ? device.held - 4800 : 0;
    device.is_running = device.held > 0;
    set_ready(true);
}

static void on_end(void *user)
{
    (void)user;
    loop_stop(loop);
}

static void let_play(int tenths)
{
    const uint64_t now = loop_now_ms(loop);

    for (int i = 1; i <= tenths; i++)
        (void)loop_set_timer(loop, now + (uint64_t)i * 100, on_played, NULL);
    (void)loop_set_timer(loop, now + (uint64_t)tenths * 100 + 1, on_end, NULL);
    loop_run(loop);
}

static void assert_played(enum cue cue, size_t from)
{
    static int16_t wanted[SAMPLES_MAX];
    const size_t length = tones_length(cue, RATE_HZ);

    assert_true(device.count >= from + length);
    tones_render(cue, RATE_HZ, 100, 0, length, wanted);
    assert_memory_equal(device.samples + from, wanted, length * sizeof wanted[0]);
}

static void takes_what_fits_and_the_rest_later(void **state)
{
    (void)state;
    play(CUE_CUT_OFF);
    assert_int_equal(device.count, ROOM); /* and did not wait */
    let_play(25);
    loop_run(loop); /* nothing is watched any more, so it has nothing to wait for */
    assert_played(CUE_CUT_OFF, 0);
    assert_true(device.count > tones_length(CUE_CUT_OFF, RATE_HZ)); /* silence behind it */
    assert_int_equal(failures, 0);
}

static void cuts_off_what_sounds(void **state)
{
    (void)state;
    play(CUE_WORK);
    let_play(1);
    const size_t before = device.count;
    const unsigned drops = device.drops;
    play(CUE_COUNT);
    let_play(10);
    assert_int_equal(device.drops, drops + 1);
    assert_played(CUE_COUNT, before);
    play(CUE_NONE);
    assert_int_equal(device.drops, drops + 2);
    assert_false(device.is_running);
}

static void goes_on_after_a_break(void **state)
{
    (void)state;
    device.break_at = 6000;
    device.breaks = 3;
    device.error = -EPIPE;
    play(CUE_WORK);
    let_play(10);
    assert_played(CUE_WORK, 0);
    assert_int_equal(failures, 0);
}

static void gives_up_a_device_that_stutters(void **state)
{
    (void)state;
    device.break_at = 6000;
    device.breaks = 1000;
    device.error = -EPIPE;
    play(CUE_WORK);
    assert_int_equal(failures, 1);
    let_play(10);
    play(CUE_COUNT);
    assert_int_equal(failures, 1);
}

static void gives_up_a_device_that_is_gone(void **state)
{
    (void)state;
    play(CUE_CUT_OFF);
    device.breaks = 1000;
    device.error = -ENODEV;
    let_play(1); /* pulled out in mid-cue */
    assert_int_equal(failures, 1);
    assert_string_equal(why_failed, "there is no sound device");
    let_play(10);
    play(CUE_COUNT);
    assert_int_equal(failures, 1);
}

static void does_not_wait_for_a_device_that_stands_still(void **state)
{
    (void)state;
    play(CUE_CUT_OFF);
    speaker->operations->close(speaker, 50); /* it plays nothing, and time is not for ever */
    speaker = NULL;
    assert_int_equal(device.closes, 1);
    assert_int_equal(device.count, ROOM);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, open_device, close_device)
    const struct CMUnitTest tests[] = {
        TEST(takes_what_fits_and_the_rest_later),
        TEST(cuts_off_what_sounds),
        TEST(goes_on_after_a_break),
        TEST(gives_up_a_device_that_stutters),
        TEST(gives_up_a_device_that_is_gone),
        TEST(does_not_wait_for_a_device_that_stands_still),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
