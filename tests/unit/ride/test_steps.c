/* What steps of a ride can do besides taking their time: lead from one target to another, end with
 * work, distance or a heart that has fallen, and be done off the bike. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/drive.h"
#include "support/ears.h"

static struct drive drive;

static void begin(const struct plan_step *steps, size_t count)
{
    struct ride_setup setup = {.plan.title = "test", .plan.step_count = count};

    memcpy(setup.plan.steps, steps, count * sizeof *steps);
    drive_init(&drive);
    ride_init(&drive.ride, &setup);
}
#define BEGIN(...)                                 \
    begin((const struct plan_step[]){__VA_ARGS__}, \
          sizeof((const struct plan_step[]){__VA_ARGS__}) / sizeof(struct plan_step))

#define STEP(KIND, SECONDS, ...)                                        \
    {                                                                   \
        .kind = STEP_##KIND, .duration_ms = SECONDS * 1000, __VA_ARGS__ \
    }
#define POWER(LOW, HIGH) .targets.power_w = {true, LOW, HIGH}

/* ---- ramps ---- */

static void a_ramp_leads_evenly_from_one_range_to_the_other(void **state)
{
    (void)state;
    BEGIN(STEP(WARM_UP, 100, POWER(90, 110), .ramp_to.power_w = {true, 190, 230}),
          STEP(WORK, 60, POWER(200, 200)));
    for (uint32_t at_s = 10; at_s < 100; at_s += 10) {
        drive_to(&drive, at_s * 1000);
        const struct step_targets targets = ride_targets(&drive.ride);
        assert_int_equal(targets.power_w.low, 90 + at_s);
        assert_int_equal(targets.power_w.high, 110 + at_s * 12 / 10);
        drive_for(&drive, 750); /* nothing new within the second */
        assert_int_equal(ride_targets(&drive.ride).power_w.low, targets.power_w.low);
        assert_int_equal(drive.load.value, (90 + at_s + 110 + at_s * 12 / 10) / 2);
    }
    drive_to(&drive, 101000);
    assert_int_equal(drive.ride.step, 1);
}

static void a_load_that_falls_along_a_ramp_is_sent_once_a_second(void **state)
{
    (void)state;
    BEGIN(STEP(WORK, 30, POWER(200, 200)),
          STEP(COOL_DOWN, 60, POWER(200, 200), .ramp_to.power_w = {true, 80, 80}));
    drive_to(&drive, 31000);
    const unsigned before = drive.commands[COMMAND_LOAD];
    drive_for(&drive, 50000);
    assert_in_range(drive.commands[COMMAND_LOAD] - before, 45, 51);
    assert_in_range(drive.load.value, 96, 100); /* 51 s at 2 W a second below 200 W */
}

static void in_range_is_judged_by_the_second_of_the_ramp(void **state)
{
    (void)state;
    BEGIN(STEP(WORK, 60, POWER(90, 110), .ramp_to.power_w = {true, 210, 230}),
          STEP(COOL_DOWN, 60, POWER(50, 60)));
    drive_to(&drive, 1000);
    while (drive.ride.step == 0) {
        drive.power_w = 100 + (int32_t)drive.ride.step_ms / 500;
        drive_for(&drive, TICK_MS);
    }
    assert_int_equal(drive.ride.totals.work_s, 60);
    assert_true(drive.ride.totals.in_range_s >= 59);
}

/* ---- ends ---- */

#define WORK_END(KJ_TENTHS) .end = {UNTIL_WORK, KJ_TENTHS * 100}

static void work_ends_with_its_joules(void **state)
{
    (void)state;
    BEGIN(STEP(WORK, 60, POWER(200, 200), WORK_END(60)), STEP(REST, 30, POWER(80, 80)),
          STEP(COOL_DOWN, 60, POWER(50, 50)));
    drive.power_w = 200;
    drive_to(&drive, 20000); /* 6 kJ at 200 W take 30 s */
    assert_in_range(ride_left_to_end(&drive.ride), 1900, 2100);
    drive_to(&drive, 29500);
    assert_int_equal(drive.ride.step, 0);
    drive_to(&drive, 30500);
    assert_int_equal(drive.ride.step, 1);
    assert_int_equal(ride_left_to_end(&drive.ride), 0);
}

static void no_work_no_end_before_the_time(void **state)
{
    (void)state;
    BEGIN(STEP(WORK, 60, POWER(200, 200), WORK_END(60)), STEP(COOL_DOWN, 60, POWER(50, 50)));
    drive.power_w = 50;
    drive_to(&drive, 59750);
    assert_int_equal(drive.ride.step, 0);
    drive_to(&drive, 60250);
    assert_int_equal(drive.ride.step, 1);
}

