/* After a ride: keys, the note, and where it stands on the canvas. All numbers are invented. */
#include "ui/after.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "ui/words.h"

static struct after after;
static struct canvas canvas;

static int set_up(void **state)
{
    (void)state;
    after = (struct after){
        .summary = {.end = END_DONE,
                    .reason = REASON_PLAN_DONE,
                    .duration_ms = 510000,
                    .work_j = 68123,
                    .average_power_w = 134,
                    .work_power_w = 271,
                    .in_range_s = 122,
                    .work_s = 180,
                    .average_heart_bpm = 135,
                    .max_heart_bpm = 171,
                    .heart_fall_bpm = 33},
        .ride_id = 4,
        .facts = "+3.1 kJ, +20 m, +9 W in the work on last time (Tue 17 Nov)",
    };
    return 0;
}

static enum after_act type(uint32_t character)
{
    return after_press(&after, (struct press){PRESS_CHARACTER, character});
}

static enum after_act push(enum press_kind kind)
{
    return after_press(&after, (struct press){kind, 0});
}

static void effort_by_one_key(void **state)
{
    (void)state;
    for (int32_t effort = 0; effort <= 9; effort++) {
        assert_int_equal(type((uint32_t)('0' + effort)), AFTER_SAVE_EFFORT);
        assert_true(after.has_effort);
        assert_int_equal(after.effort, effort);
    }
    assert_int_equal(type('x'), AFTER_SAVE_EFFORT);
    assert_int_equal(after.effort, 10);
    assert_int_equal(type('y'), AFTER_NOTHING);
    assert_int_equal(after.effort, 10);
}

static void leaves_at_any_time(void **state)
{
    (void)state;
    assert_int_equal(push(PRESS_UP), AFTER_NOTHING);
    assert_int_equal(type('q'), AFTER_LEAVE);
    assert_int_equal(push(PRESS_ENTER), AFTER_LEAVE);
    after.ride_id = 0; /* not saved: nothing to rate, but it can be left */
    assert_int_equal(type('5'), AFTER_NOTHING);
    assert_int_equal(type('n'), AFTER_NOTHING);
    assert_int_equal(type('q'), AFTER_LEAVE);
}

static void a_note_is_written_and_kept(void **state)
{
    (void)state;
    assert_int_equal(type('n'), AFTER_DRAW);
    assert_int_equal(type('q'), AFTER_DRAW);    /* a letter like any other */
    assert_int_equal(type(0xDC), AFTER_DRAW);   /* Ü */
    assert_int_equal(type(0x20AC), AFTER_DRAW); /* € */
    assert_int_equal(type(0x1F6B4), AFTER_DRAW);
    assert_string_equal(after.draft, "q\xC3\x9C\xE2\x82\xAC\xF0\x9F\x9A\xB4");
    assert_int_equal(push(PRESS_BACKSPACE), AFTER_DRAW);
    assert_int_equal(push(PRESS_BACKSPACE), AFTER_DRAW);
    assert_string_equal(after.draft, "q\xC3\x9C");
    assert_string_equal(after.note, "");
    assert_int_equal(push(PRESS_ENTER), AFTER_SAVE_NOTE);
    assert_string_equal(after.note, "q\xC3\x9C");
    assert_false(after.is_writing);
    /* begun again from there, and dropped */
    assert_int_equal(type('n'), AFTER_DRAW);
    assert_int_equal(type('!'), AFTER_DRAW);
    assert_int_equal(push(PRESS_ESCAPE), AFTER_DRAW);
    assert_string_equal(after.note, "q\xC3\x9C");
}

static void a_note_has_an_end(void **state)
{
    (void)state;
    (void)type('n');
    assert_int_equal(push(PRESS_BACKSPACE), AFTER_NOTHING);
    for (unsigned i = 0; i < AFTER_NOTE_MAX - 1; i++)
        assert_int_equal(type('x'), AFTER_DRAW);
    assert_int_equal(type(0xDC), AFTER_NOTHING); /* two octets: whole or not at all */
    assert_int_equal(type('x'), AFTER_DRAW);
    assert_int_equal(type('x'), AFTER_NOTHING);
    assert_int_equal(strlen(after.draft), AFTER_NOTE_MAX);
    canvas_clear(&canvas, 80, 24, true);
    after_draw(&after, &canvas); /* its end is what is seen */
    assert_int_equal(canvas_cell(&canvas, 78, 15).character, '_');
}

