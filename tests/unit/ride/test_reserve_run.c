/* The reserve along a ride. The balances are those of body/reserve's own checks: Skiba et al. 2015.
 */
#include "ride/reserve_run.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "support/close.h"
#include "support/drive.h"

static struct drive drive;

static int set_up(void **state)
{
    (void)state;
    drive_init(&drive);
    drive.reserve = reserve_run_of(&drive.ride.setup.plan, 150, 10000, 0);
    drive_to(&drive, WORK_1_MS);
    return 0;
}

/* 30 s at 350 W are 6000 J above 150 W; the readings before were below. */
static void work_above_critical_power_is_spent(void **state)
{
    (void)state;
    assert_close(drive.reserve.reserve.balance_j, 10000, 1e-9);
    drive.power_w = 350;
    drive_for(&drive, 30000);
    /* The first quarter of a second goes up from 100 W: at 225 W in the mean. */
    assert_close(drive.reserve.reserve.balance_j, 10000 - 200 * 29.75 - 75 * 0.25, 1e-6);
}

/* 100 W under it: what is missing shrinks by exp(-100 * 30 / 10000). */
static void it_comes_back_while_the_block_is_held(void **state)
{
    (void)state;
    drive.power_w = 350;
    drive_for(&drive, 10000);
    drive_key(&drive, KEY_HOLD);
    drive.power_w = 50;
    drive_for(&drive, 250);
    const double missing_j = 10000 - drive.reserve.reserve.balance_j;
    drive_for(&drive, 30000);
    assert_int_equal(drive.ride.phase, PHASE_HELD);
    assert_close(10000 - drive.reserve.reserve.balance_j, missing_j * exp(-0.3), 1e-6);
}

static void a_gap_is_left_out(void **state)
{
    (void)state;
    drive.power_w = 350;
    drive_for(&drive, 10000);
    const double before_j = drive.reserve.reserve.balance_j;
    drive.is_silent = true;
    drive_for(&drive, 5000);
    drive.is_silent = false;
    drive_for(&drive, 250);
    assert_close(drive.reserve.reserve.balance_j, before_j, 1e-9);
}

static void one_that_is_not_known_stays_so(void **state)
{
    (void)state;
    drive.reserve = (struct reserve_run){0};
    drive.power_w = 350;
    drive_for(&drive, 10000);
    assert_false(reserve_run_is_known(&drive.reserve));
    assert_false(drive.reserve.has_power);
}

/* Skiba et al. 2012: 546 exp(-0.01 D) + 316; D is what the rests are below critical power. */
static void rests_of_the_plan_set_the_time_constant(void **state)
{
    static const struct {
        double critical_power_w, tau_s;
    } rows[] = {{80, 862.000}, {130, 647.166}, {180, 516.862}, {60, 862.000}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_close(reserve_run_of(&drive.ride.setup.plan, rows[i].critical_power_w, 10000, 0)
                         .reserve.tau_s,
                     rows[i].tau_s, 0.001);
    static const struct plan no_rests;
    assert_close(reserve_run_of(&no_rests, 100, 10000, 0).reserve.tau_s, 516.862, 0.001);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(work_above_critical_power_is_spent, set_up),
        cmocka_unit_test_setup(it_comes_back_while_the_block_is_held, set_up),
        cmocka_unit_test_setup(a_gap_is_left_out, set_up),
        cmocka_unit_test_setup(one_that_is_not_known_stays_so, set_up),
        cmocka_unit_test_setup(rests_of_the_plan_set_the_time_constant, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
