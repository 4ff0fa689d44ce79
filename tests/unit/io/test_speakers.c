/*
 * The speakers that need no sound card: the file, the bell, and ALSA on a device made of its own
 * plugins ("file" over "null": https://www.alsa-project.org/alsa-doc/alsa-lib/pcm_plugins.html).
 */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "io/speaker_alsa.h"
#include "io/speaker_bell.h"
#include "io/speaker_wav.h"
#include "io/tones.h"

#define ALSA_RATE_HZ 48000u
#define ALSA_TAIL_MS 60u

static char folder[] = "/tmp/afterset-speakers.XXXXXX";
static char path[64], config[64];
static uint8_t octets[1 << 20];
static unsigned failures;
static char why_failed[80];

static void on_failed(void *user, const char *why)
{
    (void)user;
    failures++;
    (void)snprintf(why_failed, sizeof why_failed, "%s", why);
}

static void play(struct speaker *speaker, enum cue cue, uint64_t t_ms)
{
    speaker->operations->play(speaker, cue, t_ms, 100);
}

static void end(struct speaker *speaker)
{
    speaker->operations->close(speaker, 2000);
}

static size_t read_whole(const char *name)
{
    FILE *file = fopen(name, "rb");
    assert_non_null(file);
    const size_t length = fread(octets, 1, sizeof octets, file);
    (void)fclose(file);
    assert_true(length < sizeof octets);
    return length;
}

static uint32_t number_at(size_t at, size_t count)
{
    uint32_t number = 0;
    while (count-- > 0)
        number = number << 8 | octets[at + count];
    return number;
}

/* ---- the file ---- */

static struct speaker *open_wav(void)
{
    struct speaker *speaker = NULL;

    assert_int_equal(speaker_wav_open(path, &speaker), RESULT_OK);
    speaker->failed = on_failed;
    failures = 0;
    return speaker;
}

/* "Multimedia Programming Interface and Data Specifications 1.0", IBM and Microsoft, August 1991:
 * a RIFF form WAVE, a fmt chunk of 16 octets, a data chunk; PCM of 16 bits is signed, low octet
 * first. */
static void assert_wav(size_t length, uint32_t data_octets)
{
    assert_int_equal(length, 44 + data_octets);
    assert_memory_equal(octets, "RIFF", 4);
    assert_int_equal(number_at(4, 4), 36 + data_octets);
    assert_memory_equal(octets + 8, "WAVEfmt ", 8);
    assert_int_equal(number_at(16, 4), 16);
    assert_int_equal(number_at(20, 2), 1);
    assert_int_equal(number_at(22, 2), 1);
    assert_int_equal(number_at(24, 4), 16000);
    assert_int_equal(number_at(28, 4), 32000);
    assert_int_equal(number_at(32, 2), 2);
    assert_int_equal(number_at(34, 2), 16);
    assert_memory_equal(octets + 36, "data", 4);
    assert_int_equal(number_at(40, 4), data_octets);
}

static void assert_silent(size_t from_ms, size_t to_ms)
{
    for (size_t i = 44 + from_ms * 32; i < 44 + to_ms * 32; i++)
        assert_int_equal(octets[i], 0);
}

static void assert_cue_at(enum cue cue, size_t t_ms, size_t ms)
{
    static int16_t wanted[48000];

    tones_render(cue, SPEAKER_WAV_RATE_HZ, 100, 0, ms * 16, wanted);
    for (size_t i = 0; i < ms * 16; i++)
        assert_int_equal((int16_t)number_at(44 + t_ms * 32 + 2 * i, 2), wanted[i]);
}

static void wav_holds_each_cue_at_its_time(void **state)
{
    struct speaker *speaker = open_wav();

    (void)state;
    assert_wav(read_whole(path), 0);
    play(speaker, CUE_COUNT, 1000);
    play(speaker, CUE_WORK, 2000);
    assert_wav(read_whole(path), 2700 * 32); /* whole after each */
    play(speaker, CUE_CUT_OFF, 2100);
    end(speaker);
    assert_wav(read_whole(path), (2100 + cue_length_ms(CUE_CUT_OFF)) * 32);
    assert_silent(0, 1000);
    assert_cue_at(CUE_COUNT, 1000, 120);
    assert_silent(1120, 2000);
    assert_cue_at(CUE_WORK, 2000, 100);
    assert_cue_at(CUE_CUT_OFF, 2100, cue_length_ms(CUE_CUT_OFF));
    assert_int_equal(failures, 0);
}

static void wav_drops_what_is_cut_off(void **state)
{
    struct speaker *speaker = open_wav();

    (void)state;
    play(speaker, CUE_CUT_OFF, 0);
    play(speaker, CUE_COUNT, 500);
    end(speaker);
    assert_wav(read_whole(path), 620 * 32);
}

static void wav_on_a_full_disk(void **state)
{
    struct rlimit before, small;
    struct speaker *speaker = open_wav();

    (void)state;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 10000;
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    play(speaker, CUE_WORK, 0);
    play(speaker, CUE_EASE, 5000);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    assert_int_equal(failures, 1);
    assert_string_equal(why_failed, strerror(EFBIG));
    end(speaker);
}

static void wav_where_none_can_be(void **state)
{
    struct speaker *speaker = NULL;

    (void)state;
    assert_int_equal(speaker_wav_open("/proc/nothing/here.wav", &speaker), RESULT_IO);
    assert_int_equal(speaker_wav_open(folder, &speaker), RESULT_IO);
    assert_int_equal(errno, EISDIR);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(mkfifo(path, 0600),
                     0); /* with nobody to read it, which must not be waited for */
    assert_int_equal(speaker_wav_open(path, &speaker), RESULT_IO);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(speaker_wav_open("/dev/null", &speaker), RESULT_IO);
    assert_null(speaker);
}