static void assert_rows(int columns, int rows, const char *const *expected, int count)
{
    char text[CANVAS_ROW_TEXT_MAX];

    canvas_clear(&canvas, columns, rows, true);
    after_draw(&after, &canvas);
    for (int row = 0; row < rows; row++) {
        canvas_row_text(&canvas, row, text, sizeof text);
        assert_string_equal(text, row < count ? expected[row] : "");
    }
}

/* Neither the work nor the share in range of a bike that told 0 W: the cadence alone was judged. */
static void a_ride_without_power_claims_no_work(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    after.summary.work_j = 0;
    after.summary.average_power_w = after.summary.work_power_w = 0;
    for (int in_range_s = 0; in_range_s <= 90; in_range_s += 90) {
        after.summary.in_range_s = in_range_s;
        canvas_clear(&canvas, 80, 24, true);
        after_draw(&after, &canvas);
        canvas_row_text(&canvas, 3, text, sizeof text);
        assert_string_equal(text, "  Work       8:30 ridden; nothing told the power");
        canvas_row_text(&canvas, 4, text, sizeof text);
        assert_string_equal(text, "");
        canvas_row_text(&canvas, 5, text, sizeof text);
        assert_string_equal(text, in_range_s > 0 ? "  In range   90 of 180 s of work" : "");
    }
}

static void at_80_by_24(void **state)
{
    static const char *const expected[] = {
        "",
        "  Done: the plan was ridden to its end.",
        "",
        "  Work       68.1 kJ in 8:30, about 81 kcal (between 68 and 90)",
        "  Power      134 W on average, 271 W in the work steps",
        "  In range   122 of 180 s of work",
        "  Heart      135 bpm on average, 171 at most",
        "  Recovery   33 bpm down a minute after the work",
        "             more than the 12 that clinics call low",
        "",
        "  +3.1 kJ, +20 m, +9 W in the work on last time (Tue 17 Nov)",
        "",
        "",
        "  How hard?  0  1  2  3  4  5  6 [7] 8  9  10",
        "             0 no effort, 10 all there was; its key, and x for 10",
        "  Note       n to write one",
        "",
        "",
        "",
        "",
        "",
        "  Saved as ride 4",
        "  Enter, q  leave   0-9, x  how hard   n  note",
        "",
    };
    (void)state;
    (void)type('7');
    assert_rows(80, 24, expected, 24);
}

static void what_is_not_known_is_not_made_up(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    after.summary = (struct summary){.end = END_CUT_OFF,
                                     .reason = REASON_CUT_OFF,
                                     .cut_off = CUT_OFF_HEART,
                                     .duration_ms = 9000,
                                     .max_heart_bpm = 181};
    after.trouble = "Not saved: the disk is full";
    canvas_clear(&canvas, 100, 30, true);
    after_draw(&after, &canvas);
    canvas_row_text(&canvas, 1, text, sizeof text);
    assert_string_equal(text, "  Cut off: heart rate over your limit.");
    canvas_row_text(&canvas, 5, text, sizeof text);
    assert_string_equal(text, "");
    canvas_row_text(&canvas, 7, text, sizeof text);
    assert_string_equal(text, "  Recovery   not known: it takes a minute after the work");
    canvas_row_text(&canvas, 27, text, sizeof text);
    assert_string_equal(text, "  Not saved: the disk is full");
}

static void what_two_sources_make_of_it_is_said(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    after.summary.difference_tenths = -42;
    after.summary.difference_error_tenths = 8;
    canvas_clear(&canvas, 80, 24, true);
    after_draw(&after, &canvas);
    canvas_row_text(&canvas, 10, text, sizeof text);
    assert_string_equal(text, "  The power sensor reads 4.2 % below the bike (+- 0.8).");
    canvas_row_text(&canvas, 11, text, sizeof text);
    assert_string_equal(text, "  +3.1 kJ, +20 m, +9 W in the work on last time (Tue 17 Nov)");
}

