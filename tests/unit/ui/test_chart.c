/*
 * One block as a drawing: the captures in tests/screens, and what must hold for any seconds on any
 * canvas. All numbers are invented.
 *
 * AFTERSET_WRITE_SCREENS=1 build/debug/tests/unit/ui/test_chart writes the captures anew.
 */
#include "ui/chart.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

#include "support/screens.h"

#define SECONDS 240

static struct chart_second seconds[SECONDS];
static struct chart chart;
static struct canvas canvas;

/* A minute easy, then 30 s hard and 15 s easy by turns, with a heart that follows. */
static int set_up(void **state)
{
    int32_t heart_bpm = 90;
    (void)state;
    for (int i = 0; i < SECONDS; i++) {
        const bool works = i >= 60 && (i - 60) % 45 < 30;
        heart_bpm += works ? i % 2 : heart_bpm > 100 && i % 3 == 0 ? -1 : 0;
        seconds[i] = (struct chart_second){
            .is_on_plan = true,
            .kind = works    ? STEP_WORK
                    : i < 60 ? STEP_WARM_UP
                             : STEP_REST,
            .has = {true, true, true},
            .value = {(works ? 236 : 92) + i * 7 % 11, heart_bpm, 84 + i * 3 % 5},
            .range = {{true, works ? 230 : 80, works ? 260 : 110}},
        };
    }
    chart = (struct chart){SECONDS, seconds};
    return 0;
}

static void draw(int columns, bool ascii)
{
    memset(&canvas, 0x5A, sizeof canvas);
    canvas_clear(&canvas, columns, chart_rows(&chart) > 0 ? chart_rows(&chart) : 1, ascii);
    chart_draw(&chart, &canvas, 0);
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

static void captures(void **state)
{
    (void)state;
    draw(80, false);
    screens_compare(&canvas, "tests/screens/chart-80.txt");
    draw(80, true);
    screens_compare(&canvas, "tests/screens/chart-80-ascii.txt");
    draw(60, false);
    screens_compare(&canvas, "tests/screens/chart-60.txt");
}

/* Without power, without a heart, without either: only the lines there are. */
static void lines_without_readings_are_left_out(void **state)
{
    const int rows = chart_rows(&chart);
    (void)state;
    for (int i = 0; i < SECONDS; i++)
        seconds[i].has[CHART_HEART] = false;
    assert_int_equal(chart_rows(&chart), rows - 5);
    draw(80, false);
    assert_true(has_text("power"));
    assert_false(has_text("heart"));
    assert_true(has_text("work    "));
    for (int i = 0; i < SECONDS; i++)
        seconds[i].has[CHART_POWER] = false;
    draw(80, false);
    assert_false(has_text("power"));
    assert_true(has_text("cadence"));
    for (int i = 0; i < SECONDS; i++)
        seconds[i].has[CHART_CADENCE] = false;
    assert_int_equal(chart_rows(&chart), 0);
    draw(80, false);
    assert_false(has_text("0:00"));
}

static void scales_are_round_and_hold_the_targets(void **state)
{
    int32_t low = -1, high = -1;
    (void)state;
    assert_true(chart_scale(&chart, CHART_POWER, &low, &high));
    assert_int_equal(low, 0);
    assert_int_equal(high, 300); /* targets reach 260 */
    assert_true(chart_scale(&chart, CHART_CADENCE, &low, &high));
    assert_int_equal(low, 80);
    assert_int_equal(high, 90);
    seconds[5].range[CHART_POWER].high = INT32_MAX;
    seconds[6].value[CHART_POWER] = -50;
    assert_true(chart_scale(&chart, CHART_POWER, &low, &high));
    assert_int_equal(low, 0);
    assert_int_equal(high, 10050);
}

static void means_are_of_what_is_known(void **state)
{
    int32_t mean = 0;
    (void)state;
    for (int i = 0; i < 3; i++)
        seconds[i].value[CHART_POWER] = 100 * (i + 1);
    assert_true(chart_mean(&chart, CHART_POWER, 0, 3, &mean));
    assert_int_equal(mean, 200);
    seconds[0].has[CHART_POWER] = false;
    assert_true(chart_mean(&chart, CHART_POWER, 0, 3, &mean));
    assert_int_equal(mean, 250);
    assert_false(chart_mean(&chart, CHART_POWER, 0, 1, &mean));
    assert_false(chart_mean(&chart, CHART_POWER, SECONDS, SECONDS + 5, &mean));
}

/* Nothing is drawn where nothing was known, such as a lost link. */
static void a_gap_stays_empty(void **state)
{
    (void)state;
    for (int i = 0; i < SECONDS; i++)
        seconds[i] = (struct chart_second){.has = {i < 60 || i >= 180}, .value = {150}};
    draw(80, false);
    for (int column = 27; column < 60; column++)
        for (int row = 0; row < 8; row++)
            assert_int_equal(canvas_cell(&canvas, column, row).character, 0);
    assert_int_not_equal(canvas_cell(&canvas, 15, 2).character, 0);
}

static void any_length_on_any_width(void **state)
{
    (void)state;
    for (size_t count = 1; count <= SECONDS; count += count < 5 ? 1 : 47) {
        chart.count = count;
        for (int columns = 1; columns <= CANVAS_COLUMNS_MAX; columns += 11)
            draw(columns, columns % 2 == 0);
        draw(80, false);
        assert_true(has_text("0:00"));
    }
    chart.count = 0;
    assert_int_equal(chart_rows(&chart), 0);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(captures, set_up),
        cmocka_unit_test_setup(lines_without_readings_are_left_out, set_up),
        cmocka_unit_test_setup(scales_are_round_and_hold_the_targets, set_up),
        cmocka_unit_test_setup(means_are_of_what_is_known, set_up),
        cmocka_unit_test_setup(a_gap_stays_empty, set_up),
        cmocka_unit_test_setup(any_length_on_any_width, set_up),
    };
    return cmocka_run_group_tests_name("chart", tests, NULL, NULL);
}
