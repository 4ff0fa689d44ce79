#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "io/virtual_rider.h"

#define PI 3.14159265358979323846

static double rads(double rpm)
{
    return rpm * 2.0 * PI / 60.0;
}

static void near(double found, double wanted, double tolerance)
{
    if (!(found >= wanted - tolerance && found <= wanted + tolerance))
        fail_msg("found %.9g, wanted %.9g within %g", found, wanted, tolerance);
}

/* Martin et al. 1997: 1317 W at 122 rpm in an inertial-load sprint; the curve follows from that. */
static void muscles_follow_the_force_velocity_line(void **state)
{
    const struct virtual_rider_config sprinter = {.peak_power_w = 1317, .peak_cadence_rpm = 122};
    (void)state;
    near(virtual_muscle_torque_nm(&sprinter, 0), 206.171, 0.01);
    near(virtual_muscle_torque_nm(&sprinter, rads(60)) * rads(60), 976.9, 0.05);
    near(virtual_muscle_torque_nm(&sprinter, rads(90)) * rads(90), 1226.39, 0.01);
    near(virtual_muscle_torque_nm(&sprinter, rads(122)) * rads(122), 1317, 0.01);
    near(virtual_muscle_torque_nm(&sprinter, rads(180)) * rads(180), 1019.3, 0.05);
    near(virtual_muscle_torque_nm(&sprinter, rads(244.01)), 0, 0);
}

/* Morton 1996: attainable power falls with the reserve. */
static void the_ceiling_falls_with_the_reserve(void **state)
{
    const struct virtual_rider_config config = {
        .critical_power_w = 250, .peak_power_w = 700, .w_prime_j = 20000};
    (void)state;
    near(virtual_power_ceiling_w(&config, 20000), 700, 1e-9);
    near(virtual_power_ceiling_w(&config, 5000), 362.5, 1e-9);
    near(virtual_power_ceiling_w(&config, 0), 250, 1e-9);
    near(virtual_power_ceiling_w(&config, -10), 250, 1e-9);
}

static double spend_j(const struct virtual_rider_config *config, double reserve_j, double power_w,
                      unsigned seconds)
{
    for (unsigned i = 0; i < seconds * 100; i++)
        reserve_j = virtual_reserve_step_j(config, reserve_j, power_w, 0.01);
    return reserve_j;
}

/* Differential form, Skiba et al. 2015; worked with the exact exponential of each stretch: critical
 * power 250 W, W' 20 kJ, eight times 20 s at 400 W and 10 s at 100 W. */
static void the_reserve_empties_and_fills(void **state)
{
    static const struct {
        unsigned at_s;
        double reserve_j;
    } rows[] = {{30, 17216.8}, {60, 14634.6}, {120, 10016.6}, {210, 4267.2}, {240, 2620.8}};
    const struct virtual_rider_config config = {.critical_power_w = 250, .w_prime_j = 20000};
    double reserve_j = 20000;
    size_t row = 0;
    (void)state;
    for (unsigned t_s = 30; t_s <= 240; t_s += 30) {
        reserve_j = spend_j(&config, reserve_j, 400, 20);
        reserve_j = spend_j(&config, reserve_j, 100, 10);
        if (rows[row].at_s == t_s)
            near(reserve_j, rows[row++].reserve_j, 0.1);
    }
    assert_int_equal(row, sizeof(rows) / sizeof(rows[0]));
    near(spend_j(&config, 0, 100, 300), 17892.02, 0.02);
}

/* Medians of the open data of Weigend et al. 2022: on from 110 by 70 bpm with 51 s, 141.129 bpm
 * after 30 s; off from 183 to 117 bpm with 89 s, 150.633 bpm after 60 s. */
static void the_heart_rises_and_falls(void **state)
{
    const struct virtual_rider_config config = {.heart_rise_s = 51, .heart_fall_s = 89};
    double heart_bpm = 110;
    (void)state;
    for (int i = 0; i < 3000; i++)
        heart_bpm = virtual_heart_step_bpm(&config, heart_bpm, 180, 0.01);
    near(heart_bpm, 141.129, 0.001);
    heart_bpm = 183;
    for (int i = 0; i < 6000; i++)
        heart_bpm = virtual_heart_step_bpm(&config, heart_bpm, 117, 0.01);
    near(heart_bpm, 150.633, 0.001);
}

/* Heart rate reserve, Karvonen: rest 60, max 180, 0.85 of it 162 bpm; never beyond max. */
static void the_heart_is_asked_for_a_share_of_its_reserve(void **state)
{
    const struct virtual_rider_config config = {.critical_power_w = 200,
                                                .heart_rest_bpm = 60,
                                                .heart_max_bpm = 180,
                                                .heart_at_critical = 0.85};
    (void)state;
    near(virtual_heart_demand_bpm(&config, 0), 60, 1e-9);
    near(virtual_heart_demand_bpm(&config, 200), 162, 1e-9);
    near(virtual_heart_demand_bpm(&config, 500), 180, 1e-9);
}

