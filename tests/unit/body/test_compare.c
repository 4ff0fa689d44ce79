#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/chance.h"
#include "body/compare.h"
#include "support/close.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* ---- typical error ---- */

/* Standard deviation of the changes 1.58114, by sqrt 2 (method: Hopkins 2000, Sports Med 30:1). */
static void typical_error_of_changes(void **state)
{
    (void)state;
    static const double changes[] = {2, -1, 3, 0, 1};
    assert_close(compare_typical_error(changes, 5), 1.11803, 1e-5);
    assert_close(compare_typical_error(changes, 1), 0, 0);
    assert_close(compare_typical_error(NULL, 0), 0, 0);
}

/* For m changes trace(MR)^2 / trace(MRMR) with the matrices written out and multiplied: 1.00,
 * 1.88, 2.65, 3.37, 6.80, 12.84, 20.86. */
static void degrees_of_freedom(void **state)
{
    (void)state;
    static const struct {
        size_t blocks;
        uint32_t freedom;
    } rows[] = {{0, 0}, {2, 0}, {3, 1}, {4, 1}, {5, 2}, {6, 3}, {11, 6}, {20, 12}, {32, 20}};
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_int_equal(compare_freedom(rows[i].blocks), rows[i].freedom);
}

/* With the 2.7 % of weekly all-out rides of 4 min (trained riders, 2014, IJSPP): one block against
 * one, three against three. */
static void chance_of_a_rise(void **state)
{
    (void)state;
    static const struct {
        double before, now;
        uint32_t blocks;
        double chance;
    } rows[] = {{54, 56, 1, 0.8340}, {190, 198, 3, 0.97193}, {60, 66, 1, 0.99559}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        const double change_pct = 100 * (rows[i].now / rows[i].before - 1);
        assert_close(chance_normal(change_pct / (2.7 * sqrt(2.0 / rows[i].blocks))), rows[i].chance,
                     1e-4);
    }
    /* 95 % of changes without progress are within sqrt 2 * 1.959964 * 2.7 % = 7.484 %. */
    assert_close(chance_normal(7.484 / (2.7 * sqrt(2))), 0.975, 1e-5);
}

/* ---- blocks ---- */

#define BLOCK(joules, length, lasted, number)                                            \
    {                                                                                    \
        .work_j = (joules), .length_s = (length), .duration_s = (lasted), .id = (number) \
    }

static struct compare_history history_of(const int64_t *work_j, size_t count)
{
    struct compare_history history = {.count = count};
    for (size_t i = 0; i < count; i++)
        history.blocks[i] = (struct compare_block)BLOCK(work_j[i], 240, 300, (int64_t)i + 1);
    return history;
}

static const struct compare_slope no_slope = {0};

static struct comparison compared(const int64_t *work_j, size_t count, int64_t now_j)
{
    const struct compare_history history = history_of(work_j, count);
    const struct compare_block now = BLOCK(now_j, 240, 300, 0);
    struct comparison comparison;
    compare_blocks(&history, &now, &no_slope, &comparison);
    return comparison;
}

static void first_two_are_learning(void **state)
{
    (void)state;
    static const int64_t work_j[] = {40000, 50000, 54000};
    assert_int_equal(compared(work_j, 0, 54000).verdict, COMPARE_IS_LEARNING);
    assert_int_equal(compared(work_j, 1, 54000).verdict, COMPARE_IS_LEARNING);
    assert_int_equal(compared(work_j, 2, 54000).verdict, COMPARE_IS_ALONE);
    const struct comparison third = compared(work_j, 3, 56000);
    assert_int_equal(third.against, 1);
    assert_close(third.mean_j, 54000, 1e-9);
    /* 3.704 / (3 sqrt 2) = 0.8730, of which the normal distribution makes 0.8087 */
    assert_close(third.change_pct, 3.7037, 1e-4);
    assert_close(third.error_pct, 4.2426, 1e-4);
    assert_close(third.better_pct, 80.87, 0.01);
    assert_false(third.is_own_error);
    assert_int_equal(third.verdict, COMPARE_IS_NOISE);

    struct compare_history late = history_of(work_j, 1);
    late.older = 40;
    struct comparison comparison;
    compare_blocks(&late, &(struct compare_block)BLOCK(41000, 240, 300, 0), &no_slope, &comparison);
    assert_int_equal(comparison.against, 1);
}

