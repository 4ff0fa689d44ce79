/* What a ride shows in each phase: numbers, words, keys. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ride/mark.h"
#include "support/screens.h"
#include "ui/screens.h"

static struct drive drive;

static struct view view_with(const struct screen_hands *hands)
{
    struct view view;
    view_set(&drive.ride, &screens_facts, hands, &view);
    return view;
}

static struct view view_now(void)
{
    return view_with(&screens_no_hands);
}

static struct view view_at(const char *moment)
{
    screens_init(&drive);
    screens_ride_to(&drive, moment);
    return view_now();
}

static void assert_keys(const struct view *view, const char *expected)
{
    char keys[128] = "";

    for (uint32_t i = 0; i < view->key_count; i++) {
        strcat(keys, view->keys[i].key);
        strcat(keys, "=");
        strcat(keys, view->keys[i].does);
        strcat(keys, " ");
    }
    assert_string_equal(keys, expected);
}

/* ---- phases ---- */

static void test_connecting(void **state)
{
    (void)state;
    screens_init(&drive);
    const struct view view = view_now();
    assert_string_equal(view.heading.text, "CONNECTING");
    assert_false(view.power_w.known || view.cadence_rpm.known || view.heart_bpm.known);
    assert_false(view.counts_down);
    assert_string_equal(view.trouble.text, "");
    assert_string_equal(view.so_far.text, "bike virtual   load limit 800 W at most");
    assert_keys(&view, "s=leave + -=load m=mute ");
}

static void test_ready(void **state)
{
    (void)state;
    const struct view view = view_at("ready");
    assert_string_equal(view.heading.text, "READY");
    assert_string_equal(view.advice.text, "The bike is ready. Pedal to start.");
    assert_string_equal(view.next.text, "first warm-up 1:00, 80..110 W");
    assert_int_equal(view.heart_bpm.value, 96);
    assert_int_equal(view.heart_limit_bpm, 175);
    assert_int_equal(view.power_w.stand, STAND_UNKNOWN);
    assert_int_equal(view.plan_ms, 480000);
    assert_int_equal(view.whole_ms, 480000);
}

static void test_count_in(void **state)
{
    (void)state;
    (void)view_at("ready");
    drive.power_w = 90;
    drive.cadence_rpm = 80;
    drive_for(&drive, 250);
    assert_int_equal(view_now().phase, PHASE_COUNT_IN);
    assert_int_equal(view_now().countdown_s, 3);
    drive_for(&drive, 1000);
    const struct view view = view_now();
    assert_int_equal(view.countdown_s, 2);
    assert_string_equal(view.countdown_of, "to the start");
}

/* Times from the plan: 60 s, then 20 and 10 s in turns. */
static void test_work(void **state)
{
    (void)state;
    const struct view view = view_at("work");
    assert_string_equal(view.heading.text, "WORK 3 OF 8");
    assert_string_equal(view.advice.text, "");
    assert_string_equal(view.next.text, "then rest 3 of 8 0:10, 60..100 W");
    assert_string_equal(view.target.text, "target 234..262 W");
    assert_int_equal(view.power_w.value, 222);
    assert_int_equal(view.power_w.stand, STAND_LOW);
    assert_int_equal(view.cadence_rpm.stand, STAND_IN_RANGE);
    assert_int_equal(view.heart_bpm.stand, STAND_UNKNOWN);
    assert_true(view.counts_down);
    assert_int_equal(view.countdown_s, 10);
    assert_int_equal(view.block_ms, 130000);
    assert_int_equal(view.plan_at_ms, 130000);
    assert_keys(&view, "s=stop space=hold + -=load n n=next step m=mute ");
}

static void test_last_step(void **state)
{
    (void)state;
    (void)view_at("work");
    for (int i = 0; i < 12; i++)
        drive_key(&drive, KEY_SKIP);
    const struct view view = view_now();
    assert_string_equal(view.heading.text, "COOL-DOWN");
    assert_string_equal(view.next.text, "then the end");
    assert_int_equal(view.plan_at_ms, 300000);
    assert_int_equal(view.block_ms, 130000);
    /* What was skipped is not ridden any more: the cool-down of 180 s is all that is left. */
    assert_int_equal(view.whole_ms, 310000);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(view_now().phase, PHASE_EASY);
    assert_int_equal(view_now().whole_ms, 0);
}