/* Torque rises at its rate, reaches what is missing, and never goes beyond the limits. */
static void effort_rises_at_its_rate(void **state)
{
    const struct virtual_rider_config config = {.critical_power_w = 200,
                                                .w_prime_j = 15000,
                                                .peak_power_w = 700,
                                                .peak_cadence_rpm = 110,
                                                .cadence_rpm = 90,
                                                .effort_rate_nm_s = 40};
    struct virtual_rider rider;
    (void)state;
    virtual_rider_init(&rider, &config, 0);
    for (uint32_t t_ms = 0; t_ms < 100; t_ms += 10)
        virtual_rider_step(&rider, t_ms, 0, 0.01);
    near(rider.torque_nm, 4, 1e-9);
    for (uint32_t t_ms = 0; t_ms < 120000; t_ms += 10)
        virtual_rider_step(&rider, t_ms, rads(60), 0.01);
    /* The reserve falls by 1/e in W' / (Pmax - CP) = 30 s, and the ceiling with it. */
    assert_true(rider.reserve_j > 0 && rider.reserve_j < 500);
    near(rider.torque_nm * rads(60), 200 + 500 * rider.reserve_j / 15000, 0.1);
}

static void pedals_when_the_file_says(void **state)
{
    static const struct {
        uint32_t starts_ms, rests_ms, for_ms, t_ms;
        bool pedals;
    } rows[] = {
        {1500, 0, 0, 0, false},         {1500, 0, 0, 1499, false},
        {1500, 0, 0, 1500, true},       {0, 60000, 0, 59999, true},
        {0, 60000, 0, 60000, false},    {0, 60000, 0, 4000000, false},
        {0, 60000, 5000, 64999, false}, {0, 60000, 5000, 65000, true},
    };
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct virtual_rider_config config = {.starts_at_ms = rows[i].starts_ms,
                                              .rests_at_ms = rows[i].rests_ms,
                                              .rests_for_ms = rows[i].for_ms};
        if (virtual_rider_pedals(&config, rows[i].t_ms) != rows[i].pedals)
            fail_msg("row %zu", i);
    }
}

static void noise_has_its_deviation_and_memory(void **state)
{
    struct virtual_random random = {.state = 7};
    struct virtual_noise noise = {0};
    double sum = 0, squares = 0, products = 0, before = 0;
    const int seconds = 20000;
    (void)state;
    for (int i = 0; i < seconds; i++) {
        for (int k = 0; k < 100; k++)
            virtual_noise_step(&noise, &random, 0.07, 0.6, 0.01);
        sum += noise.value;
        squares += noise.value * noise.value;
        products += noise.value * before;
        before = noise.value;
    }
    near(sum / seconds, 0, 0.003);
    near(squares / seconds, 0.07 * 0.07, 0.07 * 0.07 * 0.1);
    near(products / squares, 0.1889, 0.03); /* exp(-1 / 0.6) */
}

static void chance_is_even(void **state)
{
    struct virtual_random random = {.state = 0};
    unsigned found[6] = {0};
    (void)state;
    for (int i = 0; i < 60000; i++) {
        uint32_t value = virtual_random_below(&random, 6);
        assert_true(value < 6);
        found[value]++;
    }
    for (int i = 0; i < 6; i++)
        assert_in_range(found[i], 9600, 10400);
    assert_int_equal(virtual_random_below(&random, 0), 0);
}

/* splitmix64 with seed 1234567: the sequence that circulates with the published code. */
static void chance_is_splitmix(void **state)
{
    struct virtual_random random = {.state = 1234567};
    (void)state;
    assert_true(virtual_random_next(&random) == 6457827717110365317u);
    assert_true(virtual_random_next(&random) == 3203168211198807973u);
    assert_true(virtual_random_next(&random) == 9817491932198370423u);
}

static void zeroed_is_safe(void **state)
{
    const struct virtual_rider_config config = {0};
    struct virtual_rider rider;
    (void)state;
    virtual_rider_init(&rider, &config, 0);
    for (uint32_t t_ms = 0; t_ms < 1000; t_ms += 10)
        virtual_rider_step(&rider, t_ms, 5, 0.01);
    near(rider.torque_nm, 0, 0);
    near(rider.reserve_j, 0, 0);
    assert_int_equal(virtual_rider_strap_bpm(&rider), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(muscles_follow_the_force_velocity_line),
        cmocka_unit_test(the_ceiling_falls_with_the_reserve),
        cmocka_unit_test(the_reserve_empties_and_fills),
        cmocka_unit_test(the_heart_rises_and_falls),
        cmocka_unit_test(the_heart_is_asked_for_a_share_of_its_reserve),
        cmocka_unit_test(effort_rises_at_its_rate),
        cmocka_unit_test(pedals_when_the_file_says),
        cmocka_unit_test(noise_has_its_deviation_and_memory),
        cmocka_unit_test(chance_is_even),
        cmocka_unit_test(chance_is_splitmix),
        cmocka_unit_test(zeroed_is_safe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
