/* A ride in lines of text, one a second: what is told beside the readings. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/screens.h"
#include "ui/screens.h"
#include "ui/words.h"

static struct drive drive;
static struct screen screen;
static char told[1000];

static void put(void *user, const char *text, size_t length)
{
    (void)user;
    strncat(told, text, length);
}

static const char *tell(void)
{
    told[0] = '\0';
    screen.operations->second(&screen, &drive.ride);
    for (char *end = strstr(told, "\n  "); end != NULL; end = strstr(told, "\n  "))
        memmove(end, end + 2, strlen(end + 2) + 1); /* a line that was broken */
    for (char *at = told; *at != '\0'; at++)
        if (*at == '\n')
            *at = ' ';
    return told;
}

static void begin(const char *moment)
{
    screens_init(&drive);
    screens_ride_to(&drive, moment);
    screen_plain(&screen, (struct sink){.put = put});
    screen.facts = &screens_facts;
}

static void a_level_is_told_once(void **state)
{
    char wanted[64];

    (void)state;
    begin("by-levels-work");
    (void)snprintf(wanted, sizeof wanted, ": 222 W (low), level %.1f, 92 rpm, ",
                   drive.load.value / 10.0);
    assert_non_null(strstr(tell(), wanted));
    assert_non_null(strstr(tell(), ": 222 W (low), 92 rpm, "));
    drive_for(&drive, 12000); /* to the rest, which takes another */
    (void)snprintf(wanted, sizeof wanted, ", level %.1f, 92 rpm, ", drive.load.value / 10.0);
    assert_non_null(strstr(tell(), wanted));
    assert_null(strstr(tell(), "level"));
}

static void watts_are_told_without_a_level(void **state)
{
    (void)state;
    begin("work");
    assert_non_null(strstr(tell(), ": 222 W (low), 92 rpm, "));
}

/* 85 to 110 rpm are asked for in work; by the power it is judged first. */
static void legs_that_are_not_as_asked_are_told(void **state)
{
    (void)state;
    begin("work");
    drive.cadence_rpm = 84;
    drive_for(&drive, 250);
    assert_non_null(strstr(tell(), ": 222 W (low), 84 rpm (low), heart 151 bpm, "));
    drive.ride.setup.plan.steps[drive.ride.step].targets.heart_bpm =
        (struct target_range){true, 120, 140};
    assert_non_null(strstr(tell(), ", heart 151 bpm (high), "));
    begin("powerless");
    assert_non_null(strstr(tell(), ": no W, 81 rpm (low), heart 151 bpm, "));
    drive.cadence_rpm = 90;
    drive_for(&drive, 250);
    assert_non_null(strstr(tell(), ": no W, 90 rpm (in range), heart 151 bpm, "));
}

static void a_ride_without_power_claims_no_work(void **state)
{
    struct effect effect = {
        .kind = EFFECT_SUMMARY,
        .summary = {.end = END_DONE, .duration_ms = 480000, .distance_m = 4224, .work_s = 160}};

    (void)state;
    begin("work");
    told[0] = '\0';
    screen.operations->effect(&screen, &drive.ride, &effect);
    assert_non_null(strstr(told, "\n8:00 ridden, 4224 m; nothing told the power.\nSaved as "));
    effect.summary.in_range_s = 90; /* by the cadence */
    screen.operations->effect(&screen, &drive.ride, &effect);
    assert_non_null(strstr(told, "power.\nWork steps: in range 90 of 160 s.\nSaved as "));
    effect.summary.max_power_w = 1;
    screen.operations->effect(&screen, &drive.ride, &effect);
    assert_non_null(strstr(told, "\n8:00 ridden, 0.0 kJ of work, "));
}

static void without_the_strap_it_is_rest_load(void **state)
{
    (void)state;
    begin("strap-lost");
    assert_non_null(strstr(tell(), ": 80 W (rest load), 92 rpm, heart no bpm, "));
}

static void tell_step(void *user, const struct event *event, const struct effects *effects)
{
    (void)user;
    (void)event;
    for (size_t i = 0; i < effects->count; i++)
        if (effects->list[i].kind == EFFECT_STEP)
            screen.operations->effect(&screen, &drive.ride, &effects->list[i]);
}

/* Work that begins without the strap is not asked for by its watts: the rest before it is. */
static const char *tell_steps_without_the_strap(const char *moment)
{
    begin(moment);
    told[0] = '\0';
    drive.watch = tell_step;
    drive_to(&drive, 151000);
    return told;
}

/* By a fifth less: of 60..100 and 234..262 W. */
static void a_step_is_told_as_shifted(void **state)
{
    (void)state;
    begin("work");
    for (int i = 0; i < 10; i++)
        drive_key(&drive, KEY_LESS);
    told[0] = '\0';
    drive.watch = tell_step;
    drive_to(&drive, 151000);
    assert_non_null(strstr(told, " rest 3 of 8 for 0:10, 48..80 W;"));
    assert_non_null(strstr(told, " then work 4 of 8 0:20, 187..209 W"));
    assert_non_null(strstr(told, " work 4 of 8 for 0:20, 187..209 W, 85..110 rpm"));
}

static void work_that_begins_without_the_strap_is_rest_load(void **state)
{
    (void)state;
    (void)tell_steps_without_the_strap("strap-lost");
    assert_non_null(strstr(told, " rest 3 of 8 for 0:10, 60..100 W"));
    assert_non_null(strstr(told, " work 4 of 8 for 0:20, rest load, 85..110 rpm"));
    (void)tell_steps_without_the_strap("by-hand-strap-lost");
    assert_non_null(strstr(told, " work 4 of 8 for 0:20, 85..110 rpm"));
}

/* Nothing takes off what the rider's hand has put on. */
static void without_the_strap_a_knob_is_the_riders_to_ease(void **state)
{
    (void)state;
    begin("by-hand-strap-lost");
    assert_non_null(strstr(tell(), ": 80 W, 92 rpm, heart no bpm, "));
    assert_string_equal(words_caution(CAUTION_STRAP_LOST, true),
                        "No heart rate any more. Ease the knob to a rest until it is back.");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_level_is_told_once),
        cmocka_unit_test(watts_are_told_without_a_level),
        cmocka_unit_test(legs_that_are_not_as_asked_are_told),
        cmocka_unit_test(a_ride_without_power_claims_no_work),
        cmocka_unit_test(without_the_strap_it_is_rest_load),
        cmocka_unit_test(a_step_is_told_as_shifted),
        cmocka_unit_test(work_that_begins_without_the_strap_is_rest_load),
        cmocka_unit_test(without_the_strap_a_knob_is_the_riders_to_ease),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
