/*
 * Days of the rider's calendar. Weekdays and offsets are those of the Gregorian calendar and of the
 * zones' published rules, not of the code.
 */
#include "app/calendar.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

static void use_zone(const char *zone)
{
    setenv("TZ", zone, 1);
    tzset();
}

/* 1762120800 is 2025-11-02 22:00 UTC; the day is that of the wall clock. */
static void a_day_is_that_of_the_wall_clock(void **state)
{
    (void)state;
    use_zone("UTC");
    assert_int_equal(calendar_day(0), 0);
    assert_int_equal(calendar_day(1762120800), 20394);
    use_zone("<+03>-3");
    assert_int_equal(calendar_day(1762120800), 20395);
    use_zone("<-10>10");
    assert_int_equal(calendar_day(1762120800), 20394);
    assert_int_equal(calendar_day(0), -1);
}

/* The night in which clocks go back has 25 hours and is one day: Central Europe, 26 October 2025.
 */
static void a_long_day_is_one_day(void **state)
{
    (void)state;
    use_zone("CET-1CEST,M3.5.0,M10.5.0/3");
    const int32_t day = calendar_day(1761429600); /* 2025-10-25 22:00 UTC: midnight */
    assert_int_equal(calendar_day(1761429599), day - 1);
    assert_int_equal(calendar_day(1761429600 + 25 * 3600 - 1), day);
    assert_int_equal(calendar_day(1761429600 + 25 * 3600), day + 1);
    use_zone("UTC");
}

static void times_beyond_the_calendar_have_no_day(void **state)
{
    (void)state;
    assert_int_equal(calendar_day(INT64_MAX), CALENDAR_NO_DAY);
    assert_int_equal(calendar_day(INT64_MIN), CALENDAR_NO_DAY);
    assert_int_equal(calendar_day(INT64_C(300000000000)), CALENDAR_NO_DAY); /* the year 11476 */
}

static void weeks_begin_on_monday(void **state)
{
    (void)state;
    assert_int_equal(calendar_monday(0), -3);        /* Thursday 1 January 1970 */
    assert_int_equal(calendar_monday(-3), -3);       /* that Monday */
    assert_int_equal(calendar_monday(-4), -10);      /* the Sunday before */
    assert_int_equal(calendar_monday(20395), 20395); /* Monday 3 November 2025 */
    assert_int_equal(calendar_monday(20401), 20395);
    assert_int_equal(calendar_monday(20402), 20402);
}

static void days_have_names(void **state)
{
    const struct past_date date = calendar_date(20395), leap = calendar_date(19782);
    (void)state;
    assert_int_equal(date.year, 2025);
    assert_int_equal(date.month, 11);
    assert_int_equal(date.day, 3);
    assert_int_equal(leap.month, 2); /* 2024-02-29 */
    assert_int_equal(leap.day, 29);
}

static void days_are_read(void **state)
{
    static const struct {
        const char *text;
        bool is_day;
        int32_t day;
    } rows[] = {
        {"2025-11-03", true, 20395},
        {"1970-01-01", true, 0},
        {"2024-02-29", true, 19782},
        {"2025-02-29", false, 0},
        {"2025-04-31", false, 0},
        {"2025-13-01", false, 0},
        {"2025-00-10", false, 0},
        {"2025-10-00", false, 0},
        {"1969-12-31", false, 0},
        {"2025-11-3", false, 0},
        {"2025-11-033", false, 0},
        {"2025/11/03", false, 0},
        {"", false, 0},
        {"99999-01-1", false, 0},
        {"2025-11-3x", false, 0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int32_t day = 0;
        if (calendar_read(rows[i].text, &day) != rows[i].is_day || day != rows[i].day)
            fail_msg("'%s' gives %d", rows[i].text, day);
    }
}

static void firsts_of_months_are_found(void **state)
{
    struct past_trend trend = {0};
    (void)state;
    calendar_months(20395 - 40, 20395 + 30, &trend); /* 24 September to 3 December 2025 */
    assert_int_equal(trend.month_count, 3);
    assert_int_equal(trend.months[0].month, 10);
    assert_int_equal(trend.months[1].month, 11);
    assert_int_equal(trend.months[1].day, 20393);
    assert_int_equal(trend.months[2].month, 12);
    calendar_months(0, 20395, &trend);
    assert_int_equal(trend.month_count, PAST_MONTHS_MAX);
    assert_int_equal(trend.months[PAST_MONTHS_MAX - 1].day, 20393);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_is_that_of_the_wall_clock),
        cmocka_unit_test(a_long_day_is_one_day),
        cmocka_unit_test(times_beyond_the_calendar_have_no_day),
        cmocka_unit_test(weeks_begin_on_monday),
        cmocka_unit_test(days_have_names),
        cmocka_unit_test(days_are_read),
        cmocka_unit_test(firsts_of_months_are_found),
    };
    return cmocka_run_group_tests_name("calendar", tests, NULL, NULL);
}
