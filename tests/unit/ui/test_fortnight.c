/*
 * Two weeks on one screen: the captures in tests/screens, the keys, and what must hold for any
 * blocks on any canvas. All numbers are invented.
 *
 * AFTERSET_WRITE_SCREENS=1 build/debug/tests/unit/ui/test_fortnight writes the captures anew.
 */
#include "ui/fortnight.h"

#include <limits.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/past.h"
#include "support/screens.h"

static struct past_fixture fixture;
static struct canvas canvas;

static int set_up(void **state)
{
    (void)state;
    past_fixture_full(&fixture);
    return 0;
}

static bool has_text(const char *wanted)
{
    for (int row = 0; row < canvas.rows; row++) {
        char text[CANVAS_ROW_TEXT_MAX];
        canvas_row_text(&canvas, row, text, sizeof text);
        if (strstr(text, wanted) != NULL)
            return true;
    }
    return false;
}

static void draw(int columns, int rows, bool ascii)
{
    memset(&canvas, 0x5A, sizeof canvas);
    canvas_clear(&canvas, columns, rows, ascii);
    fortnight_draw(&fixture.past, &canvas);
}

static void print(int columns)
{
    canvas_clear(&canvas, columns, fortnight_rows(&fixture.past), false);
    fortnight_print(&fixture.past, &canvas);
}

/* ---- captures ---- */

static void captures(void **state)
{
    static const struct {
        int columns, rows;
        bool ascii;
    } table[] = {{80, 24, false}, {80, 24, true}, {60, 24, false}, {132, 43, false}};
    char path[64];

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        draw(table[i].columns, table[i].rows, table[i].ascii);
        (void)snprintf(path, sizeof path, "tests/screens/log-%dx%d%s.txt", table[i].columns,
                       table[i].rows, table[i].ascii ? "-ascii" : "");
        screens_compare(&canvas, path);
    }
    print(80);
    screens_compare(&canvas, "tests/screens/log-printed.txt");
    past_fixture_empty(&fixture);
    draw(80, 24, false);
    screens_compare(&canvas, "tests/screens/log-empty-80x24.txt");
}

/* ---- what is where ---- */

static void blocks_stand_under_their_day(void **state)
{
    char days[CANVAS_ROW_TEXT_MAX], rides[CANVAS_ROW_TEXT_MAX];
    (void)state;
    draw(80, 24, false);
    canvas_row_text(&canvas, 1, days, sizeof days);
    canvas_row_text(&canvas, 2, rides, sizeof rides);
    assert_int_equal(strstr(days, "Mon 3") - days, strstr(rides, "301") - rides);
    assert_int_equal(strstr(days, "Wed 5") - days, strstr(rides, "302 ") - rides);
    assert_int_equal(strstr(days, "Sat 8") - days, strstr(rides, "304") - rides);
    assert_non_null(strstr(rides, "302  303"));
}

/* Three on a day where there is room for two: the last two, and that there is one more. */
static void more_than_fit_on_a_day_are_told_of(void **state)
{
    (void)state;
    draw(80, 24, false);
    assert_true(has_text("Tue 11 +1"));
    assert_false(has_text("305"));
    assert_true(has_text("306  307"));
    draw(60, 24, false);
    assert_true(has_text("11 +2"));
    assert_false(has_text("306"));
    assert_true(has_text("307"));
    draw(132, 24, false);
    assert_false(has_text("+1"));
    assert_true(has_text("305  306  307"));
}

static void long_numbers_do_not_touch(void **state)
{
    (void)state;
    fixture.blocks[1].ride_id = 123456;
    fixture.blocks[2].ride_id = 123457;
    draw(80, 24, false);
    assert_true(has_text("Wed 5 +1"));
    assert_false(has_text("123456"));
    assert_true(has_text("123457"));
    draw(132, 24, false);
    assert_true(has_text("123456 123457"));
}

