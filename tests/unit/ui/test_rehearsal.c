/* What a rehearsal says and draws. All numbers are invented. */
#include "ui/rehearsal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct plan plan;
static struct rehearsal rehearsal;
static struct canvas canvas;

static void add(enum step_kind kind, uint32_t seconds, int32_t power_w, uint16_t round)
{
    plan.steps[plan.step_count++] =
        (struct plan_step){.kind = kind,
                           .duration_ms = seconds * 1000,
                           .targets = {.power_w = {true, power_w - 10, power_w + 10}},
                           .round = round,
                           .rounds = round > 0 ? 2 : 0};
    for (uint32_t i = 0; i < seconds; i++)
        rehearsal.seconds[rehearsal.second_count++] =
            (struct rehearsal_second){.power_w = (int16_t)power_w,
                                      .heart_bpm = (int16_t)(power_w / 2 + 60),
                                      .target_w = (int16_t)power_w,
                                      .in_work = kind == STEP_WORK,
                                      .reserve_pct = (int8_t)(kind == STEP_WORK ? 50 : 100)};
}

static int set_up(void **state)
{
    (void)state;
    plan = (struct plan){.title = "Invented"};
    rehearsal = (struct rehearsal){
        .plan = &plan,
        .critical_power_w = 150,
        .w_prime_j = 10000,
        .heart_limit_bpm = 180,
        .summary = {.work_j = 12345,
                    .duration_ms = 120000,
                    .average_power_w = 103,
                    .work_power_w = 200,
                    .max_heart_bpm = 160},
        .asked = {4449, {80000, 3}},
        .slow = {4440, {80000, 3}},
        .ridden = {5000, {80000, 3}},
    };
    add(STEP_WARM_UP, 30, 100, 0);
    add(STEP_WORK, 20, 200, 1);
    add(STEP_REST, 10, 80, 1);
    add(STEP_WORK, 20, 200, 2);
    add(STEP_REST, 10, 80, 2);
    add(STEP_COOL_DOWN, 30, 60, 0);
    rehearsal.ridden_count = rehearsal.second_count;
    return 0;
}

/* 12.345 kJ at 18, 20 and 24 % and 4.184 kJ a kcal: 16.39, 14.75, 12.29 kcal. */
static void the_figures(void **state)
{
    char text[400];
    struct text_writer writer = text_writer(text, sizeof text);

    (void)state;
    rehearsal_put(&writer, &rehearsal);
    assert_false(writer.failed);
    assert_string_equal(text,
                        "Work      12.3 kJ in 2:00, 103 W on average, 200 W in the work\n"
                        "Burnt     about 15 kcal (between 12 and 16)\n"
                        "Reserve   down to 44 % as asked (44 % by a slower model), 50 % as ridden\n"
                        "Heart     up to 160 bpm, limit 180 bpm\n");
}

static void assert_last_lines(const char *expected)
{
    char text[600];
    struct text_writer writer = text_writer(text, sizeof text);

    rehearsal_put(&writer, &rehearsal);
    assert_false(writer.failed);
    assert_true(strlen(text) >= strlen(expected));
    assert_string_equal(text + strlen(text) - strlen(expected), expected);
}

static void a_brake_that_is_not_told_watts(void **state)
{
    (void)state;
    rehearsal.brake = REHEARSAL_BY_HAND;
    rehearsal.summary.in_range_s = 23;
    rehearsal.summary.work_s = 40;
    rehearsal.turns = (struct rehearsal_turns){5, 9600, 40, 4, 3, {30000, 1}};
    assert_last_lines("limit 180 bpm\n"
                      "In range  58 % of the work\n"
                      "Knob      to be turned 5 times, down to 10 s apart; a number is some 40 W\n"
                      "Too short 3 of 4 steps to get there, the first work 1 of 2, 0:30\n");
    rehearsal.turns = (struct rehearsal_turns){.count = 1, .step_count = 4};
    assert_last_lines("58 % of the work\nKnob      to be turned 1 time\n");
    rehearsal.brake = REHEARSAL_LEVELS;
    assert_last_lines("limit 180 bpm\nIn range  58 % of the work\n");
    rehearsal.summary.work_s = 0;
    assert_last_lines("limit 180 bpm\n");
}

static void a_reserve_that_is_not_drawn_on(void **state)
{
    char text[400];
    struct text_writer writer = text_writer(text, sizeof text);

    (void)state;
    rehearsal.asked.left_j = rehearsal.slow.left_j = rehearsal.ridden.left_j = 9960;
    rehearsal_put(&writer, &rehearsal);
    assert_non_null(strstr(text, "\nReserve   not touched\n"));
    rehearsal.ridden.left_j = 9900;
    writer = text_writer(text, sizeof text);
    rehearsal_put(&writer, &rehearsal);
    assert_non_null(strstr(text, "\nReserve   not touched as asked, down to 99 % as ridden\n"));
}

