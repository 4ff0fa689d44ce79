/* What comes of comparing blocks, as sentences. All numbers are invented. */
#include "ui/verdict.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static char line[VERDICT_LINE_MAX];

/* ---- what it was reckoned from ---- */

static void the_usual_error_and_one_block(void **state)
{
    const struct comparison comparison = {.verdict = COMPARE_IS_NOISE,
                                          .against = 1,
                                          .mean_j = 54000,
                                          .parts = {{7, 54000}},
                                          .typical_error_pct = 3,
                                          .error_pct = 4.2426};
    (void)state;
    verdict_reckoning(&comparison, 56000, line, sizeof line);
    assert_string_equal(line, "Reckoned from 56.000 kJ against 54.000 kJ, ride 7; typical error "
                              "3.00 %, the usual one (normal); error of the change 4.24 %");
}

static void ones_own_error_and_three_blocks_of_other_lengths(void **state)
{
    const struct comparison comparison = {
        .verdict = COMPARE_IS_BETTER,
        .against = 3,
        .adjusted = 2,
        .mean_j = 60500,
        .parts = {{4, 60000}, {9, 60500}, {12, 61000}},
        .slope_w = 205,
        .typical_error_pct = 1.234,
        .is_own_error = true,
        .error_blocks = 6,
        .error_from_id = 3,
        .freedom = 3,
        .error_pct = 1.425,
    };
    (void)state;
    verdict_reckoning(&comparison, 63123, line, sizeof line);
    assert_string_equal(line,
                        "Reckoned from 63.123 kJ against 60.500 kJ, the mean of rides 4 (60.000), "
                        "9 (60.500) and 12 (61.000), 2 taken to this length at 205 W; typical "
                        "error 1.23 %, yours, from 6 blocks since ride 3 (t, 3 df); error of the "
                        "change 1.43 %");
}

/* The longest numbers there can be are not cut. */
static void room_for_the_longest(void **state)
{
    struct comparison comparison = {.against = 3,
                                    .adjusted = 3,
                                    .mean_j = 4294967.295e3,
                                    .slope_w = 600,
                                    .typical_error_pct = 1234.56,
                                    .is_own_error = true,
                                    .error_blocks = UINT32_MAX,
                                    .error_from_id = INT64_MAX,
                                    .freedom = UINT32_MAX,
                                    .error_pct = 12345.67};
    (void)state;
    for (size_t i = 0; i < 3; i++)
        comparison.parts[i] = (struct compare_part){INT64_MAX, 4294967.295e3};
    verdict_reckoning(&comparison, 4294967.295e3, line, sizeof line);
    assert_non_null(strstr(line, "; error of the change 12345.67 %"));
    assert_non_null(strstr(line, "(4294967.295), 3 taken to this length at 600 W; typical"));
}

static void nothing_reckoned_nothing_said(void **state)
{
    const struct comparison nothing = {0};
    (void)state;
    verdict_reckoning(&nothing, 1, line, sizeof line);
    assert_string_equal(line, "");
    verdict_blocks(NULL, NULL, 0, VERDICT_WATTS, line, sizeof line);
    assert_string_equal(line, "");
}

/* ---- next time ---- */