static void a_distance_is_counted_from_the_beginning_of_the_step(void **state)
{
    int32_t distance_m = 12345;

    (void)state;
    BEGIN(STEP(WORK, 20, POWER(200, 200)),
          STEP(WORK, 60, POWER(200, 200), .end = {UNTIL_DISTANCE, 100}),
          STEP(COOL_DOWN, 60, POWER(50, 50)));
    drive_to(&drive, 250);
    while (drive.ride.step < 2 && drive.ride.block_ms < 70000) {
        struct event data = {.t_ms = drive.t_ms, .kind = EVENT_TELEMETRY};
        data.telemetry =
            (struct telemetry){HAS_POWER | HAS_CADENCE | HAS_DISTANCE, 200, 90, distance_m += 2, 0};
        drive_event(&drive, &data);
        drive_for(&drive, TICK_MS); /* 8 m/s */
    }
    assert_in_range(drive.ride.block_ms, 20000 + 12000, 20000 + 13000);
}

#define UNTIL_BPM(BPM) .end = {UNTIL_HEART, BPM}

static void begin_rest_until_120(int32_t strap_bpm)
{
    BEGIN(STEP(WORK, 30, POWER(200, 200)), STEP(REST, 90, POWER(80, 80), UNTIL_BPM(120)),
          STEP(WORK, 30, POWER(200, 200)));
    drive.has_strap = true;
    drive.strap_bpm = strap_bpm;
    drive_to(&drive, 31000);
    assert_int_equal(drive.ride.step, 1);
}

/* The median of five seconds is at 120 two to three seconds after the readings are; then three are
 * counted. */
static void rest_ends_when_the_heart_has_fallen(void **state)
{
    (void)state;
    begin_rest_until_120(150);
    drive_to(&drive, 50000);
    assert_int_equal(drive.ride.step, 1);
    while (drive.strap_bpm > 118) { /* no faster than a heart can */
        drive.strap_bpm -= 4;
        drive_for(&drive, 1000);
    }
    const uint32_t fallen_ms = drive.ride.block_ms;
    while (drive.ride.step == 1)
        drive_for(&drive, TICK_MS);
    assert_in_range(drive.ride.block_ms - fallen_ms, 4500, 7000);
}

static void a_heart_that_is_low_already_is_looked_at_first(void **state)
{
    (void)state;
    begin_rest_until_120(100);
    drive_to(&drive, 30000 + 7750);
    assert_int_equal(drive.ride.step, 1);
    drive_to(&drive, 30000 + 8500);
    assert_int_equal(drive.ride.step, 2);
}

static void a_heart_that_stays_up_has_the_longest_time_and_no_more(void **state)
{
    (void)state;
    begin_rest_until_120(150);
    drive_to(&drive, 119750);
    assert_int_equal(drive.ride.step, 1);
    drive_to(&drive, 120250);
    assert_int_equal(drive.ride.step, 2);
}

/* With a high reading before, or a low one that has grown too old to say anything. */
static void a_strap_that_falls_silent_changes_nothing_of_the_longest_time(void **state)
{
    static const int32_t last_bpm[] = {150, 122};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        begin_rest_until_120(last_bpm[i]);
        drive_to(&drive, 33000);
        drive.has_strap = false;
        drive_to(&drive, 119750);
        assert_int_equal(drive.ride.step, 1);
        drive_to(&drive, 120250);
        assert_int_equal(drive.ride.step, 2);
    }
}

/* Skipped off the floor while that stands: what the ride is held by does not come along. */
static void a_hold_on_the_floor_stays_there(void **state)
{
    (void)state;
    BEGIN(STEP(FLOOR, 30, .cue_text = "Plank"), STEP(WORK, 60, POWER(200, 200)),
          STEP(REST, 60, POWER(80, 80)));
    drive_key(&drive, KEY_SKIP);
    drive_key(&drive, KEY_HOLD);
    assert_int_equal(drive.hold, HOLD_RIDER);
    drive_key(&drive, KEY_SKIP);
    assert_int_not_equal(drive.ride.phase, PHASE_FLOOR);
    assert_int_equal(drive.hold, HOLD_NONE);
    assert_int_equal(drive.ride.hold, HOLD_NONE);
}

/* A sensor that gave the same 100 through two minutes in which the power doubled (ride/watch.h)
 * says nothing of how far the heart has fallen. */
static void a_heart_that_is_frozen_does_not_end_a_rest(void **state)
{
    (void)state;
    BEGIN(STEP(WORK, 150, POWER(200, 200)), STEP(REST, 90, POWER(80, 80), UNTIL_BPM(120)),
          STEP(WORK, 30, POWER(200, 200)));
    drive.ride.setup.is_watched = true;
    drive.has_strap = true;
    drive.strap_bpm = 100;
    drive_to(&drive, 60000);
    drive.power_w = 220;
    drive_to(&drive, 239750);
    assert_int_equal(drive.cautions[CAUTION_HEART_FROZEN], 1);
    assert_int_equal(drive.ride.step, 1);
    drive_to(&drive, 240250);
    assert_int_equal(drive.ride.step, 2);
}

