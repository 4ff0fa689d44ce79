/*
 * Where a draft stands on the screen: against the captures in tests/screens, which
 * AFTERSET_WRITE_SCREENS=1 writes anew; look at each before it is committed.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/screens.h"
#include "ui/draft.h"

static const char written[] = "title     20/10\n"
                              "length    3:00..7:00\n"
                              "warm-up   1:00  power 40..55 %cp\n"
                              "rounds 8\n"
                              "  work    0:20  power 117..131 %cp  cadence 85..110 rpm\n"
                              "  rest    0:10  power 30..50 %cp\n"
                              "end\n"
                              "cool-down 3:00  power 25..40 %cp\n";

static struct draft draft;
static struct canvas canvas;
static struct plan plan;
static struct rehearsal rehearsal;

/* Invented figures: what asks for power gets it, and the reserve goes down with the work. */
static void foretell(void)
{
    int reserve_pct = 100;

    assert_int_equal(
        profile_unroll(&draft.profile, &(struct rider){.critical_power_w = 200}, &plan), RESULT_OK);
    rehearsal = (struct rehearsal){
        .plan = &plan,
        .critical_power_w = 200,
        .w_prime_j = 15000,
        .heart_limit_bpm = 180,
        .summary = {.work_j = 62000, .average_power_w = 129, .max_heart_bpm = 166},
        .asked = {9300, {290000, 15}}};
    for (size_t i = 0; i < plan.step_count; i++) {
        const struct target_range *power_w = &plan.steps[i].targets.power_w;
        const bool is_work = plan.steps[i].kind == STEP_WORK;
        const int target_w = (power_w->low + power_w->high) / 2;
        reserve_pct += is_work ? -8 : reserve_pct < 97 ? 3 : 0;
        for (uint32_t s = 0; s < plan.steps[i].duration_ms / 1000; s++)
            rehearsal.seconds[rehearsal.second_count++] =
                (struct rehearsal_second){.power_w = (int16_t)target_w,
                                          .target_w = (int16_t)target_w,
                                          .heart_bpm = (int16_t)(is_work ? 160 : 130),
                                          .reserve_pct = (int8_t)reserve_pct,
                                          .in_work = is_work};
    }
    rehearsal.ridden_count = rehearsal.second_count;
    draft.rehearsal = &rehearsal;
}

static void press(enum press_kind kind)
{
    (void)draft_press(&draft, (struct press){kind, 0});
}

static void type(const char *keys)
{
    for (; *keys != '\0'; keys++)
        (void)draft_press(&draft, (struct press){PRESS_CHARACTER, (unsigned char)*keys});
}

static int begin(void **state)
{
    static struct profile profile;
    struct text_fault fault;

    (void)state;
    memset(&draft, 0, sizeof draft);
    assert_int_equal(profile_read(written, strlen(written), &profile, &fault), RESULT_OK);
    assert_true(draft_begin(&draft, written, strlen(written), &profile, "profiles/20-10.profile"));
    foretell();
    return 0;
}

static int end(void **state)
{
    (void)state;
    draft_end(&draft);
    return 0;
}

static void compare(const char *moment, int columns, int rows, bool ascii)
{
    char path[128];

    memset(&canvas, 0x5A, sizeof canvas);
    canvas_clear(&canvas, columns, rows, ascii);
    draft_draw(&draft, &canvas);
    (void)snprintf(path, sizeof path, "tests/screens/draft-%s-%dx%d%s.txt", moment, columns, rows,
                   ascii ? "-ascii" : "");
    screens_compare(&canvas, path);
}

static void a_step(void **state)
{
    (void)state;
    press(PRESS_DOWN);
    press(PRESS_DOWN);
    press(PRESS_RIGHT);
    compare("step", 80, 24, false);
    compare("step", 80, 24, true);
    compare("step", 120, 40, false);
}

static void typing(void **state)
{
    (void)state;
    press(PRESS_DOWN);
    press(PRESS_DOWN);
    press(PRESS_RIGHT);
    type("120..1x");
    compare("typing", 80, 24, false);
    press(PRESS_ENTER);
    compare("refused", 80, 24, false);
}

