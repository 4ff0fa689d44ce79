/* What a ride shows of steps that do more than take their time. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/screens.h"
#include "ui/ride_layout.h"

static struct drive drive;

static struct view view_now(void)
{
    struct view view;
    view_set(&drive.ride, &screens_facts, &screens_no_hands, &view);
    return view;
}

static void begin(const struct plan_step *steps, size_t count)
{
    static struct ride_setup setup;

    setup = (struct ride_setup){.plan.step_count = count};
    memcpy(setup.plan.steps, steps, count * sizeof *steps);
    drive_init(&drive);
    ride_init(&drive.ride, &setup);
}

static const struct plan_step cool_down = {.kind = STEP_COOL_DOWN, .duration_ms = 60000};

static void a_ramp_shows_where_it_is_and_leads(void **state)
{
    const struct plan_step steps[] = {{.kind = STEP_WORK,
                                       .duration_ms = 100000,
                                       .targets.power_w = {true, 100, 120},
                                       .ramp_to.power_w = {true, 200, 220},
                                       .targets.cadence_rpm = {true, 60, 70},
                                       .ramp_to.cadence_rpm = {true, 90, 100}},
                                      cool_down};

    (void)state;
    begin(steps, 2);
    drive_to(&drive, 50000);
    const struct view view = view_now();
    assert_string_equal(view.target.text, "target 150..170 to 200..220 W");
    assert_int_equal(view.power_w.range.low, 150);
    assert_int_equal(view.cadence_rpm.range.high, 85);
    assert_int_equal(view.cadence_rpm.stand, STAND_HIGH); /* 90 rpm */
}

/* As for the share of time in range, and for what is heard. */
static void where_no_power_is_asked_for_cadence_is_judged(void **state)
{
    const struct plan_step steps[] = {{.kind = STEP_WORK,
                                       .duration_ms = 60000,
                                       .targets.level_tenths = {true, 80, 100},
                                       .targets.cadence_rpm = {true, 95, 110}},
                                      cool_down};
    static struct canvas canvas;
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    begin(steps, 2);
    drive_to(&drive, 10000);
    const struct view view = view_now(); /* 90 rpm */
    assert_true(view.by_cadence);
    assert_string_equal(view.target.text, "level 8.0..10.0, cadence 95..110 rpm");
    canvas_clear(&canvas, 80, 24, false);
    ride_layout(&view, &canvas);
    int row = 0;
    for (text[0] = '\0'; row < 24 && strstr(text, " rpm low") == NULL; row++)
        canvas_row_text(&canvas, row, text, sizeof text);
    assert_non_null(strstr(text, "\xE2\x96\xB2 5 rpm low"));
    canvas_row_text(&canvas, row - 3, text, sizeof text);
    assert_non_null(strstr(text, "  95 \xE2\x96\x88"));
    assert_non_null(strstr(text, "\x88 110"));
    drive_key(&drive, KEY_HOLD);
    assert_false(view_now().by_cadence);
}

/* It has told one before the first work, or none at all. */
static void where_nothing_measures_power_cadence_is_judged(void **state)
{
    (void)state;
    for (int before_w = 0; before_w <= 100; before_w += 100) {
        drive_init(&drive);
        drive.ride.setup.is_watched = true;
        drive.power_w = before_w;
        drive_to(&drive, 2750);
        assert_string_equal(view_now().large_unit, "W");
        drive_to(&drive, WORK_1_MS);
        drive.ride.setup.plan.steps[1].targets.cadence_rpm = (struct target_range){true, 95, 110};
        drive.power_w = 0;
        drive_for(&drive, 9000);
        struct view view = view_now();
        if (before_w > 0) {
            assert_string_equal(view.large_unit, "W");
            assert_int_equal(view.large.stand, STAND_LOW);
            assert_null(strstr(view.so_far.text, "no power is told"));
        }
        drive_for(&drive, 2000);
        view = view_now();
        assert_string_equal(view.large_unit, "rpm");
        assert_int_equal(view.large.value, 90);
        assert_int_equal(view.large.stand, STAND_LOW);
        assert_true(view.by_cadence);
        assert_false(view.power_w.known);
        assert_string_equal(view.target.text, "target 190..210 W, cadence 95..110 rpm");
        assert_memory_equal(view.so_far.text, "no power is told   work ", 24);
        assert_null(strstr(view.so_far.text, "in range"));
        drive.power_w = 200;
        drive_for(&drive, 250);
        assert_string_equal(view_now().large_unit, "W");
    }
}