/* Tenths mean nothing where the error is more than a whole; one that is far off is a fault. */
static void a_sensor_far_off_the_bike_is_said(void **state)
{
    static const char *const expected[] = {
        "  The power sensor reads 66 % above the bike (+- 5). That is too far: a bike",
        "  that is told watts goes by its own, shown are the sensor's. Calibrate both",
        "  (sensor: zero offset), or ride with --power bike.",
        "  +3.1 kJ, +20 m, +9 W in the work on last time (Tue 17 Nov)",
    };
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    after.summary.difference_tenths = 662;
    after.summary.difference_error_tenths = 53;
    canvas_clear(&canvas, 80, 24, true);
    after_draw(&after, &canvas);
    for (int row = 0; row < 4; row++) {
        canvas_row_text(&canvas, 10 + row, text, sizeof text);
        assert_string_equal(text, expected[row]);
    }
}

static void the_digits_of_a_difference(void **state)
{
    static const struct {
        int32_t tenths, error_tenths;
        const char *text;
    } rows[] = {
        {-42, 9, "4.2 % below the bike (+- 0.9)"},
        {-46, 10, "5 % below the bike (+- 1)"},
        {1234, 26, "123 % above the bike (+- 3)"},
        {0, 3, "0.0 % above the bike (+- 0.3)"},
    };
    char text[WORDS_SENSOR_SIZE];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(words_difference(rows[i].tenths, rows[i].error_tenths, text),
                            rows[i].text);
}

static void skipped_steps_are_said(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    after.summary.skipped = 1;
    canvas_clear(&canvas, 80, 24, true);
    after_draw(&after, &canvas);
    canvas_row_text(&canvas, 1, text, sizeof text);
    assert_string_equal(text, "  Done: the plan was ridden to its end; 1 step was skipped.");
    after.summary.skipped = 3;
    after_draw(&after, &canvas);
    canvas_row_text(&canvas, 1, text, sizeof text);
    assert_string_equal(text, "  Done: the plan was ridden to its end; 3 steps were skipped.");
}

static void long_sentences_go_on_in_the_next_row(void **state)
{
    static const char *const expected[] = {
        "  +3.1 kJ, +20 m, +9 W in the work on last time (Tue 17 Nov)",
        "  Within the noise of the 3 before, which no single block leaves: it would",
        "  have to be 9 % more",
        "  Next time the same again, 248 W: the last was missed, and one bad day",
        "  changes nothing",
        "",
        "  How hard?  0  1  2  3  4  5  6  7  8  9  10",
    };
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    after.verdict = "Within the noise of the 3 before, which no single block leaves: it would have "
                    "to be 9 % more";
    after.next = "Next time the same again, 248 W: the last was missed, and one bad day changes "
                 "nothing";
    canvas_clear(&canvas, 80, 24, true);
    after_draw(&after, &canvas);
    for (int i = 0; i < 7; i++) {
        canvas_row_text(&canvas, 10 + i, text, sizeof text);
        assert_string_equal(text, expected[i]);
    }
    /* In the least size the effort and the note keep their place. */
    canvas_clear(&canvas, 64, 20, true);
    after_draw(&after, &canvas);
    canvas_row_text(&canvas, 15, text, sizeof text);
    assert_string_equal(text, "  Note       n to write one");
}

static void too_small(void **state)
{
    static const char *const expected[] = {"q leave  Too small: 64x20"};
    (void)state;
    assert_rows(63, 24, expected, 1);
    assert_rows(80, 19, expected, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(effort_by_one_key, set_up),
        cmocka_unit_test_setup(leaves_at_any_time, set_up),
        cmocka_unit_test_setup(a_note_is_written_and_kept, set_up),
        cmocka_unit_test_setup(a_note_has_an_end, set_up),
        cmocka_unit_test_setup(a_ride_without_power_claims_no_work, set_up),
        cmocka_unit_test_setup(at_80_by_24, set_up),
        cmocka_unit_test_setup(what_is_not_known_is_not_made_up, set_up),
        cmocka_unit_test_setup(what_two_sources_make_of_it_is_said, set_up),
        cmocka_unit_test_setup(a_sensor_far_off_the_bike_is_said, set_up),
        cmocka_unit_test_setup(the_digits_of_a_difference, set_up),
        cmocka_unit_test_setup(skipped_steps_are_said, set_up),
        cmocka_unit_test_setup(long_sentences_go_on_in_the_next_row, set_up),
        cmocka_unit_test_setup(too_small, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