static void a_fault(void **state)
{
    (void)state;
    press(PRESS_DOWN);
    for (int i = 0; i < 3; i++)
        type("-"); /* 5 rounds are too short */
    compare("fault", 80, 24, false);
}

static void too_hard(void **state)
{
    (void)state;
    rehearsal.trouble = REHEARSAL_LEGS;
    rehearsal.trouble_at = (struct rehearsal_place){.at_ms = 195000, .step = 9};
    rehearsal.ridden_count = 197;
    compare("too-hard", 80, 24, false);
}

static void asking(void **state)
{
    (void)state;
    type("a");
    compare("adding", 80, 24, false);
    type("w");
    type("q");
    compare("leaving", 80, 24, false);
    press(PRESS_ESCAPE);
    type("S");
    compare("naming", 80, 24, false);
}

static void nothing_yet(void **state)
{
    (void)state;
    draft_end(&draft);
    memset(&draft, 0, sizeof draft);
    assert_true(draft_begin(&draft, NULL, 0, NULL, ""));
    compare("nothing", 80, 24, false);
}

static const char *row_text(int row)
{
    static char text[CANVAS_ROW_TEXT_MAX];

    canvas_clear(&canvas, 80, 24, true);
    draft_draw(&draft, &canvas);
    canvas_row_text(&canvas, row, text, sizeof text);
    return text;
}

/* A name does not make a file. */
static void new_until_it_is_saved(void **state)
{
    (void)state;
    draft_end(&draft);
    memset(&draft, 0, sizeof draft);
    assert_true(draft_begin(&draft, NULL, 0, NULL, "mine.profile"));
    assert_non_null(strstr(row_text(0), "mine.profile  new"));
    draft_saved(&draft);
    assert_non_null(strstr(row_text(0), "mine.profile  saved"));
}

static void what_is_unwise_is_told(void **state)
{
    (void)state;
    assert_non_null(strstr(row_text(21), "Can be ridden; least is left in work"));
    type("d"); /* the warm-up */
    assert_string_equal(row_text(21),
                        "  Can be ridden, yet unwise: work with no warm-up before it");
}

/* The hand is at the end of what is typed, which stays to be seen. */
static void long_texts_show_their_end(void **state)
{
    char row[CANVAS_ROW_TEXT_MAX];

    (void)state;
    press(PRESS_LEFT); /* the cue */
    press(PRESS_ENTER);
    type("Stand up and do not sit down before the very end of it");
    canvas_clear(&canvas, 80, 24, false);
    draft_draw(&draft, &canvas);
    canvas_row_text(&canvas, 18, row, sizeof row);
    assert_non_null(strstr(row, "the very end of it_"));
    assert_int_equal(strlen(row), 79);
}

static void long_lists_scroll(void **state)
{
    char row[CANVAS_ROW_TEXT_MAX];

    (void)state;
    for (int i = 0; i < 30; i++)
        type("c");
    canvas_clear(&canvas, 80, 24, false);
    draft_draw(&draft, &canvas);
    canvas_row_text(&canvas, 2 + 6, row, sizeof row);
    assert_non_null(strstr(row, ">"));
}

static void too_small(void **state)
{
    char row[CANVAS_ROW_TEXT_MAX];

    (void)state;
    canvas_clear(&canvas, 79, 24, true);
    draft_draw(&draft, &canvas);
    canvas_row_text(&canvas, 0, row, sizeof row);
    assert_string_equal(row, "Too small: 80x24.");
    canvas_clear(&canvas, 10, 1, true);
    draft_draw(&draft, &canvas);
}

#define DRAFT(test) cmocka_unit_test_setup_teardown(test, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        DRAFT(a_step),
        DRAFT(typing),
        DRAFT(a_fault),
        DRAFT(too_hard),
        DRAFT(asking),
        DRAFT(nothing_yet),
        DRAFT(new_until_it_is_saved),
        DRAFT(what_is_unwise_is_told),
        DRAFT(long_texts_show_their_end),
        DRAFT(long_lists_scroll),
        DRAFT(too_small),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