/* Nothing is asked of the legs while it is held. */
static void test_held(void **state)
{
    (void)state;
    struct view view = view_at("held");
    assert_string_equal(view.heading.text, "HELD in work 3 of 8");
    assert_string_equal(view.advice.text, "Held, load off. Space goes on, within 2 minutes.");
    assert_int_equal(view.power_w.stand, STAND_UNKNOWN);
    assert_false(view.power_w.range.set);
    assert_int_equal(view.countdown_s, 112);
    assert_keys(&view, "s=stop space=go on + -=load m=mute ");

    /* One that ends by itself has no key to go on. */
    drive_key(&drive, KEY_HOLD);
    drive.is_silent = true;
    drive_for(&drive, 4000);
    view = view_now();
    assert_int_equal(view.phase, PHASE_HELD);
    assert_keys(&view, "s=stop + -=load m=mute ");
    assert_false(view.power_w.known);
}

/* The heart was at 151 when the work ended. */
static void test_recovery_counts_while_nothing_is_asked(void **state)
{
    (void)state;
    screens_init(&drive);
    drive.ride.setup.counts_recovery = true;
    screens_ride_to(&drive, "work");
    drive_key(&drive, KEY_STOP);
    drive.strap_bpm = 140;
    drive_for(&drive, 10000);
    assert_string_equal(view_now().aside.text,
                        "Heart down by 11 bpm since the work, 50 s to count.");
    drive.strap_bpm = 154;
    drive_for(&drive, 5000);
    assert_string_equal(view_now().aside.text, "Heart up by 3 bpm since the work, 45 s to count.");
    drive_for(&drive, 45000);
    assert_string_equal(view_now().aside.text, "");
}

/* An earlier block of 150 W throughout runs beside this one. */
static void test_how_the_mark_stands(void **state)
{
    static struct mark_curve curve;
    struct ride_facts facts = screens_facts;
    struct view view;

    (void)state;
    screens_init(&drive);
    screens_ride_to(&drive, "work");
    memset(&curve, 0, sizeof curve);
    for (uint32_t second = 0; second <= 480; second++)
        curve.work_j[second] = (int32_t)(second * 150);
    curve.seconds = 480;
    curve.before_ms = 60000;
    curve.length_ms = 240000;
    curve.end = (struct mark_point){480000, 72000, 4000};
    const struct mark mark = mark_of(&curve, MARK_WORK, &drive.ride.setup.plan, 0, 3.0);
    facts.mark = &mark;
    view_set(&drive.ride, &facts, &screens_no_hands, &view);
    struct summary so_far = {0};
    totals_summary(&drive.ride.totals, &so_far);
    /* 130 s at 150 W are 19.5 kJ. */
    char expected[64];
    (void)snprintf(expected, sizeof expected, "%.1f kJ ahead of the mark, ",
                   (double)(so_far.work_j - 19500) / 1000);
    assert_memory_equal(view.aside.text, expected, strlen(expected));
    drive_key(&drive, KEY_STOP);
    view_set(&drive.ride, &facts, &screens_no_hands, &view);
    assert_string_equal(view.aside.text, "");
}

/* Pedals that read 10 % above the bike, and such that read 2 % above it: of which nobody hears. */
static void test_two_sources_far_apart(void **state)
{
    (void)state;
    for (int told_pct = 102; told_pct <= 110; told_pct += 8) {
        drive_init(&drive);
        drive.ride.setup.tells_sources = true;
        drive.power_w = 200;
        drive.sensor_w = 200 * told_pct / 100;
        drive_to(&drive, 50000);
        assert_string_equal(view_now().aside.text, ""); /* not yet known */
        drive_to(&drive, 80000);
        assert_string_equal(
            view_now().aside.text,
            told_pct == 110 ? "The power sensor reads 10.0 % above the bike (+- 0.1)." : "");
    }
}