static void stands_against_the_last_three(void **state)
{
    (void)state;
    static const int64_t work_j[] = {1, 1, 90000, 54000, 55000, 56000};
    const struct comparison comparison = compared(work_j, 6, 59000);
    assert_int_equal(comparison.against, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(comparison.parts[i].id, 4 + i);
        assert_close(comparison.parts[i].work_j, 54000 + 1000.0 * (double)i, 1e-9);
    }
    assert_close(comparison.mean_j, 55000, 1e-9);
    /* 7.2727 / (3 sqrt(4/3)) = 2.0994, 0.98211 */
    assert_close(comparison.better_pct, 98.21, 0.01);
    assert_int_equal(comparison.verdict, COMPARE_IS_BETTER);
    assert_int_equal(compared(work_j, 6, 51000).verdict, COMPARE_IS_LOWER);
    assert_int_equal(compared(work_j, 6, 52500).verdict, COMPARE_IS_NOISE);
}

/* Six blocks that count make the changes +2, -1, +3, 0, +1 %: the error is 1.11803 %, and its five
 * changes have 3 degrees of freedom. */
static void own_error_from_five_blocks_on(void **state)
{
    (void)state;
    static const int64_t work_j[] = {1,        1,        50000000, 51000000,
                                     50490000, 52004700, 52004700, 52524747};
    assert_false(compared(work_j, 6, 52000000).is_own_error);
    assert_true(compared(work_j, 7, 52000000).is_own_error);
    const struct comparison comparison = compared(work_j, 8, 54000000);
    assert_close(comparison.typical_error_pct, 1.11803, 1e-5);
    assert_int_equal(comparison.error_blocks, 6);
    assert_int_equal(comparison.freedom, 3);
    /* 3.4918 % by 1.11803 sqrt(4/3) is 2.7047; Student's t with 3 degrees makes 0.96325 of it:
     * 1/2 + (a + sin a cos a) / pi, a = atan(2.7047 / sqrt 3), worked out with bc -l. */
    assert_close(comparison.change_pct, 3.4918, 1e-4);
    assert_close(comparison.better_pct, 96.325, 0.001);
}

static void an_error_of_none_is_not_believed(void **state)
{
    (void)state;
    static const int64_t work_j[] = {1, 1, 50000, 50000, 50000, 50000, 50000};
    const struct comparison comparison = compared(work_j, 7, 50100);
    assert_true(comparison.is_own_error);
    assert_close(comparison.typical_error_pct, 0.9, 1e-12);
    assert_int_equal(comparison.verdict, COMPARE_IS_NOISE);
}

/* 60 s more at a critical power of 200 W with a standard error of 5 W: 12 kJ, +- 0.3 kJ. */
static void other_lengths_go_along_the_work_time_line(void **state)
{
    (void)state;
    struct compare_history history = {.older = 2, .count = 1, .blocks = {{48000, 240, 300}}};
    const struct compare_block now = BLOCK(60000, 300, 360, 0);
    struct comparison comparison;

    compare_blocks(&history, &now, &(struct compare_slope){200, 5}, &comparison);
    assert_int_equal(comparison.adjusted, 1);
    assert_close(comparison.mean_j, 60000, 1e-9);
    assert_close(comparison.better_pct, 50, 1e-9);
    /* sqrt((3 sqrt 2)^2 + 0.5^2) */
    assert_close(comparison.error_pct, 4.27200, 1e-5);

    compare_blocks(&history, &now, &no_slope, &comparison);
    assert_int_equal(comparison.verdict, COMPARE_IS_ALONE);
    /* A line that takes all of the work off says nothing. */
    history.blocks[0] = (struct compare_block)BLOCK(10000, 300, 360, 0);
    compare_blocks(&history, &(struct compare_block)BLOCK(9000, 240, 300, 0),
                   &(struct compare_slope){200, 5}, &comparison);
    assert_int_equal(comparison.verdict, COMPARE_IS_ALONE);
}

