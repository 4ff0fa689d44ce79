#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/critical_power.h"
#include "support/close.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct pair {
    double power_w, w_prime_j;
};

/* Rides to exhaustion at constant power of five riders, from the open data set of Weigend, Gray,
 * Obst & Siegler 2022, arXiv:2207.14295 (VO2_study in their repository, MIT licence). The fits are
 * those stored with it; standard errors are those of ordinary least squares, n - 2 degrees of
 * freedom. */
struct rider_row {
    size_t count;
    struct trial trials[5];
    struct pair work_time, work_time_error, inverse, inverse_error, hyperbolic;
};

static const struct rider_row riders[] = {
    {5,
     {{118, 324}, {157, 299}, {200, 275}, {240, 259}, {485, 243}},
     {217.198, 11910.4},
     {4.629, 1261.7},
     {210.961, 13239.8},
     {6.519, 1156.0},
     {221.007, 10479.7}},
    {5,
     {{137, 428}, {196, 396}, {277, 364}, {328, 343}, {484, 332}},
     {290.566, 19417.4},
     {6.147, 1896.1},
     {291.716, 19143.1},
     {7.026, 1526.7},
     {291.033, 19098.2}},
    {4,
     {{155, 307}, {266, 280}, {410, 265}, {708, 252}},
     {236.254, 11383.9},
     {1.151, 503.1},
     {237.962, 10819.7},
     {1.569, 393.3},
     {235.153, 11963.9}},
    {5,
     {{190, 288}, {259, 265}, {328, 245}, {528, 230}, {730, 224}},
     {201.492, 15727.8},
     {2.651, 1199.0},
     {198.563, 16790.1},
     {3.572, 1054.5},
     {204.066, 14268.9}},
    {5,
     {{141, 276}, {179, 255}, {249, 234}, {291, 221}, {365, 214}},
     {173.629, 14510.5},
     {3.004, 773.8},
     {173.816, 14468.9},
     {2.679, 553.9},
     {173.295, 14582.2}},
};

static struct critical_power fitted(enum critical_power_form form, const struct trial *trials,
                                    size_t count)
{
    struct critical_power fit = {0};
    assert_int_equal(critical_power_fit(form, trials, count, &fit), RESULT_OK);
    return fit;
}

static void published_fits(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(riders); i++) {
        const struct rider_row *row = &riders[i];
        struct critical_power fit = fitted(CRITICAL_POWER_WORK_TIME, row->trials, row->count);
        assert_close(fit.power_w, row->work_time.power_w, 0.001);
        assert_close(fit.w_prime_j, row->work_time.w_prime_j, 0.1);
        assert_true(fit.has_errors);
        assert_close(fit.power_error_w, row->work_time_error.power_w, 0.001);
        assert_close(fit.w_prime_error_j, row->work_time_error.w_prime_j, 0.1);

        fit = fitted(CRITICAL_POWER_INVERSE_TIME, row->trials, row->count);
        assert_close(fit.power_w, row->inverse.power_w, 0.001);
        assert_close(fit.w_prime_j, row->inverse.w_prime_j, 0.1);
        assert_close(fit.power_error_w, row->inverse_error.power_w, 0.001);
        assert_close(fit.w_prime_error_j, row->inverse_error.w_prime_j, 0.1);

        fit = fitted(CRITICAL_POWER_HYPERBOLIC, row->trials, row->count);
        assert_close(fit.power_w, row->hyperbolic.power_w, 0.005);
        assert_close(fit.w_prime_j, row->hyperbolic.w_prime_j, 1);
    }
}

/* 15 kJ above 200 W, to the watt. */
static void trials_without_noise_give_what_made_them(void **state)
{
    (void)state;
    static const struct trial trials[] = {{600, 225}, {300, 250}, {200, 275}, {150, 300}};
    for (enum critical_power_form form = CRITICAL_POWER_WORK_TIME;
         form <= CRITICAL_POWER_HYPERBOLIC; form++) {
        for (size_t count = 2; count <= COUNT(trials); count++) {
            const struct critical_power fit = fitted(form, trials, count);
            assert_close(fit.power_w, 200, 1e-6);
            assert_close(fit.w_prime_j, 15000, 1e-3);
            assert_int_equal(fit.has_errors, count > 2);
            assert_close(fit.power_error_w, 0, 1e-4);
        }
    }
}

/* (160688 - 58636) J / (484 - 137) s */
static void two_trials(void **state)
{
    (void)state;
    static const struct trial trials[] = {{137, 428}, {484, 332}};
    const struct critical_power fit = fitted(CRITICAL_POWER_WORK_TIME, trials, 2);
    assert_close(fit.power_w, 294.098, 0.001);
    assert_close(fit.w_prime_j, 18344.6, 0.1);
    assert_false(fit.has_errors);
}

static void trials_that_say_nothing(void **state)
{
    (void)state;
    static const struct {
        size_t count;
        struct trial trials[4];
        enum result result;
    } rows[] = {
        {0, {{0, 0}}, RESULT_NEED_MORE},
        {1, {{300, 250}}, RESULT_NEED_MORE},
        {2, {{300, 250}, {0, 200}}, RESULT_INVALID},
        {2, {{300, 250}, {200, -1}}, RESULT_INVALID},
        {2, {{NAN, 250}, {200, 300}}, RESULT_INVALID},
        {2, {{300, INFINITY}, {200, 300}}, RESULT_INVALID},
        {2, {{300, 250}, {300, 250}}, RESULT_RANGE},
        {2, {{300, 250}, {600, 300}}, RESULT_RANGE}, /* longer and harder */
        {2, {{300, 250}, {600, 100}}, RESULT_RANGE}, /* less work in twice the time */
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        for (enum critical_power_form form = CRITICAL_POWER_WORK_TIME;
             form <= CRITICAL_POWER_HYPERBOLIC; form++) {
            struct critical_power fit = {.power_w = -7};
            assert_int_equal(critical_power_fit(form, rows[i].trials, rows[i].count, &fit),
                             rows[i].result);
            assert_close(fit.power_w, -7, 0);
        }
    }
    static struct trial many[CRITICAL_POWER_TRIALS_MAX + 1];
    struct critical_power fit;
    assert_int_equal(critical_power_fit(CRITICAL_POWER_WORK_TIME, many, COUNT(many), &fit),
                     RESULT_FULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_fits),
        cmocka_unit_test(trials_without_noise_give_what_made_them),
        cmocka_unit_test(two_trials),
        cmocka_unit_test(trials_that_say_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