static void what_is_not_known_is_a_dash(void **state)
{
    (void)state;
    fixture.blocks[0] = (struct past_block){.ride_id = 1, .day = fixture.past.first_day};
    fixture.past.block_count = 1;
    draw(80, 24, false);
    for (int row = 3; row <= 9; row++)
        assert_int_equal(canvas_cell(&canvas, 10, row).character, '-');
    assert_true(has_text("1 block, 0.0 kJ, 0 kcal"));
}

static void a_span_over_new_year_names_both(void **state)
{
    char text[PAST_SPAN_MAX];
    (void)state;
    fixture.dates[0] = (struct past_date){2025, 12, 29};
    fixture.dates[13] = (struct past_date){2026, 1, 11};
    past_span(&fixture.past, text, sizeof text);
    assert_string_equal(text, "29 Dec 2025 to 11 Jan 2026");
}

static void too_small_says_so(void **state)
{
    (void)state;
    draw(59, 24, false);
    assert_true(has_text("Too small: 60x24. q leaves."));
    draw(80, 23, false);
    assert_true(has_text("Too small"));
}

/* Else nobody knows how to see all blocks again. */
static void the_keys_stay_beside_what_they_chose(void **state)
{
    (void)state;
    fixture.past.only = "only 20/10 on virtual fresh";
    draw(80, 24, false);
    assert_true(has_text("p b a  only 20/10 on virtual fresh"));
    draw(60, 24, false);
    assert_true(has_text("only 20/10 on virtual fresh"));
}

/* Whatever the numbers are, nothing is written outside, and the last row is the one with keys. */
static void any_numbers_on_any_canvas(void **state)
{
    (void)state;
    for (size_t i = 0; i < fixture.past.block_count; i++) {
        fixture.blocks[i].ride_id = INT64_MAX - (int64_t)i;
        fixture.blocks[i].length_s = fixture.blocks[i].work_j = UINT32_MAX;
        fixture.blocks[i].power_w = fixture.blocks[i].calories_kcal = UINT32_MAX;
        fixture.blocks[i].feel = fixture.blocks[i].effort = UINT32_MAX;
        fixture.blocks[i].outcome = PAST_OUTCOME_COUNT;
    }
    fixture.points[3].value = INT_MAX;
    fixture.points[4].value = INT_MIN;
    for (size_t i = 0; i < PAST_BEST_COUNT; i++)
        fixture.past.bests[i].power_w = UINT32_MAX;
    for (int columns = 1; columns <= CANVAS_COLUMNS_MAX; columns += 7)
        for (int rows = 1; rows <= CANVAS_ROWS_MAX; rows += rows < 40 ? 1 : 9) {
            draw(columns, rows, columns % 2 == 0);
            if (columns >= FORTNIGHT_COLUMNS_MIN && rows >= FORTNIGHT_ROWS_MIN)
                assert_int_equal(canvas_cell(&canvas, 1, rows - 1).character, 'l');
        }
}

static void eight_weeks_fit_on_paper(void **state)
{
    static struct past_date dates[PAST_WEEKS_MAX * 7];
    (void)state;
    fixture.past.weeks = PAST_WEEKS_MAX;
    fixture.past.dates = dates;
    fixture.past.only = "only 20/10";
    assert_true(fortnight_rows(&fixture.past) <= CANVAS_ROWS_MAX);
    print(60);
    assert_true(has_text("effort: 0 none"));
    assert_true(has_text("only 20/10"));
}

/* ---- the trend ---- */

static bool has_dots(int row)
{
    for (int column = 9; column < canvas.columns; column++) {
        const uint32_t character = canvas_cell(&canvas, column, row).character;
        if (character >= 0x2800 && character <= 0x28FF)
            return true;
    }
    return false;
}

static void a_trend_needs_two_blocks(void **state)
{
    (void)state;
    fixture.past.trend.count = 1;
    draw(80, 24, false);
    assert_true(has_text("Two blocks ridden to the end make a trend"));
    fixture.past.trend.count = 2;
    fixture.points[1].value = fixture.points[0].value;
    draw(80, 24, false);
    assert_false(has_text("Two blocks ridden to the end"));
    assert_true(has_dots(20)); /* both at the bottom, where there is no more than one height */
}

