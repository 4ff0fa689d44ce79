#include "support/half_year.h"

#include "body/compare.h"
#include "io/virtual_random.h"

struct tally {
    uint32_t better, noise, lower;
};

static void remember(struct compare_history *history, const struct compare_block *block)
{
    if (history->count == COMPARE_BLOCKS_MAX) {
        history->older++;
        for (size_t i = 1; i < COMPARE_BLOCKS_MAX; i++)
            history->blocks[i - 1] = history->blocks[i];
        history->count--;
    }
    history->blocks[history->count++] = *block;
}

static void ride(const struct half_year *rider, uint64_t seed, struct tally *tally)
{
    struct virtual_random random = {seed};
    static const struct compare_slope none;
    struct compare_history history = {0};
    double true_j = 60000;

    for (size_t i = 0; i < rider->to; i++, true_j *= 1 + rider->rise_pct / 100) {
        const double noise = rider->error_pct / 100 * virtual_random_normal(&random);
        const struct compare_block now = {
            .work_j = (int64_t)(true_j * (1 + noise)), .length_s = 240, .duration_s = 300};
        struct comparison comparison;
        compare_blocks(&history, &now, &none, &comparison);
        if (i >= rider->from) {
            tally->better += comparison.verdict == COMPARE_IS_BETTER;
            tally->noise += comparison.verdict == COMPARE_IS_NOISE;
            tally->lower += comparison.verdict == COMPARE_IS_LOWER;
        }
        remember(&history, &now);
    }
}

struct half_year_verdicts half_year_ride(const struct half_year *rider, uint32_t seeds)
{
    struct tally tally = {0};

    for (uint64_t seed = 1; seed <= seeds; seed++)
        ride(rider, seed * 0x9E3779B97F4A7C15u, &tally);
    const double all = (double)(tally.better + tally.noise + tally.lower) / 100;
    return (struct half_year_verdicts){tally.better / all, tally.noise / all, tally.lower / all};
}