struct verdict {
    enum rehearsal_trouble trouble;
    double asked_j;
    const char *text;
};

static struct verdict verdicts[] = {
    {REHEARSAL_FINE, 4449, "Can be ridden; least is left in work 2 of 2, 1:20"},
    {REHEARSAL_FINE, 9960, "Can be ridden; the reserve is not touched"},
    {REHEARSAL_FINE, 10000, "Can be ridden; the reserve is not touched"},
    {REHEARSAL_EMPTY, -1, "Too hard: work 1 of 2, 0:45: the plan has asked for all of the reserve"},
    {REHEARSAL_MISSED, -1, "Too hard: work 1 of 2, 0:45: the power stays below the target"},
    {REHEARSAL_LOWERED, -1,
     "Too hard: work 1 of 2, 0:45: a load limit keeps the power below the target"},
    {REHEARSAL_LEGS, -1, "Too hard: work 1 of 2, 0:45: the legs cannot turn the load any more"},
    {REHEARSAL_CUT_OFF, -1, "Too hard: work 1 of 2, 0:45: heart rate over your limit"},
};

static void the_verdict(void **state)
{
    char text[200];

    (void)state;
    rehearsal.trouble_at = (struct rehearsal_place){45000, 1};
    rehearsal.summary.cut_off = CUT_OFF_HEART;
    for (size_t i = 0; i < sizeof verdicts / sizeof verdicts[0]; i++) {
        struct text_writer writer = text_writer(text, sizeof text);
        rehearsal.trouble = verdicts[i].trouble;
        rehearsal.asked.left_j = verdicts[i].asked_j;
        rehearsal_put_verdict(&writer, &rehearsal);
        assert_string_equal(text, verdicts[i].text);
        assert_true(strlen(text) < 80);
    }
}

static void per_cents_below_zero(void **state)
{
    (void)state;
    rehearsal.asked.left_j = -1250;
    assert_int_equal(rehearsal_percent(&rehearsal, &rehearsal.asked), -13);
    rehearsal.w_prime_j = 0;
    assert_int_equal(rehearsal_percent(&rehearsal, &rehearsal.asked), 0);
}

/* ---- the chart ---- */

static void assert_chart(int columns, int rows, bool ascii, const char *const *expected)
{
    char text[CANVAS_ROW_TEXT_MAX];

    canvas_clear(&canvas, columns, rows, ascii);
    rehearsal_draw(&canvas, 0, 0, columns, rows, &rehearsal);
    for (int row = 0; row < rows; row++) {
        canvas_row_text(&canvas, row, text, sizeof text);
        assert_string_equal(text, expected[row]);
    }
}

static void all_three_bands(void **state)
{
    static const char *const expected[] = {
        "  200 W          ======   ======",
        "  power          ######   ######",
        "        =========######   ######",
        "        ###############===######============",
        "      0 ####################################",
        "  100 % #########      ###      ############",
        "reserve #########______###______############",
        "      0 ####################################",
        "180 bpm          ______   ______",
        "  heart _________######___######___",
        "     40 ####################################",
        "        0:00                            2:00",
    };

    (void)state;
    assert_chart(44, 12, true, expected);
}

static void power_alone(void **state)
{
    static const char *const expected[] = {
        "  200 W          ━━━━━━   ━━━━━━", "  power          █████",
        "        ━━━━━━━━━█████",           "        ██████████████ ━━━      ━━━━━━━━━━━━",
        "      0 ██████████████",           "                     ▲ 0:45",
    };

    (void)state;
    rehearsal.trouble = REHEARSAL_LEGS;
    rehearsal.trouble_at = (struct rehearsal_place){45000, 1};
    rehearsal.ridden_count = 45;
    assert_chart(44, 6, false, expected);
}

static void too_small_draws_nothing(void **state)
{
    static const char *const expected[] = {"", "", "", "", ""};

    (void)state;
    assert_chart(29, 5, true, expected);
    assert_chart(44, 4, true, expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(the_figures, set_up),
        cmocka_unit_test_setup(a_brake_that_is_not_told_watts, set_up),
        cmocka_unit_test_setup(a_reserve_that_is_not_drawn_on, set_up),
        cmocka_unit_test_setup(the_verdict, set_up),
        cmocka_unit_test_setup(per_cents_below_zero, set_up),
        cmocka_unit_test_setup(all_three_bands, set_up),
        cmocka_unit_test_setup(power_alone, set_up),
        cmocka_unit_test_setup(too_small_draws_nothing, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