/* In a row of their own, or where there is none for them in place of the months. */
static void words_of_the_sources(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    fixture.past.trend.sources = "12 by other sources left out, 34 taken over";
    draw(80, 24, false);
    canvas_row_text(&canvas, 20, text, sizeof text);
    assert_memory_equal(text, " trend       Jun", 16);
    canvas_row_text(&canvas, 21, text, sizeof text);
    assert_string_equal(text, "         12 by other sources left out, 34 taken over");
    assert_true(has_dots(19));
    draw(60, 24, false);
    canvas_row_text(&canvas, 20, text, sizeof text);
    assert_string_equal(text, " trend   12 by other sources left out, 34 taken over");
    assert_true(has_dots(19));
    print(60);
    assert_true(has_text("12 by other sources left out"));
}

/* Weeks of which nothing is known are not drawn over. */
static void gaps_stay_empty(void **state)
{
    (void)state;
    fixture.past.trend.count = 2;
    fixture.points[0] = (struct past_point){fixture.past.trend.first_day, 200};
    fixture.points[1] = (struct past_point){fixture.past.trend.last_day, 300};
    draw(80, 24, false);
    assert_int_equal(canvas_cell(&canvas, 9, 20).character, 0x2840);  /* the lowest left dot */
    assert_int_equal(canvas_cell(&canvas, 78, 19).character, 0x2808); /* the highest right one */
    for (int column = 10; column < 78; column++)
        assert_int_equal(canvas_cell(&canvas, column, 20).character, 0);
}

/* ---- keys ---- */

static enum fortnight_act push(enum press_kind kind, char character)
{
    return fortnight_press(&fixture.past, (struct press){kind, (uint32_t)character});
}

static void keys_go_where_there_is_something(void **state)
{
    (void)state;
    assert_int_equal(push(PRESS_LEFT, 0), FORTNIGHT_EARLIER);
    assert_int_equal(push(PRESS_RIGHT, 0), FORTNIGHT_NOTHING);
    fixture.past.has_earlier = false;
    fixture.past.has_later = true;
    assert_int_equal(push(PRESS_LEFT, 0), FORTNIGHT_NOTHING);
    assert_int_equal(push(PRESS_RIGHT, 0), FORTNIGHT_LATER);
    assert_int_equal(push(PRESS_CHARACTER, 'x'), FORTNIGHT_NOTHING);
    assert_int_equal(push(PRESS_CHARACTER, 'p'), FORTNIGHT_PROFILE);
    assert_int_equal(push(PRESS_CHARACTER, 'b'), FORTNIGHT_BIKE);
    assert_int_equal(push(PRESS_CHARACTER, 'a'), FORTNIGHT_LEGS);
    assert_int_equal(push(PRESS_ESCAPE, 0), FORTNIGHT_NOTHING);
    assert_int_equal(push(PRESS_CHARACTER, 'q'), FORTNIGHT_LEAVE);
    assert_int_equal(push(PRESS_ENTER, 0), FORTNIGHT_LEAVE);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(captures, set_up),
        cmocka_unit_test_setup(blocks_stand_under_their_day, set_up),
        cmocka_unit_test_setup(more_than_fit_on_a_day_are_told_of, set_up),
        cmocka_unit_test_setup(long_numbers_do_not_touch, set_up),
        cmocka_unit_test_setup(what_is_not_known_is_a_dash, set_up),
        cmocka_unit_test_setup(a_span_over_new_year_names_both, set_up),
        cmocka_unit_test_setup(too_small_says_so, set_up),
        cmocka_unit_test_setup(the_keys_stay_beside_what_they_chose, set_up),
        cmocka_unit_test_setup(any_numbers_on_any_canvas, set_up),
        cmocka_unit_test_setup(eight_weeks_fit_on_paper, set_up),
        cmocka_unit_test_setup(a_trend_needs_two_blocks, set_up),
        cmocka_unit_test_setup(words_of_the_sources, set_up),
        cmocka_unit_test_setup(gaps_stay_empty, set_up),
        cmocka_unit_test_setup(keys_go_where_there_is_something, set_up),
    };
    return cmocka_run_group_tests_name("fortnight", tests, NULL, NULL);
}
