#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "ride/mark.h"

/* 10 s of warm-up at 100 W, 180 s of intervals at 200 W, 20 s of cool-down at 50 W: 1, 36 and 1 kJ.
 * At 8 m/s, whatever the power. */
enum { WARM_UP_S = 10, INTERVALS_S = 180, COOL_DOWN_S = 20 };

static int64_t power_w_at(uint32_t second)
{
    return second < WARM_UP_S ? 100 : second < WARM_UP_S + INTERVALS_S ? 200 : 50;
}

static struct plan plan_of(uint32_t intervals_s)
{
    return (struct plan){
        .step_count = 3,
        .steps = {{.kind = STEP_WARM_UP, .duration_ms = WARM_UP_S * 1000},
                  {.kind = STEP_WORK, .duration_ms = intervals_s * 1000},
                  {.kind = STEP_COOL_DOWN, .duration_ms = COOL_DOWN_S * 1000}},
    };
}

/* A ride as far as the mark looks at it: where its clock and its sums are. */
static void put_at(struct ride *ride, uint32_t block_ms, int64_t work_j, int32_t distance_m)
{
    ride->block_ms = block_ms;
    ride->totals.work.half_mj = work_j * 2000;
    ride->totals.machine_counts = true;
    ride->totals.machine_m = distance_m;
}

static struct ride ride;
static struct mark_curve curve;

static int ride_the_mark(void **state)
{
    (void)state;
    int64_t work_j = 0;
    memset(&ride, 0, sizeof ride);
    memset(&curve, 0, sizeof curve);
    ride.setup.plan = plan_of(INTERVALS_S);
    for (uint32_t second = 0; second < WARM_UP_S + INTERVALS_S + COOL_DOWN_S; second++) {
        put_at(&ride, second * 1000, work_j, (int32_t)(8 * second));
        mark_curve_take(&curve, &ride);
        work_j += power_w_at(second);
    }
    put_at(&ride, 210200, work_j, 1680); /* the last tick is late */
    mark_curve_take(&curve, &ride);
    return 0;
}

static struct mark mark_over(enum mark_measure measure, uint32_t intervals_s, int32_t slope_w)
{
    const struct plan plan = plan_of(intervals_s);
    return mark_of(&curve, measure, &plan, slope_w, 3.0);
}

static void runs_second_by_second(void **state)
{
    (void)state;
    const struct mark mark = mark_over(MARK_WORK, INTERVALS_S, 0);
    static const struct {
        uint32_t block_ms;
        int64_t work_j, distance_m;
    } rows[] = {
        {0, 0, 0},
        {5000, 500, 40},
        {10000, 1000, 80},
        {10500, 1100, 84},
        {100000, 19000, 800},
        {190000, 37000, 1520},
        {210200, 38000, 1680},
        {400000, 38000, 1680},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct mark_point point = mark_at(&mark, rows[i].block_ms);
        assert_int_equal(point.work_j, rows[i].work_j);
        assert_int_equal(point.distance_m, rows[i].distance_m);
    }
}

/* After 100 s 19.0 kJ and 800 m were done; this block has 19.95 kJ and 820 m. */
static void ahead_in_every_measure(void **state)
{
    (void)state;
    const struct mark_point now = {100000, 19950, 820};
    static const struct {
        enum mark_measure measure;
        int64_t ahead, finish;
    } rows[] = {
        {MARK_WORK, 950, 38950},
        {MARK_POWER, 9500, 185300}, /* 199.5 and 190 W; 38950 J in 210.2 s */
        {MARK_DISTANCE, 20, 1700},
        {MARK_TIME, 4750, 210200 - 4750}, /* 950 J at 200 W */
        {MARK_CALORIES, 1135, 46546},     /* 950 and 38950 J by 4.184 and 0.20 */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct mark mark = mark_over(rows[i].measure, INTERVALS_S, 0);
        const struct mark_state at = mark_state(&mark, &now);
        assert_in_range(at.ahead, rows[i].ahead - 1, rows[i].ahead + 1);
        assert_in_range(at.finish, rows[i].finish - 1, rows[i].finish + 1);
        assert_false(at.is_beaten);
    }
}

/* 3 % sqrt 2 of 38 kJ is 1612 J with all to come; with half to come by sqrt 2 less. */
static void the_finish_gets_surer(void **state)
{
    (void)state;
    const struct mark mark = mark_over(MARK_WORK, INTERVALS_S, 0);
    assert_in_range(mark_state(&mark, &(struct mark_point){0, 0, 0}).finish_error, 1611, 1613);
    assert_in_range(mark_state(&mark, &(struct mark_point){100000, 19000, 800}).finish_error, 1139,
                    1141);
    assert_int_equal(mark_state(&mark, &(struct mark_point){210200, 39000, 0}).finish_error, 0);
}

static void ends_as_the_sums_differ_to_the_joule(void **state)
{
    (void)state;
    const struct mark mark = mark_over(MARK_WORK, INTERVALS_S, 250);
    const struct mark_state behind = mark_state(&mark, &(struct mark_point){210250, 37999, 0});
    assert_int_equal(behind.ahead, -1);
    assert_int_equal(behind.finish, 37999);
    assert_false(behind.is_beaten);
    assert_true(mark_state(&mark, &(struct mark_point){209000, 38001, 0}).is_beaten);

    const struct mark way = mark_over(MARK_DISTANCE, INTERVALS_S, 250);
    assert_false(mark_state(&way, &(struct mark_point){209000, 39000, 1680}).is_beaten);
    assert_true(mark_state(&way, &(struct mark_point){209000, 100, 1681}).is_beaten);
}