static void next_time_and_why(void **state)
{
    static const struct {
        struct progress next;
        struct progress_block last;
        enum verdict_unit unit;
        const char *line;
    } rows[] = {
        {{PROGRESS_AS_WRITTEN, PROGRESS_NO_BLOCKS, 0, 0, 0}, {0}, VERDICT_WATTS, ""},
        {{PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 250, 240},
         {.asked = 250, .length_s = 240},
         VERDICT_WATTS,
         "Next time the same again, 250 W: one more that goes as well, and it goes up"},
        {{PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 0, 240},
         {.length_s = 240},
         VERDICT_WATTS,
         "Next time the same again: one more that goes as well, and it goes up"},
        {{PROGRESS_RAISE, PROGRESS_TWO_FULL, 3, 258, 240},
         {.asked = 250, .length_s = 240},
         VERDICT_WATTS,
         "Next time 258 W in the work instead of 250 W (+3 %): the last two went well enough"},
        {{PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED, -5, 95, 240},
         {.asked = 100, .length_s = 240},
         VERDICT_LEVEL_TENTHS,
         "Next time level 9.5 in the work instead of level 10.0 (-5 %): the last two were missed"},
        {{PROGRESS_LENGTHEN, PROGRESS_TWO_FULL, 0, 250, 270},
         {.asked = 250, .length_s = 240},
         VERDICT_WATTS,
         "Next time 4:30 instead of 4:00, as hard: the last two went well enough"},
        {{PROGRESS_LENGTHEN, PROGRESS_TWO_FULL_COARSE, 0, 250, 270},
         {.asked = 250, .length_s = 240},
         VERDICT_WATTS,
         "Next time 4:30 instead of 4:00, as hard: the last two went well enough, but the brake "
         "has no step as small as the next rise"},
        {{PROGRESS_RAISE, PROGRESS_TWO_FULL_BY_LEGS, 3, 258, 240},
         {.asked = 250, .length_s = 240},
         VERDICT_WATTS,
         "Next time 258 W in the work instead of 250 W (+3 %): the last two went well enough; the "
         "brake has no step so small, so by faster legs"},
        {{PROGRESS_REPEAT, PROGRESS_WAS_CUT_OFF, 0, 250, 240},
         {.asked = 250, .length_s = 240, .is_cut_off = true},
         VERDICT_WATTS,
         "Next time the same again, 250 W: the last was cut off, and after that nothing goes up"},
        {{PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 250, 240},
         {.asked = 250, .length_s = 240, .proposed = 258},
         VERDICT_WATTS,
         "Next time the same again, 250 W: one more that goes as well, and it goes up; for the "
         "last "
         "you chose 250 W over the 258 W proposed"},
        {{PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED, -5, 238, 240},
         {.asked = 250, .length_s = 240, .proposed_length_s = 270},
         VERDICT_WATTS,
         "Next time 238 W in the work instead of 250 W (-5 %): the last two were missed; for the "
         "last you chose 4:00 over the 4:30 proposed"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        verdict_next(&rows[i].next, &rows[i].last, rows[i].unit, line, sizeof line);
        assert_string_equal(line, rows[i].line);
    }
}

/* An empty reason would leave a sentence that ends in a colon. */
static void every_reason_has_words(void **state)
{
    const struct progress_block last = {.asked = 250, .length_s = 240};
    (void)state;
    for (enum progress_reason i = PROGRESS_FIRST_FULL; i < PROGRESS_REASON_COUNT; i++) {
        const struct progress next = {.ask = PROGRESS_REPEAT, .reason = i, .asked = 250};
        verdict_next(&next, &last, VERDICT_WATTS, line, sizeof line);
        assert_true(strlen(line) > strlen("Next time the same again, 250 W: ") + 10);
    }
}

static void the_blocks_it_went_by(void **state)
{
    static const struct progress_block blocks[] = {
        {.is_done = true,
         .has_in_range = true,
         .in_range_pct = 85,
         .asked = 250,
         .length_s = 240,
         .has_effort = true,
         .effort = 7},
        {.is_cut_off = true,
         .has_warned = true,
         .is_eased = true,
         .has_in_range = true,
         .in_range_pct = 30,
         .asked = 250,
         .length_s = 245},
    };
    static const int64_t ids[] = {8, 11};
    static const struct progress_block unasked = {.length_s = 200};
    (void)state;
    verdict_blocks(blocks, ids, 1, VERDICT_WATTS, line, sizeof line);
    assert_string_equal(line, "Reckoned from ride 8, 85 % in range at 250 W, 4:00, effort 7");
    verdict_blocks(blocks, ids, 2, VERDICT_WATTS, line, sizeof line);
    assert_string_equal(line,
                        "Reckoned from ride 11, 30 % in range at 250 W, cut off, 4:05, eased for "
                        "the legs, no effort said, heart caution; and ride 8, 85 % in range at "
                        "250 W, 4:00, effort 7");
    verdict_blocks(&unasked, ids, 1, VERDICT_WATTS, line, sizeof line);
    assert_string_equal(line, "Reckoned from ride 8, not to its end, 3:20, no effort said");
}

/* ---- the mark ---- */

static void how_it_stands_to_the_mark(void **state)
{
    static const struct {
        enum mark_measure measure;
        struct mark_state at;
        bool has_ended;
        const char *line;
    } rows[] = {
        {MARK_WORK,
         {949, 62800, 1100, false},
         false,
         "0.9 kJ ahead of the mark, 62.8 kJ +- 1.1 at the end"},
        {MARK_WORK, {-949, 62800, 1100, false}, true, "0.9 kJ behind the mark"},
        {MARK_WORK,
         {949, 62800, 0, true},
         false,
         "0.9 kJ ahead of the mark, which is beaten, 62.8 kJ +- 0.0 at the end"},
        {MARK_POWER,
         {-9500, 185300, 4000, false},
         false,
         "9.5 W behind the mark, 185.3 W +- 4.0 at the end"},
        {MARK_DISTANCE,
         {20, 1700, 30, false},
         false,
         "20 m ahead of the mark, 1700 m +- 30 at the end"},
        {MARK_TIME,
         {4750, 205450, 3000, false},
         false,
         "4.8 s ahead of the mark, 205.4 s +- 3.0 to do what it did"},
        {MARK_CALORIES,
         {1135, 46546, 900, false},
         false,
         "1.1 kcal ahead of the mark, 46.5 kcal +- 0.9 at the end"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct mark mark = {.measure = rows[i].measure};
        verdict_mark(&mark, &rows[i].at, rows[i].has_ended, line, sizeof line);
        assert_string_equal(line, rows[i].line);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_usual_error_and_one_block),
        cmocka_unit_test(ones_own_error_and_three_blocks_of_other_lengths),
        cmocka_unit_test(room_for_the_longest),
        cmocka_unit_test(nothing_reckoned_nothing_said),
        cmocka_unit_test(next_time_and_why),
        cmocka_unit_test(every_reason_has_words),
        cmocka_unit_test(the_blocks_it_went_by),
        cmocka_unit_test(how_it_stands_to_the_mark),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