/* A cool-down cut short saves time but hardly work: not to be taken along a line. */
/* 3 sqrt(1 + 1 / 1) and 2 % beside it: sqrt(18 + 4) = 4.690. */
static void a_block_by_another_source_is_less_sure(void **state)
{
    (void)state;
    static const int64_t same[] = {40000, 40000, 40000};
    struct compare_history history = history_of(same, 3);
    const struct compare_block now = BLOCK(42000, 240, 300, 0);
    struct comparison comparison;

    history.blocks[2].is_converted = true;
    history.blocks[2].source_error_pct = 2;
    compare_blocks(&history, &now, &no_slope, &comparison);
    assert_int_equal(comparison.converted, 1);
    assert_close(comparison.change_pct, 5, 1e-9);
    assert_close(comparison.error_pct, 4.6904, 1e-4);
}

static void a_block_with_steps_cut_short_stands_alone(void **state)
{
    (void)state;
    static const struct {
        uint32_t length_s, duration_s;
        enum compare_verdict verdict;
    } rows[] = {
        {240, 300, COMPARE_IS_NOISE}, {240, 305, COMPARE_IS_NOISE}, {240, 294, COMPARE_IS_ALONE},
        {240, 306, COMPARE_IS_ALONE}, {300, 360, COMPARE_IS_NOISE}, {300, 300, COMPARE_IS_ALONE},
        {0, 300, COMPARE_IS_NOISE},   {0, 360, COMPARE_IS_ALONE},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct compare_history history = {
            .older = 2, .count = 1, .blocks = {{50000, rows[i].length_s, rows[i].duration_s}}};
        struct comparison comparison;
        compare_blocks(&history, &(struct compare_block)BLOCK(50000, 240, 300, 0),
                       &(struct compare_slope){1, 0}, &comparison);
        assert_int_equal(comparison.verdict, rows[i].verdict);
    }
}

static void only_like_stands_against_like(void **state)
{
    (void)state;
    const struct compare_kind kind = {"a", "bike", false};
    assert_true(compare_is_alike(&kind, &(struct compare_kind){"a", "bike", false}));
    assert_false(compare_is_alike(&kind, &(struct compare_kind){"b", "bike", false}));
    assert_false(compare_is_alike(&kind, &(struct compare_kind){"a", "other", false}));
    assert_false(compare_is_alike(&kind, &(struct compare_kind){"a", "bike", true}));
}

static void work_of_nothing_is_compared_with_nothing(void **state)
{
    (void)state;
    static const int64_t none[] = {0, 0, 0, 0}, some[] = {50000, 50000, 50000};
    assert_int_equal(compared(none, 4, 50000).verdict, COMPARE_IS_ALONE);
    assert_int_equal(compared(some, 3, 0).verdict, COMPARE_IS_ALONE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(typical_error_of_changes),
        cmocka_unit_test(degrees_of_freedom),
        cmocka_unit_test(chance_of_a_rise),
        cmocka_unit_test(first_two_are_learning),
        cmocka_unit_test(stands_against_the_last_three),
        cmocka_unit_test(own_error_from_five_blocks_on),
        cmocka_unit_test(an_error_of_none_is_not_believed),
        cmocka_unit_test(other_lengths_go_along_the_work_time_line),
        cmocka_unit_test(a_block_by_another_source_is_less_sure),
        cmocka_unit_test(a_block_with_steps_cut_short_stands_alone),
        cmocka_unit_test(only_like_stands_against_like),
        cmocka_unit_test(work_of_nothing_is_compared_with_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