/* 60 s more or less along a line of 150 W: 9 kJ, as body/compare would have it. */
static void other_lengths_along_the_line(void **state)
{
    (void)state;
    const struct mark longer = mark_over(MARK_WORK, INTERVALS_S + 60, 150);
    assert_int_equal(mark_end(&longer).work_j, 38000 + 9000);
    assert_int_equal(mark_end(&longer).block_ms, 270200);
    assert_int_equal(mark_at(&longer, 10000).work_j, 1000);
    /* 45 of 48 kJ in the intervals: half of them half of that. */
    assert_int_equal(mark_at(&longer, 130000).work_j, 1000 + 22500);
    assert_int_equal(mark_at(&longer, 250000).work_j, 1000 + 45000);

    const struct mark shorter = mark_over(MARK_WORK, INTERVALS_S - 60, 150);
    assert_int_equal(mark_end(&shorter).work_j, 38000 - 9000);
    assert_int_equal(mark_at(&shorter, 70000).work_j, 1000 + 13500);
    assert_int_equal(mark_at(&shorter, 130000).work_j, 1000 + 27000);

    /* Without a slope: on at its mean, or cut. */
    const struct mark on = mark_over(MARK_WORK, INTERVALS_S + 60, 0);
    assert_int_equal(mark_end(&on).work_j, 38000 + 12000);
    assert_int_equal(mark_end(&on).distance_m, 1680 + 480);
    const struct mark cut = mark_over(MARK_WORK, INTERVALS_S - 60, 0);
    assert_int_equal(mark_end(&cut).work_j, 38000 - 12000);
}

/* However this block goes, it is never further on than a moment before, then a moment after. */
static void never_goes_back(void **state)
{
    (void)state;
    for (uint32_t length_s = 180; length_s <= 420; length_s += 30) {
        const struct mark mark = mark_over(MARK_WORK, length_s, 150);
        int64_t before_j = 0;
        for (uint32_t ms = 0; ms < 500000; ms += 250) {
            const int64_t work_j = mark_at(&mark, ms).work_j;
            assert_true(work_j >= before_j);
            before_j = work_j;
        }
    }
}

/* 3 PJ after 10 km, then less than none: sums are bounded, and nothing overflows. */
static void what_no_ride_does_stays_a_number(void **state)
{
    (void)state;
    static struct ride wild;
    static struct mark_curve wild_curve;
    wild.setup.plan = plan_of(INTERVALS_S);
    put_at(&wild, 190000, INT64_C(3000000000000000), 10000);
    mark_curve_take(&wild_curve, &wild);
    put_at(&wild, UINT32_MAX, -INT64_C(3000000000000000), INT32_MAX);
    mark_curve_take(&wild_curve, &wild);
    const struct plan longer = plan_of(INTERVALS_S + 60);
    for (enum mark_measure measure = MARK_WORK; measure < MARK_MEASURE_COUNT; measure++) {
        const struct mark mark = mark_of(&wild_curve, measure, &longer, UINT16_MAX, 3.0);
        for (uint32_t s = 0; s < UINT32_MAX / 1000; s += 1000) {
            const struct mark_point now = mark_point_of(&wild), then = mark_at(&mark, s * 1000);
            assert_in_range(then.work_j + 3000000000, 0, 6000000000);
            assert_true(mark_state(&mark, &now).finish_error >= 0);
        }
    }
}

/* What an earlier block is said to have done may come from any file that was brought in. */
static void no_finish_is_less_sure_than_the_whole(void **state)
{
    (void)state;
    const struct plan plan = plan_of(INTERVALS_S);
    const struct mark mark = mark_of(&curve, MARK_WORK, &plan, 0, 1e20);
    assert_in_range(mark_state(&mark, &(struct mark_point){0, 0, 0}).finish_error, 38000, 53741);
}

static void a_mark_of_nothing_is_zero(void **state)
{
    (void)state;
    static const struct mark_curve empty;
    const struct plan plan = plan_of(INTERVALS_S);
    for (enum mark_measure measure = MARK_WORK; measure < MARK_MEASURE_COUNT; measure++) {
        const struct mark mark = mark_of(&empty, measure, &plan, 150, 3.0);
        const struct mark_state at = mark_state(&mark, &(struct mark_point){0, 0, 0});
        assert_int_equal(at.ahead, 0);
        assert_int_equal(at.finish_error, 0);
    }
    assert_string_equal(mark_measure_text(MARK_CALORIES), "calories");
    assert_string_equal(mark_measure_text(MARK_MEASURE_COUNT), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs_second_by_second),
        cmocka_unit_test(ahead_in_every_measure),
        cmocka_unit_test(the_finish_gets_surer),
        cmocka_unit_test(ends_as_the_sums_differ_to_the_joule),
        cmocka_unit_test(other_lengths_along_the_line),
        cmocka_unit_test(never_goes_back),
        cmocka_unit_test(what_no_ride_does_stays_a_number),
        cmocka_unit_test(no_finish_is_less_sure_than_the_whole),
        cmocka_unit_test(a_mark_of_nothing_is_zero),
    };
    return cmocka_run_group_tests(tests, ride_the_mark, NULL);
}
