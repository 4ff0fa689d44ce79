#include "earlier.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/ride_record.h"
#include "port/store_history.h"
#include "ruler.h"
#include "ui/verdict.h"

/* By hand nobody says whether it was the same machine unless the rider did. */
static bool is_whole(const struct store_ride *ride)
{
    const bool is_sure =
        ride->state == STORE_FINISHED ||
        (ride->state == STORE_BY_HAND && ride->title[0] != '\0' && ride->bike[0] != '\0');
    return is_sure && ride->summary.ending == STORE_ENDING_DONE;
}

static struct compare_kind kind_of(const struct store_ride *ride)
{
    return (struct compare_kind){
        .profile = ride->title, .machine = ride->bike, .is_fresh = ride->is_fresh};
}

static struct compare_block block_of(const struct store_ride *ride, double factor)
{
    return (struct compare_block){
        .work_j = llround(ride->summary.work_j * factor),
        .length_s = ride->length_ms / 1000,
        .duration_s = ride->summary.duration_s,
        .id = ride->id,
    };
}

void earlier_add(struct earlier *earlier, const struct store_ride *like,
                 const struct store_ride *ride)
{
    const struct compare_kind kind = kind_of(like), other = kind_of(ride);
    double factor = 0, error_pct = 0;

    if (!is_whole(ride) || !compare_is_alike(&kind, &other))
        return;
    const bool is_known = ruler_factor(ride, like, &factor, &error_pct);
    const bool is_same = ruler_is_same(ride, like);
    if (earlier->last.id == 0) {
        earlier->last = *ride;
        earlier->last_factor = is_known ? factor : 0;
    }
    if (!is_known) {
        earlier->other_sources++;
        return;
    }
    if (earlier->last_ridden_id == 0 && is_same && ride->state != STORE_BY_HAND)
        earlier->last_ridden_id = ride->id;
    if (earlier->history.count == COMPARE_BLOCKS_MAX) {
        earlier->history.older++;
        return;
    }
    struct compare_block block = block_of(ride, factor);
    block.is_converted = !is_same;
    block.source_error_pct = error_pct;
    earlier->history.blocks[earlier->history.count++] = block;
}

/* They came newest first, and are wanted the other way round. */
void earlier_added(struct earlier *earlier)
{
    struct compare_history *history = &earlier->history;

    for (size_t i = 0; i < history->count / 2; i++) {
        const struct compare_block block = history->blocks[i];
        history->blocks[i] = history->blocks[history->count - 1 - i];
        history->blocks[history->count - 1 - i] = block;
    }
}

enum result earlier_find(struct store *store, const struct store_ride *like, struct earlier *ret)
{
    struct store_ride ride = {.id = like->id};
    enum result result = RESULT_OK;

    *ret = (struct earlier){0};
    /* Of those before there only matters whether they were learning. */
    while (ret->history.older < COMPARE_LEARNING &&
           (result = store_next_alike(store, like, ride.id, &ride)) == RESULT_OK)
        earlier_add(ret, like, &ride);
    earlier_added(ret);
    return result == RESULT_NOT_FOUND ? RESULT_OK : result;
}

void earlier_last(const struct earlier *earlier, char *ret, size_t size)
{
    const struct store_ride *last = &earlier->last;
    const uint32_t length_s =
        last->length_ms > 0 ? last->length_ms / 1000 : last->summary.duration_s;
    char day[24], power[40] = "";

    ret[0] = '\0';
    if (last->id == 0)
        return;
    ride_record_day(last, day, sizeof day);
    if (last->summary.work_power_w > 0)
        (void)snprintf(power, sizeof power, ", %u W in the work", last->summary.work_power_w);
    (void)snprintf(ret, size, "%s: %u:%02u, %.1f kJ%s", day, length_s / 60, length_s % 60,
                   last->summary.work_j / 1000.0, power);
}

static bool is_as_long(const struct store_ride *a, const struct store_ride *b)
{
    const int64_t apart_s = (int64_t)a->summary.duration_s - b->summary.duration_s;

    return llabs(apart_s) <= COMPARE_SLACK_S && a->length_ms == b->length_ms;
}

/* For tenths, where a loss that is too small to be shown would be a zero with a minus. */
static double for_tenths(double value)
{
    return fabs(value) < 0.05 ? 0.0 : value;
}

