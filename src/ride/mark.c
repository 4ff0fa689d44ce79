#include "ride/mark.h"

#include <assert.h>

#include "body/compare.h"
#include "body/energy.h"

/* J or m, either way: more than four days at 2500 W. The difference of two such sums, times any
 * time in ms, fits into 64 bits. */
#define SUM_MAX INT64_C(1000000000)
/* Beyond it a foretold finish says nothing. */
#define TYPICAL_ERROR_MAX_PCT 100.0

static int64_t bounded(int64_t sum)
{
    if (sum > SUM_MAX)
        return SUM_MAX;
    return sum < -SUM_MAX ? -SUM_MAX : sum;
}

/* ---- the curve ---- */

struct mark_point mark_point_of(const struct ride *ride)
{
    return (struct mark_point){.block_ms = ride->block_ms,
                               .work_j = bounded(work_j(&ride->totals.work)),
                               .distance_m = bounded(totals_distance_m(&ride->totals))};
}

static uint32_t before_intervals_ms(const struct plan *plan)
{
    uint32_t before_ms = 0;
    const size_t begin = plan_floor_steps(plan);
    for (size_t i = begin; i < plan->step_count && plan->steps[i].kind == STEP_WARM_UP; i++)
        before_ms += plan->steps[i].duration_ms;
    return before_ms;
}

void mark_curve_take(struct mark_curve *curve, const struct ride *ride)
{
    const struct mark_point now = mark_point_of(ride);

    if (curve->length_ms == 0) {
        curve->before_ms = before_intervals_ms(&ride->setup.plan);
        curve->length_ms = plan_length_ms(&ride->setup.plan);
    }
    /*@ loop variant MARK_SECONDS_MAX - curve->seconds; */
    while (curve->seconds < MARK_SECONDS_MAX && (curve->seconds + 1) * 1000 <= now.block_ms) {
        curve->seconds++;
        curve->work_j[curve->seconds] = (int32_t)now.work_j;
        curve->distance_m[curve->seconds] = (int32_t)now.distance_m;
    }
    curve->end = now;
}

static int64_t between(int64_t from, int64_t to, int64_t part, int64_t whole)
{
    return whole > 0 ? bounded(from + (to - from) * part / whole) : to;
}

/* Straight from second to second, and from the last to the end. */
static struct mark_point curve_at(const struct mark_curve *curve, uint32_t block_ms)
{
    const uint32_t second = block_ms / 1000;

    if (block_ms >= curve->end.block_ms)
        return (struct mark_point){block_ms, curve->end.work_j, curve->end.distance_m};
    const uint32_t from = second < curve->seconds ? second : curve->seconds;
    struct mark_point to = curve->end;
    if (second < curve->seconds)
        to = (struct mark_point){(second + 1) * 1000, curve->work_j[second + 1],
                                 curve->distance_m[second + 1]};
    const int64_t part = (int64_t)block_ms - (int64_t)from * 1000;
    const int64_t whole = (int64_t)to.block_ms - (int64_t)from * 1000;
    return (struct mark_point){block_ms, between(curve->work_j[from], to.work_j, part, whole),
                               between(curve->distance_m[from], to.distance_m, part, whole)};
}

/* ---- the mark, at the length of this block ---- */

static struct mark_point moved(struct mark_point point, const struct mark_point *from,
                               const struct mark_point *to)
{
    point.work_j = bounded(point.work_j + to->work_j - from->work_j);
    point.distance_m = bounded(point.distance_m + to->distance_m - from->distance_m);
    return point;
}

/* With intervals cut or drawn out, not scaled yet. */
static struct mark_point bent_at(const struct mark *mark, uint32_t block_ms)
{
    const struct mark_curve *curve = mark->curve;
    const uint32_t start_ms = curve->before_ms, done_ms = start_ms + curve->length_ms;
    const uint32_t wanted_ms = start_ms + mark->length_ms;
    const struct mark_point start = curve_at(curve, start_ms), done = curve_at(curve, done_ms);
    struct mark_point point;

    if (block_ms <= (wanted_ms < done_ms ? wanted_ms : done_ms))
        return curve_at(curve, block_ms);
    if (wanted_ms < done_ms) {
        const struct mark_point cut = curve_at(curve, wanted_ms);
        point = moved(curve_at(curve, block_ms + (done_ms - wanted_ms)), &done, &cut);
    } else {
        const uint32_t added_ms = (block_ms < wanted_ms ? block_ms : wanted_ms) - done_ms;
        const struct mark_point on = {
            .work_j =
                between(start.work_j, done.work_j, curve->length_ms + added_ms, curve->length_ms),
            .distance_m = between(start.distance_m, done.distance_m, curve->length_ms + added_ms,
                                  curve->length_ms)};
        point = moved(curve_at(curve, block_ms - added_ms), &done, &on);
    }
    point.block_ms = block_ms;
    return point;
}

