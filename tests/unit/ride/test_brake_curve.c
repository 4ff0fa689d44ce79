/* Brakes whose power is known are learned from it; nonsense teaches nothing absurd. */
#include "ride/brake_curve.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

/* Of an eddy-current brake with 30 N m at 120 rpm (Wouterse 1991, IEE Proc B 138:153; the closed
 * form from memory): 2 tau_max omega_c x² / (1 + x²), x = rpm / 120. */
static double eddy_w(double excitation, double rpm)
{
    const double x = rpm / 120;

    return excitation * 2 * 30 * (120 * 2 * 3.14159265358979 / 60) * x * x / (1 + x * x);
}

/* Torque that speed does not change: 1 N m at 60 rpm is 2 pi W. */
static double pad_w(double share, double rpm)
{
    return (2 + 30 * share) * rpm * 2 * 3.14159265358979 / 60;
}

static double bent_w(double share, double rpm)
{
    return eddy_w(0.3 * share + 0.7 * share * share, rpm) + rpm * 0.2;
}

typedef double brake(double share, double rpm);

static void teach(struct brake_model *model, brake *power_w)
{
    static const double shares[] = {0.1, 0.35, 0.6, 0.85};
    static const double cadences_rpm[] = {65, 75, 85, 95};

    for (int round = 0; round < 20; round++)
        for (size_t i = 0; i < 4; i++)
            for (size_t j = 0; j < 4; j++)
                brake_model_learn(model, shares[i], cadences_rpm[j],
                                  power_w(shares[i], cadences_rpm[j]));
}

/* The curve has four terms and these brakes do not: within 8 %, or 8 W. */
static void every_kind_of_brake_is_learned(void **state)
{
    static brake *const brakes[] = {eddy_w, pad_w, bent_w};
    (void)state;

    for (size_t kind = 0; kind < 3; kind++) {
        struct brake_model model;

        brake_model_init(&model, &(struct brake_curve){0});
        teach(&model, brakes[kind]);
        for (double share = 0.1; share <= 0.85; share += 0.05)
            for (double rpm = 65; rpm <= 95; rpm += 5) {
                const double true_w = brakes[kind](share, rpm);
                const double off_w = brake_model_power_w(&model, share, rpm) - true_w;
                const double most_w = true_w * 0.08 > 8 ? true_w * 0.08 : 8;

                assert_true(off_w <= most_w && off_w >= -most_w);
            }
    }
}

static void what_was_seen_is_known_better(void **state)
{
    struct brake_model model;
    (void)state;

    brake_model_init(&model, &(struct brake_curve){0});
    const double before_w2 = brake_model_variance_w2(&model, 0.5, 80);

    /* The usual bike at half of its levels, to a factor: 20 + 200 W, 0.6 of it either way. */
    assert_true(before_w2 > 100.0 * 100.0);
    teach(&model, eddy_w);
    assert_true(brake_model_variance_w2(&model, 0.5, 80) < 10.0 * 10.0);
}

/* A level that no rider used for an hour is not forgotten, and not taken for more certain. */
static void an_hour_at_one_level_leaves_the_others(void **state)
{
    struct brake_model model;
    (void)state;

    brake_model_init(&model, &(struct brake_curve){0});
    teach(&model, pad_w);
    for (int second = 0; second < 3600; second++)
        brake_model_learn(&model, 0.1, 85, pad_w(0.1, 85));
    const double off_w = brake_model_power_w(&model, 0.85, 85) - pad_w(0.85, 85);

    assert_true(off_w < 25 && off_w > -25);
    assert_true(brake_model_variance_w2(&model, 0.85, 85) < 200.0 * 200.0);
}

/* Whatever comes from the air: power rises with level and with cadence, and stays a number. */
static void no_readings_bend_it_out_of_shape(void **state)
{
    struct brake_model model;
    uint32_t seed = 1;
    (void)state;

    brake_model_init(&model, &(struct brake_curve){0});
    for (int i = 0; i < 20000; i++) {
        double chance[3];

        for (size_t j = 0; j < 3; j++) {
            seed = seed * 1664525u + 1013904223u;
            chance[j] = (seed >> 8) / 16777216.0;
        }
        brake_model_learn(&model, chance[0], chance[1] * 250, chance[2] * 2550 - 50);
        for (double share = 0; share <= 0.9; share += 0.3)
            for (double rpm = 40; rpm <= 150; rpm += 55) {
                const double here_w = brake_model_power_w(&model, share, rpm);

                assert_true(here_w >= 0 && here_w < 20000);
                assert_true(brake_model_power_w(&model, share + 0.1, rpm) > here_w);
                assert_true(brake_model_power_w(&model, share, rpm + 5) >= here_w);
                assert_true(brake_model_variance_w2(&model, share, rpm) > -1);
            }
    }
}

static void a_curve_comes_back(void **state)
{
    struct brake_model model, again;
    (void)state;

    brake_model_init(&model, &(struct brake_curve){0});
    teach(&model, bent_w);
    const struct brake_curve curve = brake_model_curve(&model);

    assert_true(brake_curve_is_known(&curve));
    assert_false(brake_curve_is_known(&(struct brake_curve){0}));
    brake_model_init(&again, &curve);
    const double off_w =
        brake_model_power_w(&again, 0.5, 80) - brake_model_power_w(&model, 0.5, 80);
    assert_true(off_w < 0.1 && off_w > -0.1);
    /* Known, so far less in doubt than that of a bike never seen. */
    assert_true(brake_model_variance_w2(&again, 0.5, 80) < 30.0 * 30.0);
}

static void a_curve_of_nonsense_is_brought_within_bounds(void **state)
{
    static const struct brake_curve curves[] = {
        {{INT32_MIN, 1, INT32_MAX, INT32_MIN}, INT32_MIN},
        {{INT32_MAX, INT32_MAX, INT32_MAX, INT32_MAX}, INT32_MAX},
        {{0, 1000, 0, -1000000}, 500},
    };
    (void)state;

    for (size_t i = 0; i < sizeof curves / sizeof curves[0]; i++) {
        struct brake_model model;

        brake_model_init(&model, &curves[i]);
        assert_true(brake_model_power_w(&model, 0, 60) >= 0);
        assert_true(brake_model_power_w(&model, 1, 60) > brake_model_power_w(&model, 0.9, 60));
    }
}

static void still_legs_teach_nothing(void **state)
{
    struct brake_model model, before;
    (void)state;

    brake_model_init(&model, &(struct brake_curve){0});
    before = model;
    brake_model_learn(&model, 0.5, 0, 0);
    assert_memory_equal(&model, &before, sizeof model);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_of_brake_is_learned),
        cmocka_unit_test(what_was_seen_is_known_better),
        cmocka_unit_test(an_hour_at_one_level_leaves_the_others),
        cmocka_unit_test(no_readings_bend_it_out_of_shape),
        cmocka_unit_test(a_curve_comes_back),
        cmocka_unit_test(a_curve_of_nonsense_is_brought_within_bounds),
        cmocka_unit_test(still_legs_teach_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