void earlier_facts(const struct earlier *earlier, const struct store_ride *now, char *ret,
                   size_t size)
{
    const struct store_summary *a = &now->summary, *b = &earlier->last.summary;
    const double factor = earlier->last_factor;
    const bool is_same = ruler_is_same(now, &earlier->last);
    char day[24], metres[32] = "", work[64] = "", power[40] = "";

    ret[0] = '\0';
    if (earlier->last.id == 0 || factor <= 0 || !is_whole(now))
        return;
    ride_record_day(&earlier->last, day, sizeof day);
    /* Work and distance say something only where there was as much time for them; distance, which
     * may be reckoned from the power, only by the same source. */
    if (is_as_long(now, &earlier->last) && is_same)
        (void)snprintf(metres, sizeof metres, ", %+lld m",
                       (long long)a->distance_m - b->distance_m);
    if (is_as_long(now, &earlier->last))
        (void)snprintf(work, sizeof work, "%+.1f kJ%s",
                       for_tenths((a->work_j - b->work_j * factor) / 1000), metres);
    if (a->work_power_w > 0 && b->work_power_w > 0)
        (void)snprintf(power, sizeof power, "%+lld W in the work",
                       (long long)a->work_power_w - llround(b->work_power_w * factor));
    if (work[0] != '\0' || power[0] != '\0')
        (void)snprintf(ret, size, "%s%s%s on last time (%s%s)", work,
                       work[0] != '\0' && power[0] != '\0' ? ", " : "", power, day,
                       is_same ? "" : ", taken to this source of power");
}

static void put_verdict(const struct comparison *comparison, char *ret, size_t size)
{
    const double better_pct = comparison->better_pct;
    char blocks[32] = "one before";

    if (comparison->verdict == COMPARE_IS_LEARNING)
        (void)snprintf(ret, size,
                       "Too early to compare: the first two blocks of a kind are learning");
    else if (comparison->verdict == COMPARE_IS_ALONE)
        (void)snprintf(ret, size,
                       "Too early to compare: there is no block that it can stand "
                       "beside, the first two left out");
    if (comparison->against != 1)
        (void)snprintf(blocks, sizeof blocks, "%u before", comparison->against);

    if (comparison->verdict == COMPARE_IS_BETTER)
        (void)snprintf(ret, size, "Better than the %s by %.1f %%, with %.0f %% certainty", blocks,
                       comparison->change_pct, better_pct);
    else if (comparison->verdict == COMPARE_IS_LOWER)
        (void)snprintf(ret, size, "Lower than the %s by %.1f %%, with %.0f %% certainty", blocks,
                       -comparison->change_pct, 100 - better_pct);
    else if (comparison->verdict == COMPARE_IS_NOISE)
        (void)snprintf(ret, size, "%+.1f %% on the %s is within the noise (%.0f %% for better)",
                       for_tenths(comparison->change_pct), blocks, better_pct);
}

struct comparison earlier_compare(const struct earlier *earlier, const struct store_ride *now)
{
    const struct compare_block block = block_of(now, 1);
    struct comparison comparison = {0};

    if (is_whole(now))
        compare_blocks(&earlier->history, &block, &earlier->slope, &comparison);
    return comparison;
}

/* There would be blocks to stand against, had the same source measured them. */
static bool has_other_ruler(const struct earlier *earlier, const struct store_ride *now,
                            const struct comparison *comparison)
{
    return ruler_is_mixed(now) || (comparison->against == 0 && earlier->other_sources > 0);
}

const char *earlier_word(const struct earlier *earlier, const struct store_ride *now)
{
    static const char *const words[] = {
        [COMPARE_IS_LEARNING] = "learning", [COMPARE_IS_ALONE] = "alone",
        [COMPARE_IS_LOWER] = "lower",       [COMPARE_IS_NOISE] = "noise",
        [COMPARE_IS_BETTER] = "better",
    };
    if (!is_whole(now))
        return NULL;
    const struct comparison comparison = earlier_compare(earlier, now);
    return has_other_ruler(earlier, now, &comparison) ? "other_source" : words[comparison.verdict];
}

void earlier_verdict(const struct earlier *earlier, const struct store_ride *now, char *ret,
                     size_t size)
{
    const struct comparison comparison = earlier_compare(earlier, now);

    if (is_whole(now) && ruler_is_mixed(now))
        (void)snprintf(ret, size,
                       "Not compared: its power was measured by the sensor and by the "
                       "bike in turn");
    else if (is_whole(now) && has_other_ruler(earlier, now, &comparison))
        (void)snprintf(ret, size,
                       "Not compared: the blocks before it were measured by another "
                       "source of power");
    else if (is_whole(now))
        put_verdict(&comparison, ret, size);
    else
        (void)snprintf(ret, size, "Not ridden to its end, so it is not compared");
}

void earlier_reckoning(const struct earlier *earlier, const struct store_ride *now, char *ret,
                       size_t size)
{
    const struct comparison comparison = earlier_compare(earlier, now);

    verdict_reckoning(&comparison, now->summary.work_j, ret, size);
}

double earlier_typical_error_pct(const struct earlier *earlier)
{
    const struct comparison comparison = earlier_compare(earlier, &earlier->last);

    return comparison.against > 0 ? comparison.typical_error_pct : COMPARE_ERROR_DEFAULT_PCT;
}
