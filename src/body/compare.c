#include "body/compare.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "body/chance.h"

bool compare_is_alike(const struct compare_kind *a, const struct compare_kind *b)
{
    return a->is_fresh == b->is_fresh && strcmp(a->profile, b->profile) == 0 &&
           strcmp(a->machine, b->machine) == 0;
}

/* ---- the chance ---- */

static double chance_of(double ratio, uint32_t freedom)
{
    return freedom == 0 ? chance_normal(ratio) : chance_student(ratio, freedom);
}

double compare_rest_error_pct(double typical_error_pct, double left)
{
    return typical_error_pct * sqrt(2.0 * left);
}

/* ---- the typical error ---- */

double compare_typical_error(const double *changes, size_t count)
{
    double mean = 0, squares = 0;
    if (count < 2)
        return 0;
    for (size_t i = 0; i < count; i++)
        mean += changes[i] / (double)count;
    for (size_t i = 0; i < count; i++)
        squares += (changes[i] - mean) * (changes[i] - mean);
    return sqrt(squares / (double)(count - 1) / 2.0);
}

uint32_t compare_freedom(size_t blocks)
{
    if (blocks < 3)
        return 0;
    /* For m changes with correlation -1/2 between neighbours, M taking their mean off and R their
     * correlations: trace(MR)^2 / trace(MRMR). */
    const double m = (double)(blocks - 1);
    const double trace = m - 1 / m;
    const double freedom = trace * trace / (1.5 * m - 0.5 - 1 / m + 1 / (m * m));
    return (uint32_t)(freedom + 1e-9); /* rounded down, but not for a rounding error */
}

/* ---- a block against others ---- */

/* What can stand beside this block, at its length, oldest first. */
struct usable {
    size_t count;
    double work_j[COMPARE_BLOCKS_MAX];
    double shift_s[COMPARE_BLOCKS_MAX]; /* by so much each was taken along the line */
    const struct compare_block *blocks[COMPARE_BLOCKS_MAX];
};

static void take(const struct compare_block *block, const struct compare_block *now,
                 const struct compare_slope *slope, struct usable *usable)
{
    const bool are_known = block->length_s > 0 && now->length_s > 0;
    const double shift_s = are_known ? (double)now->length_s - (double)block->length_s : 0;
    const double missed_s = (double)now->duration_s - (double)block->duration_s - shift_s;
    const double work_j = (double)block->work_j + slope->power_w * shift_s;

    if (fabs(missed_s) > COMPARE_SLACK_S || block->work_j <= 0 || work_j <= 0 ||
        (fabs(shift_s) > 0 && slope->power_w <= 0))
        return;
    usable->work_j[usable->count] = work_j;
    usable->blocks[usable->count] = block;
    usable->shift_s[usable->count++] = shift_s;
}

static void choose_error(const struct usable *usable, struct comparison *comparison)
{
    double changes[COMPARE_BLOCKS_MAX] = {0};

    comparison->typical_error_pct = COMPARE_ERROR_DEFAULT_PCT;
    if (usable->count < COMPARE_OWN_ERROR_BLOCKS)
        return;
    for (size_t i = 1; i < usable->count; i++)
        changes[i - 1] = 100 * (usable->work_j[i] / usable->work_j[i - 1] - 1);
    const double own_pct = compare_typical_error(changes, usable->count - 1);
    comparison->is_own_error = true;
    comparison->error_blocks = (uint32_t)usable->count;
    comparison->error_from_id = usable->blocks[0]->id;
    comparison->freedom = compare_freedom(usable->count);
    comparison->typical_error_pct =
        own_pct < COMPARE_ERROR_LEAST_PCT ? COMPARE_ERROR_LEAST_PCT : own_pct;
}

static enum compare_verdict judge(double better_pct)
{
    if (better_pct >= COMPARE_SURE_PCT)
        return COMPARE_IS_BETTER;
    return better_pct <= 100 - COMPARE_SURE_PCT ? COMPARE_IS_LOWER : COMPARE_IS_NOISE;
}

static void stand_against(const struct usable *usable, double work_j,
                          const struct compare_slope *slope, struct comparison *comparison)
{
    const size_t n = usable->count < COMPARE_AGAINST_MAX ? usable->count : COMPARE_AGAINST_MAX;
    double shift_s = 0, source_pct = 0;

    for (size_t i = usable->count - n; i < usable->count; i++) {
        comparison->parts[i + n - usable->count] =
            (struct compare_part){usable->blocks[i]->id, usable->work_j[i]};
        comparison->mean_j += usable->work_j[i] / (double)n;
        comparison->adjusted += fabs(usable->shift_s[i]) > 0;
        shift_s += usable->shift_s[i] / (double)n;
        comparison->converted += usable->blocks[i]->is_converted;
        source_pct += usable->blocks[i]->source_error_pct / (double)n;
    }
    comparison->against = (uint32_t)n;
    comparison->slope_w = slope->power_w;
    comparison->change_pct = 100 * (work_j - comparison->mean_j) / comparison->mean_j;
    const double noise_pct = comparison->typical_error_pct * sqrt(1 + 1 / (double)n);
    const double slope_pct = 100 * slope->error_w * shift_s / comparison->mean_j;
    comparison->error_pct =
        sqrt(noise_pct * noise_pct + slope_pct * slope_pct + source_pct * source_pct);
    comparison->better_pct =
        100 * chance_of(comparison->change_pct / comparison->error_pct, comparison->freedom);
    comparison->verdict = judge(comparison->better_pct);
}

void compare_blocks(const struct compare_history *history, const struct compare_block *now,
                    const struct compare_slope *slope, struct comparison *ret)
{
    struct usable usable = {0};

    assert(history->count <= COMPARE_BLOCKS_MAX);
    *ret = (struct comparison){.verdict = COMPARE_IS_LEARNING};
    if (history->older + history->count < COMPARE_LEARNING)
        return;
    for (size_t i = 0; i < history->count; i++)
        if (history->older + i >= COMPARE_LEARNING)
            take(&history->blocks[i], now, slope, &usable);
    ret->verdict = COMPARE_IS_ALONE;
    if (usable.count == 0 || now->work_j <= 0)
        return;
    choose_error(&usable, ret);
    stand_against(&usable, (double)now->work_j, slope, ret);
}
