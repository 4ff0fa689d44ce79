/*
 * The mark: an earlier block that runs beside this one, on the same block clock.
 *
 * Of the earlier block a curve is kept: what it had done after each second. Over the same length
 * the mark is that curve, and how far ahead this block is at its end is the difference of the two
 * sums, to the joule.
 *
 * Over another length the work of its intervals is taken along the work-time line, as body/compare
 * does: slope times the difference more or less. Its seconds stay where they are; seconds that it
 * does not have go on at its mean, before the cool-down, and those too many are left out there;
 * then all of its intervals are scaled to that work. Without a slope they are not scaled.
 *
 * The finish is foretold from what is ahead now and the mark for the rest. Its standard error is
 * that between two blocks, TE sqrt 2, by the root of the share of work that is left: as if chance
 * came second by second. For distance that is an upper bound, since speed varies less than power.
 */
#ifndef RIDE_MARK_H
#define RIDE_MARK_H

#include "ride/ride.h"

#define MARK_SECONDS_MAX 7200u

/* Of a ride no sum is taken for more than 10^9 J or m, either way: no rider gets there. */
struct mark_point {
    uint32_t block_ms;
    int64_t work_j;
    int64_t distance_m;
};

/* Zeroed: nothing ridden. */
struct mark_curve {
    uint32_t before_ms, length_ms; /* up to the first interval; of the intervals */
    uint32_t seconds;              /* how many are known, besides the start */
    int32_t work_j[MARK_SECONDS_MAX + 1], distance_m[MARK_SECONDS_MAX + 1];
    struct mark_point end;
};

/* After every event of the earlier ride, from its journal. Seconds beyond MARK_SECONDS_MAX are not
 * kept; its end is. */
void mark_curve_take(struct mark_curve *curve, const struct ride *ride);

enum mark_measure {
    MARK_WORK,     /* J */
    MARK_POWER,    /* mW, the mean of the block */
    MARK_DISTANCE, /* m */
    MARK_TIME,     /* ms: sooner at the same work */
    MARK_CALORIES, /* cal, at the middle of what is burnt; see body/energy.h */
    MARK_MEASURE_COUNT
};

struct mark {
    const struct mark_curve *curve; /* borrowed; NULL: there is none */
    enum mark_measure measure;
    uint32_t length_ms;           /* of this block's intervals */
    int64_t scaled_j, unscaled_j; /* work of the intervals, along the line and as it was */
    double typical_error_pct;     /* of one block */
};

/* `slope_w` as in body/compare, 0 for not known. An error beyond 100 % is taken for 100 %. */
struct mark mark_of(const struct mark_curve *curve, enum mark_measure measure,
                    const struct plan *plan, int32_t slope_w, double typical_error_pct);

/* What the mark had at that time of this block, and at its end. */
struct mark_point mark_at(const struct mark *mark, uint32_t block_ms);
struct mark_point mark_end(const struct mark *mark);

/* In units of the measure. */
struct mark_state {
    int64_t ahead;                /* below 0: behind */
    int64_t finish, finish_error; /* of this block; MARK_TIME: when it has done what the mark did */
    bool is_beaten; /* all its work is done, or with MARK_DISTANCE its way; it stays so */
};

/* `now` is where this block is. */
struct mark_state mark_state(const struct mark *mark, const struct mark_point *now);
struct mark_point mark_point_of(const struct ride *ride);

/* "work", "power", "distance", "time", "calories" */
const char *mark_measure_text(enum mark_measure measure);

#endif
