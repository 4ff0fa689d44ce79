/* What a rider's limits come to. */
#include "ride/limits.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

/* The limit from age is Tanaka's 208 - 0.7 age; a clinician's limit only lowers. */
static void the_limit_comes_from_the_rider(void **state)
{
    static const struct {
        struct rider rider;
        int32_t heart_limit_bpm;
    } rows[] = {
        {{0}, 180},
        {{.age_years = 43}, 177},
        {{.age_years = 20}, 194},
        {{.age_years = 43, .heart_max_bpm = 190}, 190},
        {{.age_years = 43, .heart_max_bpm = 190, .heart_limit_bpm = 150}, 150},
        {{.age_years = 43, .heart_limit_bpm = 200}, 177},
        {{.age_years = 50, .heart_slowed = true}, 129},
        {{.heart_slowed = true}, 120},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct limits limits;
        limits_set(&rows[i].rider, NULL, 0, &limits);
        assert_int_equal(limits.heart_limit_bpm, rows[i].heart_limit_bpm);
    }
}

/* The first blocks of a new rider: critical power, 120 W where it is not known, and half of the
 * levels (our own choice); lower limits stay. */
static void a_new_riders_loads_stay_low(void **state)
{
    static const struct {
        uint16_t critical_power_w, power_limit_w;
        int32_t machine_w, machine_tenths, most_w, most_tenths;
    } rows[] = {
        {0, 0, 0, 0, 120, 500},
        {200, 0, 600, 240, 200, 120},
        {600, 150, 600, 100, 135, 50},
        {200, 0, 150, 1, 150, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct rider rider = {.is_new = true,
                                    .critical_power_w = rows[i].critical_power_w,
                                    .power_limit_w = rows[i].power_limit_w};
        const struct machine machine = {.power_max_w = rows[i].machine_w,
                                        .level_max_tenths = rows[i].machine_tenths};
        struct limits limits;
        limits_set(&rider, &machine, 0, &limits);
        assert_int_equal(limits.load_max_w, rows[i].most_w);
        assert_int_equal(limits.load_max_tenths, rows[i].most_tenths);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_limit_comes_from_the_rider),
        cmocka_unit_test(a_new_riders_loads_stay_low),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
