/* The trend of the log, by whose power it is. Rides and readings are invented. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "app/log_weeks.h"

#define BIKE   "C0:12:34:56:78:9A"
#define OTHER  "C0:12:34:56:78:9B"
#define PEDALS "C0:12:34:56:78:9C"

#define DAY 20400 /* a number of a day, as others are */

static struct log_ride rides[8]; /* the newest first, as in a book */
static struct log_book book;
static struct log_weeks weeks;

static int set_up(void **state)
{
    (void)state;
    memset(rides, 0, sizeof rides);
    book = (struct log_book){.rides = rides};
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    log_weeks_free(&weeks);
    return 0;
}

/* Older by a day than the one before it. `tenths`: how far the sensor reads above the bike, 0: not
 * known. */
static struct store_ride *add(const char *bike, const char *sensor, uint32_t power_w,
                              int32_t tenths)
{
    struct log_ride *from = &rides[book.count];
    struct store_ride *ride = &from->ride;

    ride->id = 100 - (int64_t)book.count;
    from->day = DAY - (int32_t)book.count;
    ride->started_unix_s = from->day * INT64_C(86400);
    book.count++;
    strcpy(ride->bike, bike);
    strcpy(ride->power_sensor, sensor);
    ride->state = STORE_FINISHED;
    ride->summary = (struct store_summary){.ending = STORE_ENDING_DONE,
                                           .work_power_w = power_w,
                                           .sensor_pct = sensor[0] != '\0' ? 100 : 0,
                                           .difference_tenths = tenths,
                                           .difference_error_tenths = tenths != 0 ? 5 : 0};
    return ride;
}

/* The points by day, so the oldest first. */
static void assert_trend(const int32_t *expected, size_t count, const char *words)
{
    const struct log_filter filter = {0};

    log_weeks_free(&weeks);
    assert_true(log_weeks_gather(&book, &filter, 2, DAY, &weeks));
    assert_int_equal(weeks.past.trend.count, count);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(weeks.past.trend.points[i].value, expected[i]);
    assert_string_equal(weeks.past.trend.sources, words);
    assert_true(strlen(words) <= 49);
}

static void one_bike_is_one_source(void **state)
{
    (void)state;
    add(BIKE, "", 220, 0);
    add(BIKE, "", 210, 0);
    assert_trend((const int32_t[]){210, 220}, 2, "");
}

/* By the bike 200 W are 220 by pedals that read a tenth more; that goes either way. */
static void a_known_difference_takes_over(void **state)
{
    (void)state;
    add(BIKE, "", 210, 0);
    add(BIKE, PEDALS, 220, 100);
    add(BIKE, "", 190, 0);
    assert_trend((const int32_t[]){190, 200, 210}, 3, "1 by other sources taken over");
    set_up(NULL);
    add(BIKE, PEDALS, 220, 100);
    add(BIKE, "", 190, 0);
    assert_trend((const int32_t[]){209, 220}, 2, "1 by other sources taken over");
}

static void an_unknown_one_leaves_out(void **state)
{
    (void)state;
    add(BIKE, "", 210, 0);
    add(BIKE, PEDALS, 400, 0);
    add(OTHER, "", 300, 0);
    add(BIKE, PEDALS, 220, 100);
    add("", "", 250, 0); /* by hand, nobody said on what */
    assert_trend((const int32_t[]){200, 210}, 2, "3 by other sources left out, 1 taken over");
    rides[0].ride.summary.ending = STORE_ENDING_STOPPED;
    assert_trend((const int32_t[]){220, 400}, 2, "2 by other sources left out");
}

/* The same pedals are the same ruler on any bike. */
static void a_sensor_goes_along(void **state)
{
    (void)state;
    add(BIKE, PEDALS, 220, 100);
    add(OTHER, PEDALS, 215, 0);
    add(OTHER, "", 205, 0);
    assert_trend((const int32_t[]){215, 220}, 2, "1 by other sources left out");
}

/* Measured by one and then the other, it is on no ruler. */
static void a_mixed_ride_is_left_out(void **state)
{
    (void)state;
    add(BIKE, PEDALS, 230, 100)->summary.sensor_pct = 50;
    add(BIKE, "", 205, 0);
    assert_trend((const int32_t[]){205}, 1, "1 by other sources left out");
}

static void what_is_known_goes_before_what_is_newer(void **state)
{
    (void)state;
    add("", "", 230, 0);
    add(BIKE, "", 205, 0);
    assert_trend((const int32_t[]){205}, 1, "1 by other sources left out");
    set_up(NULL);
    add("", "", 230, 0);
    add("", "", 220, 0);
    assert_trend((const int32_t[]){220, 230}, 2, "");
}

static void own_legs_go_before_virtual_ones(void **state)
{
    (void)state;
    add("virtual", "", 400, 0);
    add("capture:ride.btsnoop", "", 390, 0);
    add(BIKE, "", 205, 0);
    assert_trend((const int32_t[]){205}, 1, "2 by other sources left out");
    set_up(NULL);
    add("virtual", "", 400, 0);
    assert_trend((const int32_t[]){400}, 1, "");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(one_bike_is_one_source),          TEST(a_known_difference_takes_over),
        TEST(an_unknown_one_leaves_out),       TEST(a_sensor_goes_along),
        TEST(a_mixed_ride_is_left_out),        TEST(what_is_known_goes_before_what_is_newer),
        TEST(own_legs_go_before_virtual_ones),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