/* 205 W and 12.5 kJ, invented; what comes of them is body/reserve's business. */
static void test_reserve_as_an_estimate(void **state)
{
    struct ride_facts facts = screens_facts;
    struct view view;

    (void)state;
    screens_init(&drive);
    screens_ride_to(&drive, "work");
    assert_null(strstr(view_now().so_far.text, "reserve"));
    facts.reserve = &drive.reserve;
    view_set(&drive.ride, &facts, &screens_no_hands, &view);
    assert_non_null(strstr(view.so_far.text, " m   reserve about 77 % +- 11"));
    drive.reserve.reserve.balance_j = -3000;
    assert_string_equal(view_reserve(&drive.reserve).text, "about 0 % +- 29");
    drive.reserve.reserve.balance_j = 12500;
    assert_string_equal(view_reserve(&drive.reserve).text, "full");
}

static void test_stopped(void **state)
{
    (void)state;
    (void)view_at("work");
    drive_key(&drive, KEY_STOP);
    const struct view view = view_now();
    assert_string_equal(view.heading.text, "RIDING OUT");
    assert_int_equal(view.cut_off, CUT_OFF_NONE);
    assert_int_equal(view.cautions[0], CAUTION_KEEP_TURNING);
    assert_string_equal(view.next.text, "");
    assert_string_equal(view.target.text, "");
    assert_keys(&view, "s=leave m=mute ");
}

/* ---- trouble ---- */

static void test_trouble(void **state)
{
    (void)state;
    assert_string_equal(view_at("work").trouble.text, "");
    drive.is_silent = true;
    drive_for(&drive, 1750);
    assert_string_equal(view_now().trouble.text, "");
    drive_for(&drive, 500);
    assert_string_equal(view_now().trouble.text, "No readings from the bike for 2 s.");
    drive_link(&drive, false);
    drive_for(&drive, 5000);
    assert_string_equal(view_now().trouble.text, "No link to the bike for 5 s.");
    drive_link(&drive, true);
    drive_for(&drive, 1000);
    assert_string_equal(view_now().trouble.text, "Link back, no readings yet; lost for 6 s.");
}

/* In work there is then rest load, which is no reason to be told that power is low. */
static void test_strap_lost_is_told_as_long_as_it_lasts(void **state)
{
    struct view view = view_at("strap-lost");

    (void)state;
    assert_int_equal(view.cautions[0], CAUTION_STRAP_LOST);
    assert_string_equal(view.trouble.text, "");
    assert_int_equal(view.power_w.stand, STAND_UNKNOWN);
    assert_false(view.power_w.range.set || view.by_cadence);
    assert_string_equal(view.target.text, "rest load");

    const struct screen_hands hands = {.woken_t_ms = drive.ride.t_ms};
    drive_for(&drive, 250);
    view = view_with(&hands);
    assert_int_equal(view.caution_count, 0);
    assert_string_equal(view.trouble.text, "No heart rate any more. Rest load until it is back.");
    drive.has_strap = true;
    drive_for(&drive, 1000);
    view = view_with(&hands);
    assert_string_equal(view.trouble.text, "");
    assert_int_equal(view.power_w.stand, STAND_LOW);
    assert_string_equal(view.target.text, "target 234..262 W");
}

/* The plan's watts would contradict the line that says to ease it. */
static void test_strap_lost_asks_nothing_of_a_knob(void **state)
{
    (void)state;
    assert_string_equal(view_at("by-hand-strap-lost").target.text, "knob at 8?");
}

static void test_strap_lost_leaves_the_cadence_asked(void **state)
{
    struct plan_step *step;

    (void)state;
    (void)view_at("strap-lost");
    step = &drive.ride.setup.plan.steps[drive.ride.step];
    step->targets.level_tenths = (struct target_range){true, 80, 90};
    step->targets.effort = (struct target_range){true, 7, 8};
    assert_string_equal(view_now().target.text, "rest load");
    step->targets.power_w = (struct target_range){0};
    assert_string_equal(view_now().target.text, "rest load, cadence 85..110 rpm");
    step->targets.level_tenths = (struct target_range){0}; /* no load at all */
    assert_string_equal(view_now().target.text, "cadence 85..110 rpm");
}

/* ---- levels ---- */