struct mark mark_of(const struct mark_curve *curve, enum mark_measure measure,
                    const struct plan *plan, int32_t slope_w, double typical_error_pct)
{
    struct mark mark = {.curve = curve,
                        .measure = measure,
                        .length_ms = plan_length_ms(plan),
                        .typical_error_pct = typical_error_pct < TYPICAL_ERROR_MAX_PCT
                                                 ? typical_error_pct
                                                 : TYPICAL_ERROR_MAX_PCT};
    const int64_t start_j = curve_at(curve, curve->before_ms).work_j;
    const int64_t longer_ms = (int64_t)mark.length_ms - curve->length_ms;

    mark.unscaled_j = bent_at(&mark, curve->before_ms + mark.length_ms).work_j - start_j;
    mark.scaled_j = mark.unscaled_j;
    if (slope_w > 0 && longer_ms != 0)
        mark.scaled_j = bounded(curve_at(curve, curve->before_ms + curve->length_ms).work_j -
                                start_j + longer_ms * slope_w / 1000);
    if (mark.scaled_j <= 0 || mark.unscaled_j <= 0)
        mark.scaled_j = mark.unscaled_j;
    return mark;
}

struct mark_point mark_at(const struct mark *mark, uint32_t block_ms)
{
    const uint32_t start_ms = mark->curve->before_ms;
    struct mark_point point = bent_at(mark, block_ms);

    if (block_ms >= start_ms + mark->length_ms) {
        point.work_j += mark->scaled_j - mark->unscaled_j;
    } else if (block_ms > start_ms && mark->unscaled_j > 0) {
        const int64_t start_j = curve_at(mark->curve, start_ms).work_j;
        point.work_j =
            between(start_j, start_j + mark->scaled_j, point.work_j - start_j, mark->unscaled_j);
    }
    return point;
}

static uint32_t end_ms(const struct mark *mark)
{
    const int64_t ms =
        (int64_t)mark->curve->end.block_ms + mark->length_ms - mark->curve->length_ms;
    return ms > 0 ? (uint32_t)ms : 0;
}

struct mark_point mark_end(const struct mark *mark)
{
    return mark_at(mark, end_ms(mark));
}

/* ---- this block against it ---- */

static int64_t value_of(enum mark_measure measure, const struct mark_point *point)
{
    switch (measure) {
    case MARK_POWER: return point->block_ms > 0 ? point->work_j * 1000000 / point->block_ms : 0;
    case MARK_DISTANCE: return point->distance_m;
    case MARK_CALORIES:
        return (int64_t)(energy_range((double)point->work_j / 1000).mid_kcal * 1000);
    case MARK_WORK:
    case MARK_TIME:
    case MARK_MEASURE_COUNT: break;
    }
    return point->work_j;
}

/* When the mark had that much; beyond its end at its mean power. */
static int64_t time_of_ms(const struct mark *mark, int64_t work_j)
{
    const struct mark_point end = mark_end(mark);
    uint32_t low = 0, high = end.block_ms;

    if (work_j >= end.work_j)
        return end.work_j > 0 ? end.block_ms * work_j / end.work_j : end.block_ms;
    /*@ loop variant high - low; */
    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        if (mark_at(mark, middle).work_j < work_j)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static int64_t ahead_of(const struct mark *mark, const struct mark_point *now,
                        const struct mark_point *then)
{
    /* While nothing is done the mark's own start says nothing. */
    if (mark->measure == MARK_TIME)
        return now->work_j > 0 ? time_of_ms(mark, now->work_j) - now->block_ms : 0;
    return value_of(mark->measure, now) - value_of(mark->measure, then);
}

/* The share of the mark's work that is still to come, 0 to 1. */
static double share_left(const struct mark_point *then, const struct mark_point *end)
{
    const double left =
        end->work_j > 0 ? (double)(end->work_j - then->work_j) / (double)end->work_j : 0;

    if (left > 1)
        return 1;
    return left > 0 ? left : 0;
}

struct mark_state mark_state(const struct mark *mark, const struct mark_point *now)
{
    assert(mark->curve != NULL);
    const struct mark_point then = mark_at(mark, now->block_ms), end = mark_end(mark);
    struct mark_state state = {.ahead = ahead_of(mark, now, &then),
                               .is_beaten = mark->measure == MARK_DISTANCE
                                                ? now->distance_m > end.distance_m
                                                : now->work_j > end.work_j};
    const struct mark_point finish = moved(end, &then, now);
    const double share =
        compare_rest_error_pct(mark->typical_error_pct, share_left(&then, &end)) / 100;
    const struct mark_point error = {end.block_ms, (int64_t)(share * (double)end.work_j),
                                     (int64_t)(share * (double)end.distance_m)};

    if (mark->measure == MARK_TIME) {
        state.finish = (int64_t)end.block_ms - state.ahead;
        state.finish_error = (int64_t)(share * end.block_ms);
    } else {
        state.finish = value_of(mark->measure, &finish);
        state.finish_error = value_of(mark->measure, &error);
    }
    return state;
}

const char *mark_measure_text(enum mark_measure measure)
{
    static const char *const texts[MARK_MEASURE_COUNT] = {
        [MARK_WORK] = "work", [MARK_POWER] = "power",       [MARK_DISTANCE] = "distance",
        [MARK_TIME] = "time", [MARK_CALORIES] = "calories",
    };
    return (unsigned)measure < MARK_MEASURE_COUNT ? texts[measure] : "unknown";
}
