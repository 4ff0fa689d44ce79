/*
 * Cadence from counters. The counters wrap at 16 bits and count 1/1024 s: Cycling Power Service
 * 1.1 and Cycling Speed and Cadence Service 1.0, crank revolution data; expected cadences are
 * 60 * 1024 * turns / time by hand, from those. What stands still is common practice.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "wire/crank.h"

#define NOT_KNOWN (-1)

static struct crank crank;

static int set_up(void **state)
{
    (void)state;
    crank = (struct crank){0};
    return 0;
}

static int32_t take(uint64_t t_ms, uint16_t turns, uint16_t t_1024)
{
    int32_t rpm;
    return crank_take(&crank, t_ms, (struct crank_count){turns, t_1024}, &rpm) ? rpm : NOT_KNOWN;
}

static void two_frames_make_a_cadence(void **state)
{
    static const struct {
        struct crank_count first, then;
        int32_t expected_rpm;
    } rows[] = {
        {{400, 1024}, {402, 2048}, 120},   {{7, 1000}, {8, 1683}, 90}, /* 89.96 */
        {{65535, 65000}, {2, 484}, 181},   /* 180.7: both counters go round */
        {{65535, 1000}, {0, 2024}, 60},    /* the turns alone */
        {{10, 65024}, {11, 512}, 60},      /* the time alone */
        {{0, 0}, {4, 1024}, 240},          /* fast, and still a rider */
        {{0, 0}, {5, 1024}, NOT_KNOWN},    /* 300: no rider */
        {{1000, 0}, {3, 1024}, NOT_KNOWN}, /* a counter that was reset */
        {{5, 100}, {6, 100}, NOT_KNOWN},   /* a turn in no time */
        {{5, 100}, {5, 100}, NOT_KNOWN},   /* nothing new */
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        (void)set_up(state);
        assert_int_equal(take(1000, rows[i].first.turns, rows[i].first.t_1024), NOT_KNOWN);
        assert_int_equal(take(2000, rows[i].then.turns, rows[i].then.t_1024), rows[i].expected_rpm);
    }
}

/* Four frames a second at 60 turns a minute: three of four say what the one before said. */
static void repeats_keep_the_cadence(void **state)
{
    (void)state;
    (void)take(0, 10, 0);
    for (uint16_t turn = 1; turn <= 5; turn++)
        for (uint16_t quarter = 0; quarter < 4; quarter++)
            assert_int_equal(take(turn * 1000u + quarter * 250u, (uint16_t)(10 + turn),
                                  (uint16_t)(turn * 1024u)),
                             60);
}

/* One frame a second at 40 turns a minute, 1536/1024 s each: a frame without a turn among them is
 * no fall. */
static void slow_legs_are_not_taken_for_standing_ones(void **state)
{
    (void)state;
    (void)take(0, 0, 0);
    (void)take(2000, 1, 1536);
    assert_int_equal(take(3000, 2, 3072), 40);
    assert_int_equal(take(4000, 2, 3072), 40);
    assert_int_equal(take(5000, 3, 4608), 40);
}

static void a_crank_that_stops_falls_and_stands(void **state)
{
    (void)state;
    (void)take(0, 0, 0);
    assert_int_equal(take(1000, 1, 683), 90);
    assert_int_equal(take(2000, 1, 683), 90);
    assert_int_equal(take(3000, 1, 683), 60);
    assert_int_equal(take(3500, 1, 683), 40);
    assert_int_equal(take(3999, 1, 683), 30);
    assert_int_equal(take(4000, 1, 683), 0);
    assert_int_equal(take(50000, 1, 683), 0);
}

static void a_crank_that_never_turned_stands(void **state)
{
    (void)state;
    assert_int_equal(take(0, 9, 9), NOT_KNOWN);
    assert_int_equal(take(2999, 9, 9), NOT_KNOWN);
    assert_int_equal(take(3000, 9, 9), 0);
}

/* The time of a frame without a turn is not that of a turn. */
static void frames_stamped_with_their_own_time_turn_nothing(void **state)
{
    (void)state;
    (void)take(0, 3, 0);
    assert_int_equal(take(1000, 3, 1024), NOT_KNOWN);
    assert_int_equal(take(2000, 4, 2048), 30);
    assert_int_equal(take(3000, 4, 3072), 30);
    assert_int_equal(take(4000, 5, 4096), 30);
}

/* After 70 s the time has gone round once: 6 s by it. */
static void a_pause_longer_than_the_counter_begins_anew(void **state)
{
    (void)state;
    (void)take(0, 0, 0);
    assert_int_equal(take(1000, 1, 1024), 60);
    assert_int_equal(take(71000, 11, (uint16_t)(71u * 1024u)), NOT_KNOWN);
    assert_int_equal(take(72000, 12, (uint16_t)(72u * 1024u)), 60);
}

static void an_absurd_jump_is_dropped_and_gone_on_from(void **state)
{
    (void)state;
    (void)take(0, 100, 0);
    assert_int_equal(take(1000, 101, 1024), 60);
    assert_int_equal(take(2000, 50000, 2048), NOT_KNOWN);
    assert_int_equal(take(3000, 50001, 3072), 60);
}

/* A frame that cannot be is left out, the turn after it counts from the one before. */
static void a_turn_in_no_time_does_not_disturb(void **state)
{
    (void)state;
    (void)take(0, 0, 0);
    assert_int_equal(take(1000, 1, 1024), 60);
    assert_int_equal(take(1250, 2, 1024), 60);
    assert_int_equal(take(2000, 2, 2048), 60);
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(two_frames_make_a_cadence),
        TEST(repeats_keep_the_cadence),
        TEST(slow_legs_are_not_taken_for_standing_ones),
        TEST(a_crank_that_stops_falls_and_stands),
        TEST(a_crank_that_never_turned_stands),
        TEST(frames_stamped_with_their_own_time_turn_nothing),
        TEST(a_pause_longer_than_the_counter_begins_anew),
        TEST(an_absurd_jump_is_dropped_and_gone_on_from),
        TEST(a_turn_in_no_time_does_not_disturb),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
