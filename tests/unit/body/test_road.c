#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/road.h"
#include "support/close.h"

/* The equation of Martin et al. 1998 at a density of 1.225, CdA 0.32, Crr 0.004, 80 kg and 0.977.
 */
static void speed_of_a_power(void **state)
{
    (void)state;
    static const struct {
        double power_w, speed_m_s, speed_km_h, with_bearings_km_h;
    } rows[] = {
        {50, 5.45092, 19.6233, 19.4920},   {100, 7.25755, 26.1272, 26.0094},
        {150, 8.48919, 30.5611, 30.4506},  {200, 9.45608, 34.0419, 33.9362},
        {250, 10.26559, 36.9561, 36.8539}, {300, 10.96902, 39.4885, 39.3890},
        {400, 12.16248, 43.7849, 43.6894},
    };
    struct road road = road_typical(), bearings = road;
    bearings.bearings = true;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        double speed_m_s = road_speed_m_s(&road, rows[i].power_w);
        assert_close(speed_m_s, rows[i].speed_m_s, 1e-5);
        assert_close(speed_m_s * 3.6, rows[i].speed_km_h, 1e-4);
        assert_close(road_speed_m_s(&bearings, rows[i].power_w) * 3.6, rows[i].with_bearings_km_h,
                     1e-4);
    }
}

static void power_at_a_speed(void **state)
{
    (void)state;
    struct road road = road_typical();
    /* (196.000 W of air + 31.381 W of rolling) / 0.977 */
    assert_close(road_power_w(&road, 10), 232.734, 0.001);
    road.bearings = true;
    assert_close(road_power_w(&road, 10), 234.556, 0.001);
}

static void distance_is_speed_by_time(void **state)
{
    (void)state;
    struct road road = road_typical();
    assert_close(240 * road_speed_m_s(&road, 200), 2269.46, 0.01);
}

static void speeds_stay_between_standing_and_the_limit(void **state)
{
    (void)state;
    struct road road = road_typical();
    assert_close(road_speed_m_s(&road, 0), 0, 0);
    assert_close(road_speed_m_s(&road, -50), 0, 0);
    assert_close(road_speed_m_s(&road, NAN), 0, 0);
    assert_close(road_speed_m_s(&road, 1e9), 40, 1e-9);
    assert_close(road_speed_m_s(&(struct road){0}, 100), 0, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(speed_of_a_power),
        cmocka_unit_test(power_at_a_speed),
        cmocka_unit_test(distance_is_speed_by_time),
        cmocka_unit_test(speeds_stay_between_standing_and_the_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
