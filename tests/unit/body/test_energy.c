#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/energy.h"
#include "support/close.h"

enum { GAP_LIMIT_MS = 5000 };

/* ---- work: trapezoids, by hand ---- */

struct sample {
    uint64_t t_ms;
    int32_t power_w;
};

static struct work work_of(const struct sample *samples, size_t count)
{
    struct work work = {0};
    for (size_t i = 0; i < count; i++)
        work_add(&work, samples[i].t_ms, samples[i].power_w, GAP_LIMIT_MS);
    return work;
}

static void work_is_the_area_of_trapezoids(void **state)
{
    (void)state;
    static const struct sample even[] = {
        {0, 0}, {1000, 200}, {2000, 200}, {3000, 300}, {4000, 300}};
    static const struct sample uneven[] = {{7000, 100}, {8000, 200}, {9500, 150}, {10000, 0}};
    struct work work = work_of(even, 5); /* 100 + 200 + 250 + 300 J */
    assert_int_equal(work_j(&work), 850);
    assert_int_equal(work.half_mj, 1700000);
    assert_int_equal(work.known_ms, 4000);
    work = work_of(uneven, 4); /* 150 + 262.5 + 37.5 J */
    assert_int_equal(work.half_mj, 900000);
    assert_int_equal(work_j(&work), 450);
}

/* 8 * (20 s at 300 W + 10 s at 50 W) = 8 * 6.5 kJ; two samples at one time are a step. */
static void eight_rounds_come_to_52_kj(void **state)
{
    (void)state;
    struct work work = {0};
    for (uint64_t round = 0; round < 8; round++) {
        for (uint64_t second = 0; second <= 20; second++)
            work_add(&work, (round * 30 + second) * 1000, 300, GAP_LIMIT_MS);
        for (uint64_t second = 20; second <= 30; second++)
            work_add(&work, (round * 30 + second) * 1000, 50, GAP_LIMIT_MS);
    }
    assert_int_equal(work.half_mj, 104000000);
    assert_int_equal(work.known_ms, 240000);
}

static void a_gap_is_not_made_up(void **state)
{
    (void)state;
    static const struct sample samples[] = {
        {0, 200}, {1000, 200}, {6000, 200}, {11001, 200}, {12001, 200}};
    struct work work = work_of(samples, 5); /* 5000 ms still count, 5001 do not */
    assert_int_equal(work_j(&work), 1400);
    assert_int_equal(work.known_ms, 7000);
}

static void a_late_sample_is_left_out(void **state)
{
    (void)state;
    static const struct sample samples[] = {{1000, 100}, {2000, 100}, {1500, 900}, {3000, 100}};
    struct work work = work_of(samples, 4);
    assert_int_equal(work_j(&work), 200);
    assert_int_equal(work.known_ms, 2000);
}

static void work_rounds_to_the_nearest_joule(void **state)
{
    (void)state;
    static const struct {
        int64_t half_mj;
        int64_t expected_j;
    } rows[] = {{0, 0},    {999, 0},  {1000, 1},   {2999, 1},
                {3000, 2}, {-999, 0}, {-1000, -1}, {-2999, -1}};
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct work work = {.half_mj = rows[i].half_mj};
        assert_int_equal(work_j(&work), rows[i].expected_j);
    }
}

static void power_is_held_to_sixteen_bits(void **state)
{
    (void)state;
    static const struct sample samples[] = {{0, INT32_MAX}, {1000, INT32_MAX}};
    struct work work = work_of(samples, 2);
    assert_int_equal(work_j(&work), 32767);
    assert_int_equal(work_power_w(INT32_MIN), -32768);
    assert_int_equal(work_power_w(-5), -5);
}

/* ---- energy ---- */

static void the_range_spans_what_riders_have(void **state)
{
    (void)state;
    struct energy_range range = energy_range(60); /* 60 / 4.184 / 0.24, 0.20, 0.18 */
    assert_close(range.low_kcal, 59.751, 0.001);
    assert_close(range.mid_kcal, 71.702, 0.001);
    assert_close(range.high_kcal, 79.669, 0.001);
    assert_close(energy_range(1).mid_kcal, 1.195029, 1e-6); /* of the other kilocalorie 1.194229 */
}

/* ---- oxygen ---- */

/* In kg m/min, of which the equation takes six for a watt. */
static void oxygen_agrees_with_worked_examples(void **state)
{
    (void)state;
    /* ACSM course notes: 62 kg at 450 kg m/min, printed 20. */
    assert_close(oxygen_cost(450 / 6.0, 62).vo2_ml_kg_min, 20.065, 0.001);
    /* A university's in-class key: 190 lb at 840 kg m/min, printed 24.51. */
    struct oxygen_cost cost = oxygen_cost(840 / 6.0, 190 / 2.2);
    assert_close(cost.vo2_ml_kg_min, 24.507, 0.005);
    /* A published problem set; answers by hand. */
    cost = oxygen_cost(1125 / 6.0, 80);
    assert_close(cost.vo2_ml_kg_min, 32.3125, 0.001);
    assert_close(cost.kcal_min, 12.925, 0.001);
}

static void oxygen_in_watts_by_hand(void **state)
{
    (void)state;
    struct oxygen_cost cost = oxygen_cost(100, 70); /* 10.8 * 100 / 70 + 7 */
    assert_close(cost.vo2_ml_kg_min, 22.429, 0.001);
    assert_close(cost.kcal_min, 7.850, 0.001);
    cost = oxygen_cost(200, 80);
    assert_close(cost.vo2_ml_kg_min, 34.000, 0.001);
    assert_close(cost.kcal_min, 13.600, 0.001);
    /* One solution in print forgets the 7 and has 17.28. */
    assert_close(oxygen_cost(120, 75).vo2_ml_kg_min, 24.280, 0.001);
    assert_close(oxygen_cost(100, 0).vo2_ml_kg_min, 0, 0);
    assert_close(oxygen_cost(100, -1).vo2_ml_kg_min, 0, 0);
}

static void the_equation_says_where_it_does_not_hold(void **state)
{
    (void)state;
    /* ACSM course notes: 50 to 200 W. */
    assert_true(oxygen_cost(49, 75).extrapolated);
    assert_false(oxygen_cost(50, 75).extrapolated);
    assert_false(oxygen_cost(200, 75).extrapolated);
    assert_true(oxygen_cost(201, 75).extrapolated);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(work_is_the_area_of_trapezoids),
        cmocka_unit_test(eight_rounds_come_to_52_kj),
        cmocka_unit_test(a_gap_is_not_made_up),
        cmocka_unit_test(a_late_sample_is_left_out),
        cmocka_unit_test(work_rounds_to_the_nearest_joule),
        cmocka_unit_test(power_is_held_to_sixteen_bits),
        cmocka_unit_test(the_range_spans_what_riders_have),
        cmocka_unit_test(oxygen_agrees_with_worked_examples),
        cmocka_unit_test(oxygen_in_watts_by_hand),
        cmocka_unit_test(the_equation_says_where_it_does_not_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