/* As the machine took it: one that is on its way is not told yet, and none while it is released. */
static void test_level_as_it_is_set(void **state)
{
    static const char target[] = "target 234..262 W, set to level ";
    struct view view = view_at("by-levels-work");

    (void)state;
    assert_memory_equal(view.target.text, target, strlen(target));
    assert_int_equal(drive.load.kind, LOAD_LEVEL);
    assert_int_equal(strtod(view.target.text + strlen(target), NULL) * 10, drive.load.value);
    const struct view before = view;
    drive.is_mute = true;
    drive.power_w = 90;
    const int32_t taken = drive.load.value;
    for (int i = 0; i < 40 && drive.load.value == taken; i++)
        drive_for(&drive, 250);
    assert_int_not_equal(drive.load.value, taken);
    view = view_now();
    assert_string_equal(view.target.text, before.target.text);

    view = view_at("by-levels-held");
    assert_string_equal(view.target.text, "target 234..262 W");
}

/* ---- hands ---- */

/* Legs that have not begun, or a bike that says nothing to legs that have. */
static void test_ready_and_silent(void **state)
{
    static const char told[] =
        "No readings from the bike. If you are pedalling, switch it off and on.";
    (void)state;
    screens_init(&drive);
    screens_ride_to(&drive, "ready");
    drive.is_silent = true;
    drive_for(&drive, 9750);
    assert_string_equal(view_now().trouble.text, "");
    drive_for(&drive, 250);
    assert_int_equal(drive.ride.phase, PHASE_READY);
    assert_string_equal(view_now().trouble.text, told);
    assert_true(strlen(told) <= 76); /* all of it at 80 columns */
    drive_for(&drive, 60000);
    assert_string_equal(view_now().trouble.text, told);
    drive.is_silent = false;
    drive.cadence_rpm = 0;
    drive_for(&drive, 250);
    assert_int_equal(drive.ride.phase, PHASE_READY);
    assert_string_equal(view_now().trouble.text, "");
}

static void put_plain(void *user, const char *text, size_t length)
{
    strncat(user, text, length);
}

static void test_plain_lines_tell_of_silence_once(void **state)
{
    (void)state;
    static char plain[512];
    struct screen screen;
    screen_plain(&screen, (struct sink){.put = put_plain, .user = plain});
    screens_init(&drive);
    screens_ride_to(&drive, "ready");
    drive.is_silent = true;
    for (unsigned i = 0; i < 60; i++) {
        drive_for(&drive, 1000);
        screen.operations->second(&screen, &drive.ride);
    }
    assert_string_equal(plain,
                        "No readings from the bike. If you are pedalling, switch it off and on.\n");
}

static void test_caution_is_woken_away(void **state)
{
    (void)state;
    (void)view_at("work");
    drive.strap_bpm = 171; /* five beats below the limit it is near */
    drive_for(&drive, 6000);
    struct view view = view_now();
    assert_int_equal(view.caution_count, 1);
    assert_int_equal(view.cautions[0], CAUTION_HEART_NEAR);

    const struct screen_hands hands = {.woken_t_ms = drive.ride.t_ms};
    assert_int_equal(view_with(&hands).caution_count, 0);
    /* One that comes later is shown. */
    drive_key(&drive, KEY_STOP);
    view = view_with(&hands);
    assert_int_equal(view.caution_count, 1);
    assert_int_equal(view.cautions[0], CAUTION_KEEP_TURNING);
}

static void test_caution_goes_by_itself(void **state)
{
    (void)state;
    (void)view_at("work");
    drive_key(&drive, KEY_STOP);
    drive_for(&drive, VIEW_CAUTION_MS - 250);
    assert_int_equal(view_now().caution_count, 1);
    drive_for(&drive, 250);
    assert_int_equal(view_now().caution_count, 0);
}

/* Only its own acknowledgement puts a cut-off away; no time and no other key does. */
static void test_cut_off_stays(void **state)
{
    (void)state;
    struct view view = view_at("cut-off");
    assert_int_equal(view.cut_off, CUT_OFF_HEART);
    assert_keys(&view, "s=leave Enter=seen m=mute ");
    drive_for(&drive, 60000);
    const struct screen_hands awake = {.woken_t_ms = drive.ride.t_ms};
    assert_int_equal(view_with(&awake).cut_off, CUT_OFF_HEART);
    const struct screen_hands seen = {.saw_cut_off = true};
    view = view_with(&seen);
    assert_int_equal(view.cut_off, CUT_OFF_NONE);
    assert_keys(&view, "s=leave m=mute ");
}

