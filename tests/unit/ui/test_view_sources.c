/* Whose readings are shown once a sensor that the rider named is silent. Readings are invented. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/screens.h"
#include "ui/screens.h"

static struct drive drive;
static struct ride_facts facts;
static uint32_t machine_has;

static int set_up(void **state)
{
    (void)state;
    drive_init(&drive);
    facts = (struct ride_facts){.bike = "bike"};
    machine_has = HAS_POWER | HAS_CADENCE | HAS_HEART;
    drive_to(&drive, 1000);
    return 0;
}

static void say(enum link_source source, uint32_t has)
{
    const struct event sensor = {
        .kind = EVENT_SENSOR,
        .sensor = {.source = source, .has = has, .power_w = 110, .cadence_rpm = 91}};
    const struct event heart = {.kind = EVENT_HEART, .heart = {150, CONTACT_GOOD}};

    drive_event(&drive, source == LINK_STRAP ? &heart : &sensor);
}

/* So many seconds, in which these sensors speak (1 << enum link_source), and the bike. */
static void ride(unsigned seconds, uint32_t speaking, uint32_t power_has)
{
    const struct event machine = {
        .kind = EVENT_TELEMETRY,
        .telemetry = {.has = machine_has, .power_w = 100, .cadence_rpm = 90, .heart_bpm = 148}};

    drive.is_silent = true;
    for (unsigned i = 0; i < seconds; i++) {
        drive_event(&drive, &machine);
        if (speaking & (1u << LINK_POWER))
            say(LINK_POWER, power_has);
        if (speaking & (1u << LINK_CADENCE))
            say(LINK_CADENCE, HAS_CADENCE);
        if (speaking & (1u << LINK_STRAP))
            say(LINK_STRAP, 0);
        drive_for(&drive, 1000);
    }
}

static const char *shown(void)
{
    static struct view view;

    view_set(&drive.ride, &facts, &screens_no_hands, &view);
    return view.sources.text;
}

#define POWER   (1u << LINK_POWER)
#define CADENCE (1u << LINK_CADENCE)
#define STRAP   (1u << LINK_STRAP)

static void it_is_said_as_long_as_it_lasts(void **state)
{
    (void)state;
    facts.power = facts.cadence = facts.strap = "named";
    ride(10, POWER | CADENCE | STRAP, HAS_POWER | HAS_CADENCE);
    assert_string_equal(shown(), "");
    ride(8, CADENCE | STRAP, 0);
    assert_string_equal(shown(), "Sensor silent. Power: the bike's.");
    ride(60, CADENCE | STRAP, 0);
    assert_int_equal(drive.phase, PHASE_RIDING);
    assert_string_equal(shown(), "Sensor silent. Power: the bike's.");
    ride(8, 0, 0);
    assert_string_equal(
        shown(), "Sensors silent. Power: the bike's. Cadence: the bike's. Heart: the bike's.");
    assert_true(strlen(shown()) <= 76); /* all of it at 80 columns */
    ride(8, POWER, HAS_POWER | HAS_CADENCE);
    assert_string_equal(shown(), "Sensors silent. Cadence: the power sensor's. Heart: the bike's.");
    drive_key(&drive, KEY_STOP);
    assert_int_equal(drive.ride.phase, PHASE_EASY);
    assert_string_equal(shown(), "Sensors silent. Cadence: the power sensor's. Heart: the bike's.");
    ride(2, POWER | CADENCE | STRAP, HAS_POWER | HAS_CADENCE);
    assert_string_equal(shown(), "");
}

/* What nobody named is the bike's anyway; what nobody tells is no reading, which is seen. */
static void what_is_as_asked_is_not_said(void **state)
{
    (void)state;
    ride(10, 0, 0);
    assert_string_equal(shown(), "");
    facts.strap = "named";
    machine_has = HAS_POWER | HAS_CADENCE;
    ride(10, 0, 0);
    assert_string_equal(shown(), "");
    facts.power = "named";
    machine_has = HAS_CADENCE;
    ride(10, POWER, HAS_POWER);
    ride(6, 0, 0);
    assert_string_equal(shown(), "");
}

/* A power sensor that told cadence is missed for that as well, one that never did is not. */
static void cadence_of_a_power_sensor(void **state)
{
    (void)state;
    facts.power = "named";
    ride(10, POWER, HAS_POWER);
    assert_string_equal(shown(), "");
    ride(8, 0, 0);
    assert_string_equal(shown(), "Sensor silent. Power: the bike's.");
    ride(10, POWER, HAS_POWER | HAS_CADENCE);
    assert_string_equal(shown(), "");
    ride(8, 0, 0);
    assert_string_equal(shown(), "Sensors silent. Power: the bike's. Cadence: the bike's.");
    const struct event lost = {.kind = EVENT_LINK, .link = {LINK_POWER, false}};
    drive_event(&drive, &lost);
    assert_string_equal(shown(), "Sensors silent. Power: the bike's. Cadence: the bike's.");
}

/* ---- plain lines ---- */

static char plain[4096];

static void put(void *user, const char *text, size_t length)
{
    (void)user;
    strncat(plain, text, length);
    for (char *end = strstr(plain, "\n  "); end != NULL; end = strstr(plain, "\n  "))
        memmove(end, end + 2, strlen(end + 2) + 1); /* a line that was broken */
}

static void plain_lines_say_it_every_second(void **state)
{
    struct screen screen;

    (void)state;
    facts.power = facts.strap = "named";
    screen_plain(&screen, (struct sink){.put = put});
    screen.facts = &facts;
    ride(10, POWER | STRAP, HAS_POWER);
    screen.operations->second(&screen, &drive.ride);
    assert_non_null(strstr(plain, ": 110 W (in range), 90 rpm, heart 150 bpm, "));
    plain[0] = '\0';
    ride(8, 0, 0);
    screen.operations->second(&screen, &drive.ride);
    assert_non_null(strstr(plain, ": 100 W (bike's) (in range), 90 rpm, heart 148 bpm (bike's), "));
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(it_is_said_as_long_as_it_lasts),
        TEST(what_is_as_asked_is_not_said),
        TEST(cadence_of_a_power_sensor),
        TEST(plain_lines_say_it_every_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
