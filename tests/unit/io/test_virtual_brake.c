#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "io/virtual_brake.h"
#include "io/virtual_rider.h"

#define PI 3.14159265358979323846

/* A disc of 18 kg and 0.23 m, I = m r^2 / 2, geared 2.6: sizes from memory, the rest mechanics. */
#define DISC_KGM2 (0.5 * 18.0 * 0.23 * 0.23)

static const struct virtual_brake_config heavy = {
    .inertia_kgm2 = DISC_KGM2, .gear = 2.6, .peak_torque_nm = 30, .peak_rpm = 120};

static double rads(double rpm)
{
    return rpm * 2.0 * PI / 60.0;
}

static void near(double found, double wanted, double tolerance)
{
    if (!(found >= wanted - tolerance && found <= wanted + tolerance))
        fail_msg("found %.9g, wanted %.9g within %g", found, wanted, tolerance);
}

static void refers_inertia_to_the_crank(void **state)
{
    (void)state;
    near(virtual_brake_inertia_kgm2(&heavy), 3.218436, 1e-6);
}

/* Stored energy I omega^2 / 2: 142.941 J at 90 rpm; 79.412 J more than at 60 rpm. */
static void stores_the_energy_that_is_put_in(void **state)
{
    struct virtual_brake brake;
    double put_in_j = 0;
    const double dt_s = 1e-4;
    (void)state;
    virtual_brake_init(&brake, &heavy);
    while (brake.omega < rads(60)) {
        double before = brake.omega;
        virtual_brake_step(&brake, 20, 0, 0, dt_s);
        put_in_j += 20 * (before + brake.omega) / 2 * dt_s;
    }
    near(put_in_j, 142.941 - 79.412, 0.1);
    while (brake.omega < rads(90)) {
        double before = brake.omega;
        virtual_brake_step(&brake, 20, 0, 0, dt_s);
        put_in_j += 20 * (before + brake.omega) / 2 * dt_s;
    }
    near(put_in_j, 142.941, 0.1);
}

/* Form after Wouterse 1991, closed form from memory. */
static void brakes_like_an_eddy_current(void **state)
{
    static const struct {
        double rpm, torque_nm, power_w;
    } rows[] = {
        {30, 14.118, 44.35}, {60, 24.000, 150.796}, {90, 28.800, 271.434}, {120, 30.000, 376.99}};
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        double torque_nm = virtual_brake_torque_nm(&heavy, rads(rows[i].rpm));
        near(torque_nm, rows[i].torque_nm, 0.001);
        near(torque_nm * rads(rows[i].rpm), rows[i].power_w, 0.005);
    }
    assert_true(virtual_brake_torque_nm(&heavy, rads(200)) < 30);
    near(virtual_brake_torque_nm(&heavy, 0), 0, 0);
}

/* A linear brake k = torque / omega = 1.688686 N m s: half the speed after ln 2 I / k. */
static void spins_down(void **state)
{
    struct virtual_brake_config linear = heavy;
    struct virtual_brake brake;
    const double dt_s = 1e-5;
    double t_s = 0;
    (void)state;
    linear.peak_rpm = 1e6; /* so far below its peak the brake is linear: k = 2 tmax / omega_c */
    linear.peak_torque_nm = 1.688686 * rads(1e6) / 2.0;
    virtual_brake_init(&brake, &linear);
    brake.omega = rads(90);
    for (; brake.omega > rads(45); t_s += dt_s)
        virtual_brake_step(&brake, 0, 0, 1, dt_s);
    near(t_s, 1.32106, 1e-4);
}

/* Amplitude a torque / (2 omega I) when torque swings by a cos(2 angle): mechanics; a from memory.
 */
static void speed_ripples_within_a_turn(void **state)
{
    struct virtual_brake_config config = heavy;
    struct virtual_brake brake;
    double low = 1e9, high = 0, torque_nm = 150 / rads(90);
    const double dt_s = 1e-4;
    (void)state;
    config.friction_nm = torque_nm; /* takes the mean away and leaves the swing */
    virtual_brake_init(&brake, &config);
    brake.omega = rads(90);
    for (int i = 0; i < 6667; i++) { /* one turn takes 0.6667 s */
        virtual_brake_step(&brake, torque_nm, 0.7, 0, dt_s);
        low = brake.omega < low ? brake.omega : low;
        high = brake.omega > high ? brake.omega : high;
    }
    near((high - low) / 2, 0.18364, 0.003);
}

/* The definition of a first-order lag: 63.212 % of the way after one time constant. */
static void follows_with_a_lag(void **state)
{
    struct virtual_brake_config config = heavy;
    struct virtual_brake brake;
    (void)state;
    config.lag_s = 0.8;
    virtual_brake_init(&brake, &config);
    for (int i = 0; i < 80; i++)
        virtual_brake_step(&brake, 0, 0, 0.5, 0.01);
    near(brake.excitation, 0.5 * 0.63212, 1e-5);
}

static void finds_the_excitation_for_a_power(void **state)
{
    struct virtual_brake brake;
    (void)state;
    virtual_brake_init(&brake, &heavy);
    brake.omega = rads(90);
    near(virtual_brake_excitation_for(&brake, 271.434 / 2), 0.5, 1e-5);
    near(virtual_brake_excitation_for(&brake, 1000), 1, 0);
    near(virtual_brake_excitation_for(&brake, 0), 0, 0);
    near(virtual_brake_excitation_for(&brake, -100), 0, 0);
    brake.omega = 0;
    near(virtual_brake_excitation_for(&brake, 100), 1, 0);
    near(virtual_brake_excitation_for(&brake, 0), 0, 0);
}

/* Two peaks a turn still, and no larger ones, after an hour of small turns of a unit vector. */
static void the_stroke_keeps_its_size(void **state)
{
    struct virtual_brake brake;
    (void)state;
    virtual_brake_init(&brake, &heavy);
    for (int i = 0; i < 360000; i++) {
        brake.omega = rads(95);
        virtual_brake_step(&brake, 0, 0, 0, 0.01);
    }
    double c = brake.stroke_cos, s = brake.stroke_sin;
    near(c * c + s * s, 1, 1e-4);
}

static void zeroed_is_safe(void **state)
{
    struct virtual_brake brake = {0};
    (void)state;
    virtual_brake_step(&brake, 100, 0.5, 1, 0.01);
    near(brake.omega, 0, 0);
    near(virtual_brake_power_w(&brake), 0, 0);
    near(virtual_brake_excitation_for(&brake, 100), 1, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(refers_inertia_to_the_crank),
        cmocka_unit_test(stores_the_energy_that_is_put_in),
        cmocka_unit_test(brakes_like_an_eddy_current),
        cmocka_unit_test(spins_down),
        cmocka_unit_test(speed_ripples_within_a_turn),
        cmocka_unit_test(follows_with_a_lag),
        cmocka_unit_test(finds_the_excitation_for_a_power),
        cmocka_unit_test(the_stroke_keeps_its_size),
        cmocka_unit_test(zeroed_is_safe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