/* The clock of the step stands while it is held, whatever the heart does. */
static void a_hold_ends_no_step(void **state)
{
    (void)state;
    begin_rest_until_120(150);
    drive_key(&drive, KEY_HOLD);
    drive.strap_bpm = 122;
    drive_for(&drive, 10000);
    drive.strap_bpm = 118;
    drive_for(&drive, 10000);
    assert_int_equal(drive.ride.step, 1);
    drive_key(&drive, KEY_HOLD);
    drive_for(&drive, 8500);
    assert_int_equal(drive.ride.step, 2);
}

/* ---- off the bike ---- */

static void tell_of_link(bool up)
{
    drive_link(&drive, up);
    if (up)
        drive_event(&drive, &(struct event){.kind = EVENT_MACHINE, .machine.takes_power = true});
}

static void begin_floor(void)
{
    BEGIN(STEP(FLOOR, 32, .reps = {8, 3010}), STEP(FLOOR, 40, .cue_text = "Plank"),
          STEP(WARM_UP, 30, POWER(100, 100)), STEP(WORK, 60, POWER(200, 200)));
    drive.is_silent = true;
    drive.t_ms = 1000;
    drive_for(&drive, TICK_MS);
}

static void pass_floor(uint32_t ms)
{
    drive_for(&drive, ms);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

static void the_floor_needs_no_bike_and_has_no_load(void **state)
{
    (void)state;
    begin_floor();
    assert_int_equal(drive.ride.phase, PHASE_FLOOR);
    assert_null(ride_current_step(&drive.ride));
    pass_floor(FLOOR_LEAD_MS + 1000);
    assert_int_equal(ride_current_step(&drive.ride)->reps.reps, 8);
    tell_of_link(true);
    assert_int_equal(drive.ride.phase, PHASE_FLOOR);
    pass_floor(32000);
    assert_int_equal(drive.ride.step, 1);
    pass_floor(40000);
    assert_int_equal(drive.ride.phase, PHASE_READY);
    assert_int_equal(drive.ride.step, 2);
    assert_int_equal(drive.ride.block_ms, 0);
    drive.is_silent = false;
    drive_to(&drive, 20000);
    assert_int_equal(drive.ride.step, 2);
    assert_in_range(drive.ride.step_ms, 20000, 20250);
    assert_int_equal(drive.load.value, 100);
}

static void without_a_bike_by_then_it_is_waited_for(void **state)
{
    (void)state;
    begin_floor();
    tell_of_link(true);
    tell_of_link(false); /* it fell asleep */
    assert_int_equal(drive.ride.phase, PHASE_FLOOR);
    pass_floor(FLOOR_LEAD_MS + 72000);
    assert_int_equal(drive.ride.phase, PHASE_CONNECTING);
    tell_of_link(true);
    assert_int_equal(drive.ride.phase, PHASE_READY);
    begin_floor();
    pass_floor(FLOOR_LEAD_MS + 72000 + 61000);
    assert_int_equal(drive.ride.phase, PHASE_ENDED);
    assert_int_equal(drive.summary.reason, REASON_NO_MACHINE);
}

static void the_floor_is_held_skipped_and_left_by_key(void **state)
{
    (void)state;
    begin_floor();
    drive_key(&drive, KEY_SKIP); /* the way to the floor */
    assert_non_null(ride_current_step(&drive.ride));
    pass_floor(5000);
    drive_key(&drive, KEY_HOLD);
    pass_floor(60000);
    assert_int_equal(drive.ride.step_ms, 5000);
    assert_true(ride_waits_for_key(&drive.ride));
    drive_key(&drive, KEY_HOLD);
    pass_floor(1000);
    assert_int_equal(drive.ride.step_ms, 6000);
    drive_key(&drive, KEY_SKIP);
    assert_int_equal(drive.ride.step, 1);
    drive_key(&drive, KEY_SKIP);
    assert_int_equal(drive.ride.phase, PHASE_CONNECTING);
    assert_int_equal(drive.ride.skipped, 0); /* of the block on the bike */
    begin_floor();
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.ride.phase, PHASE_ENDED);
    assert_int_equal(drive.summary.reason, REASON_STOP_KEY);
}

static void the_floor_waits_neither_for_ever_nor_through_sleep(void **state)
{
    (void)state;
    begin_floor();
    pass_floor(FLOOR_LEAD_MS + 5000);
    drive.t_ms += 3600000;
    pass_floor(TICK_MS);
    assert_int_equal(drive.ride.hold, HOLD_CLOCK_JUMP);
    assert_int_equal(drive.ride.step, 0);
    pass_floor(121000);
    assert_int_equal(drive.ride.phase, PHASE_ENDED);
    assert_int_equal(drive.summary.reason, REASON_HELD_TOO_LONG);
}