/* ---- the bell ---- */

static struct {
    struct loop *loop;
    size_t count;
    uint64_t at_ms[32];
} rings;

static void on_ring(void *user, const char *text, size_t length)
{
    (void)user;
    assert_int_equal(length, 1);
    assert_int_equal(text[0], 7); /* BEL: ECMA-48, 8.3.3 */
    rings.at_ms[rings.count++] = loop_now_ms(rings.loop);
}

static void cut_short(void *user)
{
    play(user, CUE_NONE, 0);
}

static struct speaker *open_bell(void)
{
    rings.count = 0;
    rings.loop = loop_new(LOOP_STEPPED, 10000.0);
    assert_non_null(rings.loop);
    struct speaker *speaker = speaker_bell_new(rings.loop, (struct sink){.put = on_ring});
    assert_non_null(speaker);
    return speaker;
}

static void close_bell(struct speaker *speaker)
{
    end(speaker);
    loop_free(rings.loop);
}

static void bell_rings_the_rhythm(void **state)
{
    static const uint64_t wanted_ms[] = {0, 180, 360, 700, 880, 1060};
    struct speaker *speaker = open_bell();

    (void)state;
    play(speaker, CUE_CAUTION, 0);
    loop_run(rings.loop);
    assert_int_equal(rings.count, 6);
    assert_memory_equal(rings.at_ms, wanted_ms, sizeof wanted_ms);
    close_bell(speaker);
}

static void bell_is_cut_short(void **state)
{
    struct speaker *speaker = open_bell();

    (void)state;
    (void)loop_set_timer(rings.loop, 500, cut_short, speaker);
    play(speaker, CUE_CAUTION, 0);
    loop_run(rings.loop);
    assert_int_equal(rings.count, 3);
    play(speaker, CUE_COUNT, 0);
    play(speaker, CUE_WORK, 0);
    speaker->operations->play(speaker, CUE_WORK, 0, 0); /* volume 0 */
    assert_int_equal(rings.count, 5);
    play(speaker, CUE_CUT_OFF, 0);
    close_bell(speaker); /* with notes to come */
}

/* ---- ALSA ---- */

static void configure(const char *text)
{
    FILE *file = fopen(config, "w");

    assert_non_null(file);
    (void)fputs(text, file);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(setenv("ALSA_CONFIG_PATH", config, 1), 0);
}

static void alsa_plays_every_sample(void **state)
{
    static int16_t wanted[ALSA_RATE_HZ * 3];
    const size_t length = (cue_length_ms(CUE_CUT_OFF) + ALSA_TAIL_MS) * (ALSA_RATE_HZ / 1000);
    struct speaker *speaker = NULL;
    const char *why = NULL;
    char text[300];

    (void)state;
    (void)snprintf(text, sizeof text,
                   "pcm.nowhere { type null }\n"
                   "pcm.!default { type file slave.pcm nowhere file \"%s\" format raw }\n",
                   path);
    configure(text);
    struct loop *loop = loop_new(LOOP_REAL, 1.0);
    assert_int_equal(speaker_alsa_open(loop, &speaker, &why), RESULT_OK);
    speaker->failed = on_failed;
    failures = 0;
    play(speaker, CUE_CUT_OFF, 0);
    loop_run(loop); /* as long as the device is full in between */
    end(speaker);
    loop_free(loop);
    assert_int_equal(failures, 0);
    assert_int_equal(read_whole(path), length * 2);
    tones_render(CUE_CUT_OFF, ALSA_RATE_HZ, 100, 0, length, wanted);
    for (size_t i = 0; i < length; i++)
        assert_int_equal((int16_t)number_at(2 * i, 2), wanted[i]);
}

/* A configuration, and words of why there is no sound. */
static struct no_device {
    const char *config, *why;
} no_devices[] = {
    {"", "there is no sound device"},
    {"pcm.!default { type hw card 31 }\n", "there is no sound device"},
    {"pcm.!default { type nonsense }\n", "there is no sound device"},
    {"pcm.!default {\n", NULL},
};

static void alsa_without_a_device(void **state)
{
    const struct no_device *row = *state;
    struct speaker *speaker = NULL;
    const char *why = NULL;

    configure(row->config);
    struct loop *loop = loop_new(LOOP_REAL, 1.0);
    assert_int_equal(speaker_alsa_open(loop, &speaker, &why), RESULT_IO);
    assert_null(speaker);
    assert_non_null(why);
    if (row->why != NULL)
        assert_string_equal(why, row->why);
    loop_free(loop);
}

static int set_up(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/sound", folder);
    (void)snprintf(config, sizeof config, "%s/config", folder);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    (void)unlink(path);
    (void)unlink(config);
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wav_holds_each_cue_at_its_time),
        cmocka_unit_test(wav_drops_what_is_cut_off),
        cmocka_unit_test(wav_on_a_full_disk),
        cmocka_unit_test(wav_where_none_can_be),
        cmocka_unit_test(bell_rings_the_rhythm),
        cmocka_unit_test(bell_is_cut_short),
        cmocka_unit_test(alsa_plays_every_sample),
        cmocka_unit_test_prestate(alsa_without_a_device, &no_devices[0]),
        cmocka_unit_test_prestate(alsa_without_a_device, &no_devices[1]),
        cmocka_unit_test_prestate(alsa_without_a_device, &no_devices[2]),
        cmocka_unit_test_prestate(alsa_without_a_device, &no_devices[3]),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
