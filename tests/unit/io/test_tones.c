/*
 * What is to be heard, measured: pitch by Goertzel's algorithm, edges and peaks by the samples.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "io/tones.h"

#define RATE_HZ     48000u
#define SAMPLES_MAX (3 * RATE_HZ)
#define PI          3.14159265358979323846

static int16_t samples[SAMPLES_MAX];

static size_t render(enum cue cue, int volume_pct)
{
    const size_t length = tones_length(cue, RATE_HZ);

    assert_true(length <= SAMPLES_MAX);
    tones_render(cue, RATE_HZ, volume_pct, 0, SAMPLES_MAX, samples);
    return length;
}

static size_t at(unsigned ms)
{
    return (size_t)ms * RATE_HZ / 1000;
}

static int peak_of(size_t from, size_t to)
{
    int peak = 0;

    for (size_t i = from; i < to; i++)
        peak = abs(samples[i]) > peak ? abs(samples[i]) : peak;
    return peak;
}

/* Goertzel, "An algorithm for the evaluation of finite trigonometric series", 1958. */
static double strength(double hz, size_t from, size_t to)
{
    const double turn = 2.0 * cos(2.0 * PI * hz / RATE_HZ);
    double last = 0.0, before = 0.0;

    for (size_t i = from; i < to; i++) {
        const double next = samples[i] + turn * last - before;
        before = last;
        last = next;
    }
    return last * last + before * before - turn * last * before;
}

/* The tunes as they are documented, for the ear: equal temperament, A4 = 440 Hz (ISO 16), rounded
 * to whole hertz. `ms` is in the middle of the note. */
static struct pitch {
    enum cue cue;
    unsigned ms;
    int hz;
} pitches[] = {
    {CUE_RANGE, 100, 220},    {CUE_RANGE, 400, 220},    {CUE_COUNT, 60, 587},
    {CUE_WORK, 350, 988},     {CUE_HELD, 160, 494},     {CUE_HELD, 470, 370},
    {CUE_RESUMED, 90, 370},   {CUE_RESUMED, 400, 494},  {CUE_END, 100, 523},
    {CUE_END, 350, 659},      {CUE_END, 750, 784},      {CUE_CAUTION, 50, 740},
    {CUE_CAUTION, 1110, 740}, {CUE_CUT_OFF, 50, 880},   {CUE_CUT_OFF, 200, 622},
    {CUE_CUT_OFF, 1250, 622}, {CUE_CUT_OFF, 1800, 880},
};

/* Of all pitches a semitone or an octave apart it is the strongest. */
static void has_its_pitch(void **state)
{
    const struct pitch *row = *state;
    const size_t from = at(row->ms - 40), to = at(row->ms + 40);

    (void)render(row->cue, 100);
    const double here = strength(row->hz, from, to);
    for (double hz = row->hz / 2.0; hz < row->hz * 2.01; hz *= pow(2.0, 1.0 / 12.0))
        if (fabs(hz - row->hz) > 1.0)
            assert_true(strength(hz, from, to) < here);
    /* Four harmonics, each within 15 dB of the fundamental: IEC 60601-1-8 */
    for (int i = 2; i <= 4; i++)
        assert_true(10.0 * log10(here / strength(row->hz * (double)i, from, to)) < 15.0);
}

/* Periods counted where the wave rises through zero: 784 Hz at the beginning, 392 Hz at the end. */
static void glides_down(void **state)
{
    size_t rises[2] = {0};
    const size_t length = render(CUE_EASE, 100);

    (void)state;
    for (size_t i = 1; i < length; i++)
        rises[i >= length / 2] += samples[i - 1] < 0 && samples[i] >= 0;
    /* The means of the halves are 686 and 490 Hz, over 0.25 s each. */
    assert_in_range(rises[0], 169, 174);
    assert_in_range(rises[1], 120, 125);
}

static void neither_clicks_nor_clips(void **state)
{
    (void)state;
    for (enum cue cue = CUE_NONE + 1; cue < CUE_KIND_COUNT; cue++) {
        const struct cue_score *score = cue_score(cue);
        const size_t length = render(cue, 100);

        assert_in_range(peak_of(0, length), INT16_MAX / 2, INT16_MAX * 95 / 100);
        for (size_t i = 0; i < score->count; i++) {
            const size_t from = at(score->notes[i].at_ms);
            const size_t to = from + at(score->notes[i].length_ms);
            /* A hundredth of full scale in the first and last millisecond, -40 dB */
            assert_true(peak_of(from, from + at(1)) < INT16_MAX / 100);
            assert_true(peak_of(to - at(1), to) < INT16_MAX / 100);
            /* and there within 30 ms, or it is no onset. */
            assert_true(peak_of(from, from + at(30)) > INT16_MAX / 2);
        }
        assert_int_equal(peak_of(length, SAMPLES_MAX), 0);
    }
}

static void volume_goes_with_loudness(void **state)
{
    const size_t length = render(CUE_WORK, 100);
    const int full = peak_of(0, length);

    (void)state;
    (void)render(CUE_WORK, 50);
    assert_in_range(peak_of(0, length), full / 4 - 2, full / 4 + 2);
    (void)render(CUE_WORK, 1);
    assert_true(peak_of(0, length) > 0);
    (void)render(CUE_WORK, 0);
    assert_int_equal(peak_of(0, length), 0);
}

static void parts_join_on(void **state)
{
    static int16_t parts[SAMPLES_MAX];
    const size_t length = render(CUE_CUT_OFF, 80);

    (void)state;
    for (size_t from = 0; from < length; from += 777)
        tones_render(CUE_CUT_OFF, RATE_HZ, 80, from, length - from < 777 ? length - from : 777,
                     parts + from);
    assert_memory_equal(parts, samples, length * sizeof parts[0]);
}

static void nothing_is_silent(void **state)
{
    (void)state;
    assert_int_equal(render(CUE_NONE, 100), 0);
    assert_int_equal(peak_of(0, SAMPLES_MAX), 0);
}

int main(void)
{
    struct CMUnitTest tests[32] = {
        cmocka_unit_test(glides_down),
        cmocka_unit_test(neither_clicks_nor_clips),
        cmocka_unit_test(volume_goes_with_loudness),
        cmocka_unit_test(parts_join_on),
        cmocka_unit_test(nothing_is_silent),
    };
    size_t count = 5;

    for (size_t i = 0; i < sizeof pitches / sizeof pitches[0]; i++)
        tests[count++] =
            (struct CMUnitTest){"has_its_pitch", has_its_pitch, NULL, NULL, &pitches[i]};
    return _cmocka_run_group_tests("tones", tests, count, NULL, NULL);
}