/* ---- repetitions ---- */

static void a_tempo_is_four_digits_of_seconds(void **state)
{
    static const struct {
        uint32_t at_s, rep;
        enum rep_part part;
        uint32_t second, seconds;
    } rows[] = {
        {0, 1, REP_LOWERS, 1, 3}, {2, 1, REP_LOWERS, 3, 3}, {3, 1, REP_LIFTS, 1, 1},
        {4, 2, REP_LOWERS, 1, 3}, {31, 8, REP_LIFTS, 1, 1},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct rep_place place =
            reps_place((struct step_reps){8, 3010}, rows[i].at_s * 1000 + 999);
        assert_int_equal(place.rep, rows[i].rep);
        assert_int_equal(place.part, rows[i].part);
        assert_int_equal(place.second, rows[i].second);
        assert_int_equal(place.seconds, rows[i].seconds);
    }
    assert_int_equal(reps_duration_ms((struct step_reps){8, 3010}), 32000);
    assert_int_equal(reps_duration_ms((struct step_reps){1, 1}), 1000);
    assert_int_equal(reps_duration_ms((struct step_reps){1, 10000}), 0);
    assert_int_equal(reps_place((struct step_reps){1, 1}, 0).part, REP_TOP);
}

/* Two repetitions of 2-1-1-0 s, a hold of 5 s: each second of the first is heard at its time, the
 * last three of the second, and what begins and ends. */
static void the_cues_count_aloud(void **state)
{
    static const struct heard wanted[] = {
        {CUE_COUNT, 7000},  {CUE_COUNT, 8000},  {CUE_COUNT, 9000}, {CUE_LOWER, 10000},
        {CUE_BEAT, 11000},  {CUE_BEAT, 12000},  {CUE_LIFT, 13000}, {CUE_LOWER, 14000},
        {CUE_BEAT, 15000},  {CUE_BEAT, 16000},  {CUE_LIFT, 17000}, {CUE_COUNT, 20000},
        {CUE_COUNT, 21000}, {CUE_COUNT, 22000}, {CUE_EASE, 23000},
    };
    static struct ears ears;
    struct plan plan = {.step_count = 3,
                        .steps = {STEP(FLOOR, 8, .reps = {2, 2110}),
                                  STEP(FLOOR, 5, .cue_text = "Plank"),
                                  STEP(WORK, 60, POWER(200, 200))}};

    (void)state;
    ears_begin(&ears, &plan);
    const uint64_t begin_ms = 1000;
    ears_pass(&ears, 23500);
    assert_int_equal(ears.ride.phase, PHASE_COUNT_IN);
    assert_int_equal(ears.count, sizeof wanted / sizeof wanted[0]);
    for (size_t i = 0; i < ears.count; i++) {
        assert_string_equal(cue_name(ears.heard[i].cue), cue_name(wanted[i].cue));
        assert_int_equal(ears.heard[i].t_ms - begin_ms, wanted[i].t_ms);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ramp_leads_evenly_from_one_range_to_the_other),
        cmocka_unit_test(a_load_that_falls_along_a_ramp_is_sent_once_a_second),
        cmocka_unit_test(in_range_is_judged_by_the_second_of_the_ramp),
        cmocka_unit_test(work_ends_with_its_joules),
        cmocka_unit_test(no_work_no_end_before_the_time),
        cmocka_unit_test(a_distance_is_counted_from_the_beginning_of_the_step),
        cmocka_unit_test(rest_ends_when_the_heart_has_fallen),
        cmocka_unit_test(a_heart_that_is_low_already_is_looked_at_first),
        cmocka_unit_test(a_heart_that_is_frozen_does_not_end_a_rest),
        cmocka_unit_test(a_hold_on_the_floor_stays_there),
        cmocka_unit_test(a_heart_that_stays_up_has_the_longest_time_and_no_more),
        cmocka_unit_test(a_strap_that_falls_silent_changes_nothing_of_the_longest_time),
        cmocka_unit_test(a_hold_ends_no_step),
        cmocka_unit_test(the_floor_needs_no_bike_and_has_no_load),
        cmocka_unit_test(without_a_bike_by_then_it_is_waited_for),
        cmocka_unit_test(the_floor_is_held_skipped_and_left_by_key),
        cmocka_unit_test(the_floor_waits_neither_for_ever_nor_through_sleep),
        cmocka_unit_test(a_tempo_is_four_digits_of_seconds),
        cmocka_unit_test(the_cues_count_aloud),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
