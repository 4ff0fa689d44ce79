/* What a block adds up to. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "ride/totals.h"

static const struct rider nobody;
static const struct plan_step work_200_w = {
    .kind = STEP_WORK, .duration_ms = 60000, .targets.power_w = {true, 190, 210}};
static const struct plan_step work_90_rpm = {
    .kind = STEP_WORK, .duration_ms = 60000, .targets.cadence_rpm = {true, 85, 95}};
static const struct plan_step rest = {.kind = STEP_REST, .duration_ms = 60000};

static void put(struct totals *totals, const struct plan_step *step, uint64_t t_ms, int32_t power_w)
{
    const struct telemetry data = {.has = HAS_POWER, .power_w = power_w};
    totals_sample(totals, &nobody, step, t_ms, &data);
}

static struct summary sum(const struct totals *totals)
{
    struct summary summary;
    totals_summary(totals, &summary);
    return summary;
}

/* Trapezoids over uneven samples: arithmetic. */
static void work_is_the_area_under_the_samples(void **state)
{
    struct totals totals = {0};

    (void)state;
    put(&totals, &work_200_w, 0, 100);
    put(&totals, &work_200_w, 1000, 200);
    put(&totals, &work_200_w, 2500, 150);
    put(&totals, &work_200_w, 3000, 0);
    assert_int_equal(sum(&totals).work_j, 450);
    assert_int_equal(sum(&totals).average_power_w, 150);
}

static void a_gap_is_not_invented(void **state)
{
    struct totals totals = {0};

    (void)state;
    put(&totals, &work_200_w, 0, 200);
    put(&totals, &work_200_w, 1000, 200);
    put(&totals, &work_200_w, 5000, 200); /* 4 s later */
    put(&totals, &work_200_w, 6000, 200);
    assert_int_equal(sum(&totals).work_j, 400);
    assert_int_equal(sum(&totals).average_power_w, 200);
}

static void a_break_does_not_join(void **state)
{
    struct totals totals = {0};

    (void)state;
    put(&totals, &work_200_w, 0, 200);
    put(&totals, &work_200_w, 1000, 200);
    totals_break(&totals);
    put(&totals, &work_200_w, 2000, 200);
    put(&totals, &work_200_w, 3000, 200);
    assert_int_equal(sum(&totals).work_j, 400);
}

static void work_power_is_that_of_the_work_steps(void **state)
{
    struct totals totals = {0};
    uint64_t t_ms = 0;

    (void)state;
    for (int i = 0; i <= 40; i++, t_ms += 250)
        put(&totals, &work_200_w, t_ms, 300);
    for (int i = 0; i <= 40; i++, t_ms += 250)
        put(&totals, &rest, t_ms, 100);
    for (int i = 0; i <= 40; i++, t_ms += 250)
        put(&totals, &work_200_w, t_ms, 320);
    assert_int_equal(sum(&totals).work_power_w, 310);
    /* 10 s each at 300, 100 and 320 W, and a quarter of a second between them twice. */
    assert_int_equal(sum(&totals).work_j, 3000 + 1000 + 3200 + 50 + 53);
}

/* The road model at 200 W for 240 s: 2269.46 m with rider and bike at 80 kg, from the equation of
 * Martin et al. 1998 (J Appl Biomech 14:276) and the constants in body/road.h. */
static void distance_comes_from_the_road_where_the_machine_has_none(void **state)
{
    struct totals totals = {0};

    (void)state;
    for (uint64_t t_ms = 0; t_ms <= 240000; t_ms += 1000)
        put(&totals, &rest, t_ms, 200);
    assert_in_range(sum(&totals).distance_m, 2267, 2270);
}

