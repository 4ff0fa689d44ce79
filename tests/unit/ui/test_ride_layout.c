/*
 * Where things stand on the ride's screen: the main moments cell by cell against the captures in
 * tests/screens, and what must hold for any view on any canvas.
 *
 * AFTERSET_WRITE_SCREENS=1 build/debug/tests/unit/ui/test_ride_layout writes the captures anew;
 * look at each before it is committed.
 */
#include <limits.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/screens.h"
#include "ui/ride_layout.h"

static struct canvas canvas;

static void lay_out(const struct view *view, int columns, int rows, bool ascii)
{
    memset(&canvas, 0x5A, sizeof canvas);
    canvas_clear(&canvas, columns, rows, ascii);
    ride_layout(view, &canvas);
}

static void view_at(const char *moment, struct view *ret)
{
    static struct drive drive; /* the view borrows its plan */

    struct ride_facts facts = screens_facts;

    facts.reserve = &drive.reserve;
    facts.power = strcmp(moment, "sensor-lost") == 0 ? "pedals" : NULL;
    screens_init(&drive);
    screens_ride_to(&drive, moment);
    view_set(&drive.ride, &facts, &screens_no_hands, ret);
}

/* ---- captures ---- */

static void test_captures(void **state)
{
    static const struct {
        const char *moment;
        int columns, rows;
        bool ascii;
    } table[] = {
        {"ready", 80, 24, false},
        {"work", 80, 24, false},
        {"work", 80, 24, true},
        {"work", 100, 30, false},
        {"work", 132, 43, false},
        {"work", 250, 70, false},
        {"work", 79, 24, false},
        {"held", 80, 24, false},
        {"cut-off", 80, 24, false},
        {"cut-off", 132, 43, false},
        {"held", 79, 23, false},
        {"cut-off", 79, 23, false},
        {"strap-lost", 80, 24, false},
        {"by-levels-work", 80, 24, false},
        {"by-hand-ready", 80, 24, false},
        {"by-hand-work", 80, 24, false},
        {"by-hand-work", 80, 24, true},
        {"by-hand-edge", 80, 24, false},
        {"by-hand-nearest", 80, 24, false},
        {"by-hand-held", 80, 24, false},
        {"by-hand-cut-off", 80, 24, false},
        {"sensor-lost", 80, 24, false},
        {"sensor-lost", 132, 43, false},
        {"powerless", 80, 24, false},
        {"powerless", 79, 23, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct view view;
        char path[128];
        view_at(table[i].moment, &view);
        lay_out(&view, table[i].columns, table[i].rows, table[i].ascii);
        (void)snprintf(path, sizeof path, "tests/screens/%s-%dx%d%s.txt", table[i].moment,
                       table[i].columns, table[i].rows, table[i].ascii ? "-ascii" : "");
        screens_compare(&canvas, path);
    }
}

/* ---- what must hold ---- */

static bool has_text(int first_row, int last_row, const char *wanted)
{
    for (int row = first_row; row <= last_row; row++) {
        char text[CANVAS_ROW_TEXT_MAX];
        canvas_row_text(&canvas, row, text, sizeof text);
        if (strstr(text, wanted) != NULL)
            return true;
    }
    return false;
}

/* The large power is somewhere, whole: drawn once more by itself it is found in the canvas. */
static bool has_large(const char *signs)
{
    static struct canvas alone;

    for (int rows = CANVAS_SIGN_ROWS_MIN; rows < canvas.rows; rows++) {
        const int width = canvas_signs_width(rows, signs);
        if (width > canvas.columns)
            break;
        canvas_clear(&alone, width, rows, canvas.ascii);
        canvas_signs(&alone, 0, 0, rows, STYLE_PLAIN, signs);
        for (int top = 0; top + rows <= canvas.rows; top++)
            for (int left = 0; left < 4; left++) {
                bool same = true;
                for (int i = 0; same && i < rows * width; i++) {
                    const uint32_t there =
                        canvas_cell(&canvas, left + i % width, top + i / width).character;
                    same = canvas_cell(&alone, i % width, i / width).character ==
                           (there == ' ' ? 0 : there);
                }
                if (same)
                    return true;
            }
    }
    return false;
}

static void assert_holds(const struct view *view, const char *power, int columns, int rows,
                         bool ascii)
{
    struct cell marked;

    memset(&marked, 0x5A, sizeof marked);
    lay_out(view, columns, rows, ascii);
    for (int i = canvas.columns * canvas.rows; i < CANVAS_COLUMNS_MAX * CANVAS_ROWS_MAX; i++)
        assert_memory_equal(&canvas.cells[i], &marked, sizeof marked);
    if (columns >= RIDE_COLUMNS_MIN && rows >= RIDE_ROWS_MIN) {
        if (!has_large(power))
            fail_msg("no large '%s' on %dx%d", power, columns, rows);
        if (view->key_count > 0 && !has_text(rows - 1, rows - 1, "  s "))
            fail_msg("no stop key on %dx%d", columns, rows);
    } else if (columns >= 20) {
        assert_true(has_text(0, 0, " W "));
        assert_true(view->key_count == 0 || has_text(0, 0, "s stop") || has_text(0, 0, "s leave"));
        /* Below it stands only what must be seen at any size. */
        if (columns >= 60) {
            assert_int_equal(has_text(0, 0, "CUT OFF"), view->cut_off != CUT_OFF_NONE);
            assert_int_equal(has_text(0, 0, "HELD"),
                             view->cut_off == CUT_OFF_NONE && view->phase == PHASE_HELD);
        }
        if (view->cut_off != CUT_OFF_NONE && rows > 1)
            assert_true(has_text(1, 1, "CUT OFF: "));
        else if (view->cut_off == CUT_OFF_NONE)
            assert_false(has_text(1 + (int)view->caution_count, rows - 1, " "));
    }
}

static const int sizes[][2] = {{80, 24},  {81, 25},  {100, 30}, {132, 43}, {250, 70}, {300, 100},
                               {80, 100}, {300, 24}, {79, 24},  {80, 23},  {20, 5},   {1, 1}};
#define SIZE_COUNT (sizeof sizes / sizeof sizes[0])

static void test_numbers_of_any_size(void **state)
{
    static const struct {
        int32_t value;
        const char *shown;
    } table[] = {{0, "  0"},     {7, "  7"},     {-3, " -3"},         {999, "999"},
                 {1500, "1500"}, {9999, "9999"}, {INT32_MAX, "9999"}, {INT32_MIN, "-999"}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        for (size_t j = 0; j < SIZE_COUNT; j++) {
            struct view view;
            view_at("work", &view);
            view.power_w.value = table[i].value;
            view.power_w.range = (struct target_range){true, INT32_MIN, INT32_MAX};
            view.cadence_rpm = view.heart_bpm = view.large = view.power_w;
            view.heart_limit_bpm = INT32_MIN;
            view.countdown_s = UINT32_MAX;
            view.block_ms = view.plan_ms = view.whole_ms = UINT32_MAX;
            view.plan_at_ms = UINT32_MAX;
            assert_holds(&view, table[i].shown, sizes[j][0], sizes[j][1], i % 2 == 0);
        }
}

static void test_nothing_is_known(void **state)
{
    (void)state;
    for (size_t j = 0; j < SIZE_COUNT; j++) {
        struct view view;
        view_at("work", &view);
        view.power_w = view.cadence_rpm = view.heart_bpm = view.large = (struct view_reading){0};
        view.plan_ms = view.plan_at_ms = view.whole_ms = 0;
        view.counts_down = false;
        assert_holds(&view, "---", sizes[j][0], sizes[j][1], false);
    }
}

static void fill(char *text, size_t size, const char *with)
{
    size_t length = 0;
    while (length + strlen(with) < size) {
        memcpy(text + length, with, strlen(with));
        length += strlen(with);
    }
    text[length] = '\0';
}

/* Every text as long as it can be, of every sort; all cautions, cut off. */
static void test_hostile_text(void **state)
{
    static const char *const sorts[] = {"W",
                                        "\xE6\xBC\xA2",
                                        "\x1B[2J",
                                        "\xE2\x80\xAE"
                                        "1",
                                        "\xFF",
                                        "e\xCC\x81"};

    (void)state;
    for (size_t i = 0; i < sizeof sorts / sizeof sorts[0]; i++)
        for (size_t j = 0; j < SIZE_COUNT; j++) {
            struct view view;
            static struct plan plan;
            view_at("cut-off", &view);
            plan = *view.plan;
            view.plan = &plan;
            fill(plan.title, sizeof plan.title, sorts[i]);
            struct view_line *lines[] = {&view.heading, &view.advice,  &view.next,
                                         &view.target,  &view.trouble, &view.so_far};
            for (size_t k = 0; k < sizeof lines / sizeof lines[0]; k++)
                fill(lines[k]->text, sizeof lines[k]->text, sorts[i]);
            view.caution_count = VIEW_CAUTIONS_MAX;
            for (unsigned k = 0; k < VIEW_CAUTIONS_MAX; k++)
                view.cautions[k] = (enum caution)(k + 1);
            assert_holds(&view, " 35", sizes[j][0], sizes[j][1], false);
            for (int cell = 0; cell < canvas.columns * canvas.rows; cell++)
                assert_int_not_equal(canvas.cells[cell].character, 0x1B);
        }
}

/* From one row or column to the next, in every moment. */
static void test_every_size(void **state)
{
    static const struct {
        const char *moment, *power;
    } table[] = {{"ready", "  0"}, {"work", "222"}, {"held", " 41"}, {"cut-off", " 35"}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct view view;
        view_at(table[i].moment, &view);
        for (int rows = 22; rows <= 72; rows++)
            assert_holds(&view, table[i].power, 80 + 3 * (rows - 22), rows, false);
        for (int columns = 78; columns < 90; columns++)
            assert_holds(&view, table[i].power, columns, 24, true);
    }
}

/* What the rider must do about a cut-off hides neither the power nor the way out. */
static void test_cut_off_says_what_to_do(void **state)
{
    struct view view;

    (void)state;
    view_at("cut-off", &view);
    for (size_t j = 0; j < 8; j++) {
        lay_out(&view, sizes[j][0], sizes[j][1], false);
        assert_true(has_text(0, canvas.rows, "CUT OFF: heart rate over your limit"));
        assert_true(has_text(0, canvas.rows, "The load is taken off."));
        assert_true(has_text(0, canvas.rows, "Keep the legs turning."));
        assert_true(has_text(0, canvas.rows, "Press Enter"));
        assert_true(has_large(" 35"));
    }
}

/* The link that is lost is told of where there is one row. */
static void test_trouble_in_one_line(void **state)
{
    struct view view;

    (void)state;
    view_at("held", &view);
    strcpy(view.trouble.text, "No link to the bike for 4 s.");
    lay_out(&view, 79, 1, false);
    assert_true(
        has_text(0, 0, " W s stop  HELD  112 s until it ends  No link to the bike for 4 s."));
}

/* The needle is left of the range, below it and right of it, and says so in words. */
static void test_needle(void **state)
{
    static const struct {
        int32_t power_w;
        const char *words;
        int side;
    } table[] = {{100, "\xE2\x97\x80 134 W low", -1}, {222, "\xE2\x96\xB2 12 W low", -1},
                 {234, "\xE2\x96\xB2 in range", 0},   {262, "\xE2\x96\xB2 in range", 0},
                 {263, "\xE2\x96\xB2 1 W high", 1},   {900, "638 W high \xE2\x96\xB6", 1}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct view view;
        view_at("work", &view);
        view.power_w.value = table[i].power_w;
        view.power_w.stand = stand_of(true, table[i].power_w, &view.power_w.range);
        lay_out(&view, 80, 24, false);
        int gauge = 0, needle = 0;
        while (!has_text(gauge, gauge, "234 "))
            gauge++;
        if (!has_text(gauge + 2, gauge + 2, table[i].words))
            fail_msg("%d W: not '%s'", table[i].power_w, table[i].words);
        while (canvas_cell(&canvas, needle, gauge + 2).character < 0x25A0)
            needle++;
        const int column = needle < 2 ? 2 : needle;
        const bool under = canvas_cell(&canvas, column, gauge + 1).character == 0x2588;
        assert_int_equal(under, table[i].side == 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_captures),
        cmocka_unit_test(test_numbers_of_any_size),
        cmocka_unit_test(test_nothing_is_known),
        cmocka_unit_test(test_hostile_text),
        cmocka_unit_test(test_every_size),
        cmocka_unit_test(test_cut_off_says_what_to_do),
        cmocka_unit_test(test_trouble_in_one_line),
        cmocka_unit_test(test_needle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
