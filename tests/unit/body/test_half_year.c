/*
 * Half a year of a rider whose true progress is known: how often the verdicts are wrong, over many
 * seeds. Invented; the noise is normal and that of recreational riders (Hopkins et al. 2001, Sports
 * Med 31:211: 0.9 to 2.0 % for trained riders, by 1.3 for others).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "body/compare.h"
#include "io/virtual_random.h"

enum { BLOCKS = 52, SEEDS = 2000 }; /* two a week */

struct tally {
    uint32_t better, noise, lower;
};

/* Adds up the verdicts on the blocks from `from` up to without `to`. */
static void half_year(uint64_t seed, double error_pct, double rise_pct, size_t from, size_t to,
                      struct tally *tally)
{
    struct virtual_random random = {seed};
    static const struct compare_slope none;
    struct compare_history history = {0};
    double power = 60000;

    for (size_t i = 0; i < to; i++, power *= 1 + rise_pct / 100) {
        const double work_j = power * (1 + error_pct / 100 * virtual_random_normal(&random));
        const struct compare_block now = {(int64_t)work_j, 240, 300, 0};
        struct comparison comparison;
        compare_blocks(&history, &now, &none, &comparison);
        if (i >= from) {
            tally->better += comparison.verdict == COMPARE_IS_BETTER;
            tally->noise += comparison.verdict == COMPARE_IS_NOISE;
            tally->lower += comparison.verdict == COMPARE_IS_LOWER;
        }
        if (history.count == COMPARE_BLOCKS_MAX) {
            history.older++;
            for (size_t k = 1; k < COMPARE_BLOCKS_MAX; k++)
                history.blocks[k - 1] = history.blocks[k];
            history.count--;
        }
        history.blocks[history.count++] = now;
    }
}

static struct tally tally_of(const char *what, double error_pct, double rise_pct, size_t from,
                             size_t to)
{
    struct tally tally = {0};
    for (uint64_t seed = 1; seed <= SEEDS; seed++)
        half_year(seed * 0x9E3779B97F4A7C15u, error_pct, rise_pct, from, to, &tally);
    const double all = (double)(tally.better + tally.noise + tally.lower) / 100;
    printf("%-44s better %5.1f %%, noise %5.1f %%, lower %5.1f %%\n", what, tally.better / all,
           tally.noise / all, tally.lower / all);
    return tally;
}

static double share_of(uint32_t part, const struct tally *tally)
{
    return part / (double)(tally->better + tally->noise + tally->lower);
}

/* One in twenty either way is what 95 % promises. The own error and the mean share the last three
 * blocks, which the t distribution does not know of: hence one in a hundred more. */
static void false_alarms_are_as_rare_as_promised(void **state)
{
    (void)state;
    const struct tally early = tally_of("no progress, default error, truly 3 %", 3, 0, 3, 7);
    const struct tally late = tally_of("no progress, own error, truly 3 %", 3, 0, 7, BLOCKS);
    const struct tally fine = tally_of("no progress, own error, truly 1.5 %", 1.5, 0, 7, BLOCKS);
    const struct tally *all[] = {&early, &late, &fine};
    for (size_t i = 0; i < 3; i++) {
        assert_true(share_of(all[i]->better, all[i]) <= 0.06);
        assert_true(share_of(all[i]->lower, all[i]) <= 0.06);
        assert_true(share_of(all[i]->better, all[i]) >= 0.02); /* nor is it blind */
    }
}

/* 0.5 % a block is 30 % in the half year, and 1 % on the mean of the last three. */
static void progress_is_seen_more_often_than_missed_the_other_way(void **state)
{
    (void)state;
    const struct tally slow = tally_of("0.2 % a block, truly 1.5 %", 1.5, 0.2, 7, BLOCKS);
    const struct tally fast = tally_of("0.5 % a block, truly 1.5 %", 1.5, 0.5, 7, BLOCKS);
    const struct tally less = tally_of("0.5 % less a block, truly 1.5 %", 1.5, -0.5, 7, BLOCKS);
    assert_true(share_of(slow.better, &slow) > 0.05);
    assert_true(share_of(fast.better, &fast) > share_of(slow.better, &slow));
    assert_true(share_of(slow.lower, &slow) < 0.05);
    assert_true(share_of(fast.lower, &fast) < share_of(slow.lower, &slow));
    assert_true(share_of(less.lower, &less) > 0.1);
    assert_true(share_of(less.better, &less) < 0.05);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(false_alarms_are_as_rare_as_promised),
        cmocka_unit_test(progress_is_seen_more_often_than_missed_the_other_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