static void distance_of_the_machine_is_that_of_the_block(void **state)
{
    static const struct {
        int32_t counted_m, block_m;
    } rows[] = {
        {16777000, 0},   {16777100 - 50, 50}, {16777100, 100}, {0, 100}, /* reset */
        {10, 110},       {16000000, 110},                                /* a leap */
        {16000005, 115}, {16000005, 115},
    };
    struct totals totals = {0};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct telemetry data = {
            .has = HAS_POWER | HAS_DISTANCE, .power_w = 200, .distance_m = rows[i].counted_m};
        totals_sample(&totals, &nobody, &rest, 1000 * i, &data);
        assert_int_equal(sum(&totals).distance_m, rows[i].block_m);
    }
}

static void a_second_is_judged_on_the_mean_of_three(void **state)
{
    /* Four samples a second; the mean of the last twelve. */
    static const struct {
        int32_t power_w[4];
        int32_t in_range_s;
    } seconds[] = {
        {{200, 200, 200, 200}, 1}, {{190, 210, 190, 210}, 2},
        {{230, 230, 230, 230}, 3}, /* mean 210: the edge belongs to the range */
        {{231, 230, 230, 230}, 3}, /* mean 220.1 */
        {{200, 200, 200, 200}, 3}, /* mean 220.1 */
        {{180, 180, 180, 180}, 4}, /* mean 203.4 */
    };
    struct totals totals = {0};
    uint64_t t_ms = 0;

    (void)state;
    for (size_t i = 0; i < sizeof seconds / sizeof seconds[0]; i++) {
        for (size_t j = 0; j < 4; j++, t_ms += 250)
            put(&totals, &work_200_w, t_ms, seconds[i].power_w[j]);
        totals_second(&totals, &work_200_w.targets, t_ms - 250);
        assert_int_equal(totals.in_range_s, seconds[i].in_range_s);
    }
    assert_int_equal(totals.work_s, 6);
}

static void cadence_is_judged_where_no_power_is_asked_for(void **state)
{
    struct totals totals = {0};
    struct telemetry data = {.has = HAS_POWER | HAS_CADENCE, .power_w = 500, .cadence_rpm = 95};

    (void)state;
    totals_sample(&totals, &nobody, &work_90_rpm, 0, &data);
    totals_second(&totals, &work_90_rpm.targets, 500);
    assert_int_equal(totals.in_range_s, 1);
    data.cadence_rpm = 98;
    totals_sample(&totals, &nobody, &work_90_rpm, 1000, &data);
    totals_second(&totals, &work_90_rpm.targets, 1500);
    assert_int_equal(totals.in_range_s, 1);
}

static void silence_is_not_in_range(void **state)
{
    struct totals totals = {0};

    (void)state;
    totals_second(&totals, &work_200_w.targets, 1000);
    put(&totals, &work_200_w, 1000, 200);
    totals_second(&totals, &work_200_w.targets, 4000); /* the sample is 3 s old */
    assert_int_equal(totals.work_s, 2);
    assert_int_equal(totals.in_range_s, 0);
}

static void nothing_ridden_is_nothing(void **state)
{
    const struct totals totals = {0};

    (void)state;
    assert_int_equal(sum(&totals).work_j, 0);
    assert_int_equal(sum(&totals).average_power_w, 0);
    assert_int_equal(sum(&totals).best_5s_w, 0);
    assert_int_equal(sum(&totals).average_heart_bpm, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(work_is_the_area_under_the_samples),
        cmocka_unit_test(a_gap_is_not_invented),
        cmocka_unit_test(a_break_does_not_join),
        cmocka_unit_test(work_power_is_that_of_the_work_steps),
        cmocka_unit_test(distance_comes_from_the_road_where_the_machine_has_none),
        cmocka_unit_test(distance_of_the_machine_is_that_of_the_block),
        cmocka_unit_test(a_second_is_judged_on_the_mean_of_three),
        cmocka_unit_test(cadence_is_judged_where_no_power_is_asked_for),
        cmocka_unit_test(silence_is_not_in_range),
        cmocka_unit_test(nothing_ridden_is_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