static void test_shift_and_mute(void **state)
{
    (void)state;
    assert_non_null(strstr(view_at("work").so_far.text, "   in range "));
    drive_key(&drive, KEY_MORE);
    const struct screen_hands hands = {.is_muted = true, .asks_to_skip = true};
    const struct view view = view_with(&hands);
    assert_string_equal(view.target.text, "target 238..267 W, load +2 %");
    assert_int_equal(view.power_w.range.low, 238);
    assert_string_equal(view.next.text, "then rest 3 of 8 0:10, 61..102 W");
    assert_non_null(strstr(view.so_far.text, "   plan's range "));
    assert_true(view.is_muted);
    assert_true(view.asks_to_skip);
    assert_keys(&view, "s=stop space=hold + -=load n n=next step m=sound ");
}

static void test_shift_before_the_start_and_after_the_end(void **state)
{
    (void)state;
    (void)view_at("ready");
    drive_key(&drive, KEY_MORE);
    assert_string_equal(view_now().target.text, "load +2 %");
    assert_string_equal(view_now().next.text, "first warm-up 1:00, 81..112 W");
    (void)view_at("work");
    drive_key(&drive, KEY_MORE);
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.ride.phase, PHASE_EASY);
    assert_string_equal(view_now().target.text, ""); /* there is no load */
}

static void test_held_for_too_long_is_held_no_more(void **state)
{
    (void)state;
    (void)view_at("held");
    drive.is_mute = true; /* so that leaving takes its time */
    drive_for(&drive, 113000);
    assert_int_equal(drive.ride.phase, PHASE_LEAVING);
    assert_string_equal(view_now().heading.text, "LEAVING");
    assert_string_equal(view_now().advice.text, "Waiting until the bike has let go.");
}

static void test_stand(void **state)
{
    static const struct {
        bool known;
        int32_t value;
        struct target_range range;
        enum stand stand;
    } table[] = {
        {false, 100, {true, 90, 110}, STAND_UNKNOWN}, {true, 100, {false, 0, 0}, STAND_UNKNOWN},
        {true, 89, {true, 90, 110}, STAND_LOW},       {true, 90, {true, 90, 110}, STAND_IN_RANGE},
        {true, 110, {true, 90, 110}, STAND_IN_RANGE}, {true, 111, {true, 90, 110}, STAND_HIGH},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        assert_int_equal(stand_of(table[i].known, table[i].value, &table[i].range), table[i].stand);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_connecting),
        cmocka_unit_test(test_ready),
        cmocka_unit_test(test_count_in),
        cmocka_unit_test(test_work),
        cmocka_unit_test(test_last_step),
        cmocka_unit_test(test_held),
        cmocka_unit_test(test_recovery_counts_while_nothing_is_asked),
        cmocka_unit_test(test_how_the_mark_stands),
        cmocka_unit_test(test_two_sources_far_apart),
        cmocka_unit_test(test_reserve_as_an_estimate),
        cmocka_unit_test(test_stopped),
        cmocka_unit_test(test_trouble),
        cmocka_unit_test(test_strap_lost_is_told_as_long_as_it_lasts),
        cmocka_unit_test(test_strap_lost_asks_nothing_of_a_knob),
        cmocka_unit_test(test_strap_lost_leaves_the_cadence_asked),
        cmocka_unit_test(test_level_as_it_is_set),
        cmocka_unit_test(test_ready_and_silent),
        cmocka_unit_test(test_plain_lines_tell_of_silence_once),
        cmocka_unit_test(test_caution_is_woken_away),
        cmocka_unit_test(test_caution_goes_by_itself),
        cmocka_unit_test(test_cut_off_stays),
        cmocka_unit_test(test_shift_and_mute),
        cmocka_unit_test(test_shift_before_the_start_and_after_the_end),
        cmocka_unit_test(test_held_for_too_long_is_held_no_more),
        cmocka_unit_test(test_stand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
