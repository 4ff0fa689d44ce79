/* How far a power sensor reads from the machine. Readings are invented. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/two_powers.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct two_powers two;
static uint64_t t_ms;

static int begin(void **state)
{
    (void)state;
    two = (struct two_powers){0};
    t_ms = 0;
    return 0;
}

/* Four times a second, for so many windows. */
static void turn(uint32_t windows, int32_t machine_w, int32_t sensor_w)
{
    const uint32_t until = two.windows + windows;

    for (int i = 0; i < 1000 && two.windows < until; i++, t_ms += 250)
        two_powers_add(&two, t_ms, machine_w, sensor_w, 90);
}

static void it_is_a_share_of_the_machines(void **state)
{
    static const struct {
        int32_t machine_w, sensor_w, tenths;
    } rows[] = {{200, 210, 50}, {210, 200, -48}, {150, 150, 0}, {100, 200, 1000}};
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        (void)begin(NULL);
        turn(TWO_POWERS_LEAST, rows[i].machine_w, rows[i].sensor_w);
        const struct power_difference difference = two_powers_difference(&two);
        assert_int_equal(difference.tenths, rows[i].tenths);
        assert_int_equal(difference.error_tenths, 1);
    }
}

/* Deviations from 1.05 M are -6, -4, -2, 2, 4 and 6 W: sqrt(112 / 30) = 1.932 W, by t = 2.571 for
 * five degrees (Abramowitz & Stegun 1964, table 26.10) 4.97 W of 200, 2.48 %. */
static void its_error_is_that_of_a_ratio(void **state)
{
    static const int32_t sensor_w[] = {204, 206, 208, 212, 214, 216};
    (void)state;
    for (size_t i = 0; i < COUNT(sensor_w); i++)
        turn(1, 200, sensor_w[i]);
    const struct power_difference difference = two_powers_difference(&two);
    assert_int_equal(difference.tenths, 50);
    assert_int_equal(difference.error_tenths, 25);
}

static void a_minute_is_the_least(void **state)
{
    (void)state;
    turn(TWO_POWERS_LEAST - 1, 200, 220);
    assert_int_equal(two_powers_difference(&two).error_tenths, 0);
    assert_true(t_ms >= 50000);
    turn(1, 200, 220);
    assert_int_equal(two_powers_difference(&two).tenths, 100);
}

/* The higher is a fifth more than the lower, whichever that is, and no chance: Maier et al. 2017,
 * see body/two_powers.h. */
static void a_fifth_is_far(void **state)
{
    static const struct {
        struct power_difference difference;
        bool is_far;
    } rows[] = {
        {{200, 10}, true},   {{199, 10}, false},  {{-167, 10}, true},
        {{-166, 10}, false}, {{900, 900}, false}, {{900, 899}, true},
        {{0, 0}, false},     {{900, 0}, false},   {{-1000, 10}, true},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_int_equal(power_difference_is_far(&rows[i].difference), rows[i].is_far);
}

/* Without load any watt is a large share. */
static void no_power_is_no_ruler(void **state)
{
    (void)state;
    turn(20, 0, 200);
    assert_int_equal(two_powers_difference(&two).error_tenths, 0);
    (void)begin(NULL);
    turn(20, 200, 0);
    assert_int_equal(two_powers_difference(&two).error_tenths, 0);
}

/* 20 s at 300 W and 10 s at 100 W, a machine that is 3 s behind and a sensor that is not: second by
 * second they differ by up to 200 %, in work by nothing. */
static void one_that_is_late_does_not_read_low(void **state)
{
    (void)state;
    for (uint64_t s = 3; s < 303; s++)
        two_powers_add(&two, s * 1000, (s - 3) % 30 < 20 ? 300 : 100, s % 30 < 20 ? 300 : 100, 90);
    const struct power_difference difference = two_powers_difference(&two);
    assert_in_range(two.windows, 25, 30);
    assert_in_range(difference.tenths + 30, 0, 60);
    assert_true(difference.error_tenths > 30);
    assert_false(power_difference_matters(&difference));
}

static void legs_must_turn_steadily(void **state)
{
    (void)state;
    for (t_ms = 0; t_ms < 300000; t_ms += 250)
        two_powers_add(&two, t_ms, 200, 210, TWO_POWERS_TURN_RPM - 1);
    assert_int_equal(two.windows, 0);
    for (; t_ms < 600000; t_ms += 250)
        two_powers_add(&two, t_ms, 200, 210, t_ms % 4000 == 0 ? 106 : 90);
    assert_int_equal(two.windows, 0);
    for (; t_ms < 900000; t_ms += 250)
        two_powers_add(&two, t_ms, 200, 210, t_ms % 4000 == 0 ? 105 : 90);
    assert_in_range(two.windows, 28, 30);
}

static void both_must_speak(void **state)
{
    (void)state;
    for (t_ms = 0; t_ms < 300000; t_ms += t_ms % 9000 == 0 ? 3001 : 1)
        if (t_ms % 1000 == 0 || t_ms % 9000 == 1)
            two_powers_add(&two, t_ms, 200, 210, 90);
    assert_int_equal(two.windows, 0);
    for (; t_ms < 600000; t_ms += 3000)
        two_powers_add(&two, t_ms, 200, 210, 90);
    assert_in_range(two.windows, 19, 25); /* of 12 s each, and 3 s between them */
}

static void what_riders_hear_of(void **state)
{
    static const struct {
        struct power_difference difference;
        bool matters;
    } rows[] = {
        {{0, 0}, false},   {{200, 0}, false}, {{29, 1}, false},  {{30, 1}, true},
        {{-30, 29}, true}, {{-29, 1}, false}, {{45, 45}, false}, {{-200, 199}, true},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_int_equal(power_difference_matters(&rows[i].difference), rows[i].matters);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(it_is_a_share_of_the_machines, begin),
        cmocka_unit_test_setup(its_error_is_that_of_a_ratio, begin),
        cmocka_unit_test_setup(a_minute_is_the_least, begin),
        cmocka_unit_test_setup(a_fifth_is_far, begin),
        cmocka_unit_test_setup(no_power_is_no_ruler, begin),
        cmocka_unit_test_setup(one_that_is_late_does_not_read_low, begin),
        cmocka_unit_test_setup(legs_must_turn_steadily, begin),
        cmocka_unit_test_setup(both_must_speak, begin),
        cmocka_unit_test_setup(what_riders_hear_of, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