static void work_shows_what_is_left_of_it(void **state)
{
    const struct plan_step steps[] = {
        {.kind = STEP_WORK,
         .duration_ms = 90000,
         .targets.level_tenths = {true, 45, 60},
         .targets.effort = {true, 5, 7},
         .end = {UNTIL_WORK, 12000},
         .cue_text = "Stay seated"},
        {.kind = STEP_REST,
         .duration_ms = 60000,
         .targets.power_w = {true, 60, 80},
         .end = {UNTIL_DISTANCE, 300}},
        {.kind = STEP_REST, .duration_ms = 60000, .end = {UNTIL_HEART, 120}},
        cool_down};

    (void)state;
    begin(steps, 4);
    drive.power_w = 200;
    drive_to(&drive, 30000);
    struct view view = view_now();
    assert_string_equal(view.advice.text, "Stay seated");
    /* 6 kJ at 200 W, but for the quarter of a second before the first reading. */
    assert_string_equal(view.target.text, "level 4.5..6.0, effort 5..7 of 10, 6.1 kJ left");
    assert_int_equal(view.countdown_s, 60);
    assert_string_equal(view.next.text, "then rest 1:00 at most, until 300 m, 60..80 W");
    drive_key(&drive, KEY_SKIP);
    assert_string_equal(view_left(&drive.ride).text, "300 m left");
    drive_key(&drive, KEY_SKIP);
    view = view_now();
    assert_string_equal(view.target.text, "until 120 bpm");
    assert_string_equal(view_duration(&steps[2]).text, "1:00 at most, until 120 bpm");
    drive_key(&drive, KEY_SKIP);
    assert_string_equal(view_left(&drive.ride).text, "");
}

static void the_floor_shows_its_repetitions(void **state)
{
    static struct canvas canvas;
    char text[CANVAS_ROW_TEXT_MAX];
    const struct plan_step steps[] = {
        {.kind = STEP_FLOOR, .duration_ms = 32000, .reps = {8, 3010}, .cue_text = "Squats"},
        {.kind = STEP_WORK, .duration_ms = 60000},
        cool_down,
    };

    (void)state;
    canvas_clear(&canvas, 60, 2, false);
    begin(steps, 3);
    drive.t_ms = 1000;
    drive.is_silent = true;
    drive_for(&drive, 4000);
    struct view view = view_now();
    assert_string_equal(view.heading.text, "FLOOR");
    assert_string_equal(view.next.text, "first floor 0:32, 8 x 3010");
    assert_string_equal(view.large_unit, "");
    assert_int_equal(view.countdown_s, 7);
    drive_for(&drive, 6000 + 5500);
    view = view_now();
    assert_string_equal(view.heading.text, "FLOOR");
    assert_string_equal(view.advice.text, "Squats");
    assert_string_equal(view.target.text, "repetition 2 of 8: lower 2 of 3 s");
    assert_int_equal(view.large.value, 2);
    assert_string_equal(view.large_unit, "rep");
    ride_layout(&view, &canvas);
    canvas_row_text(&canvas, 0, text, sizeof text);
    assert_memory_equal(text, "2 rep s leave  ", 15);
    assert_string_equal(view.next.text, "then work 1:00");
    assert_int_equal(view.plan_ms, 120000);
    assert_int_equal(view.plan_at_ms, 0);
    drive_key(&drive, KEY_HOLD);
    view = view_now();
    assert_string_equal(view.heading.text, "HELD in floor");
    assert_string_equal(view.keys[1].does, "go on");
    assert_string_equal(view.advice.text, "Held, load off. Space goes on, within 2 minutes.");
    drive_key(&drive, KEY_HOLD);
    assert_string_equal(view_now().keys[1].does, "hold");
    drive_key(&drive, KEY_SKIP);
    assert_string_equal(view_now().next.text, "first work 1:00");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ramp_shows_where_it_is_and_leads),
        cmocka_unit_test(where_no_power_is_asked_for_cadence_is_judged),
        cmocka_unit_test(where_nothing_measures_power_cadence_is_judged),
        cmocka_unit_test(work_shows_what_is_left_of_it),
        cmocka_unit_test(the_floor_shows_its_repetitions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
