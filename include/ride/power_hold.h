/*
 * Holding a power on a machine that takes only a resistance level.
 *
 * A new target is met from the learned curve, at once. After that nothing is done while the mean of
 * the last seconds is inside the target range. Outside it the level is chosen anew from what the
 * curve has learned meanwhile, and not again before it can be seen what came of that. Levels rise
 * only for legs that turn at least as fast as the step asks: a tired rider slows down, and would be
 * chased into a stall. While a curve is uncertain the level stays where even its error would not go
 * far above the target.
 *
 * A brake that nobody has ridden begins at its least level and feels its way up: each next level is
 * one at which the strongest brake there may be, given the power felt so far, is no more than a
 * fourth too hard, and waits until the last was felt. Six times the usual brake is borne so.
 *
 * A power sensor may fail. No power teaches nothing; a power that a new level did not change is
 * frozen, and what it taught is forgotten; one choice raises a level by a fourth or so. Legs that
 * feel far more than the curve says have another brake: it is learned anew.
 *
 * What comes out is a wish: safety has the last word on it, as on every load.
 */
#ifndef RIDE_POWER_HOLD_H
#define RIDE_POWER_HOLD_H

#include "ride/brake_curve.h"
#include "ride/plan.h"

#define POWER_HOLD_READINGS 16u

/* Tenths, as far as the Fitness Machine profile has them. maximum <= minimum: not known, and
 * nothing can be held; nor by a step below 0 or above HOLD_LEVEL_MAX. step 0: not told. */
#define HOLD_LEVEL_MAX 32767

struct hold_levels {
    int32_t minimum, maximum, step;
};

struct hold_reading {
    uint64_t t_ms;
    int32_t power_w, cadence_rpm;
};

struct power_hold {
    struct hold_levels levels;
    struct brake_model brake;
    int32_t most_w;               /* may be set: no level that is to cost more, but the least */
    struct target_range target_w; /* that `level_tenths` was chosen for */
    int32_t level_tenths;         /* chosen last */
    uint64_t chosen_t_ms;
    int32_t in_force_tenths; /* on the brake, as far as is known; 0: no level is */
    uint64_t in_force_t_ms;  /* since when */
    bool has_fallen;         /* to it, from a higher one: the brake may lag above it */
    uint64_t learned_t_ms;   /* when the curve was taught last */
    int32_t same_power_w;    /* the power reads this since a level of: */
    int32_t same_tenths;
    struct brake_model before_same;                    /* what was known then */
    struct hold_reading readings[POWER_HOLD_READINGS]; /* a ring, the newest before next */
    uint32_t next, count;
};

/* `curve` zeroed: nothing is known of this machine. */
void power_hold_init(struct power_hold *hold, const struct hold_levels *levels,
                     const struct brake_curve *curve);
bool power_hold_is_able(const struct power_hold *hold);
bool power_hold_has_levels(const struct power_hold *hold, const struct hold_levels *levels);

/* With every reading that has both, and the level on the brake then; 0 when there is none. */
void power_hold_reading(struct power_hold *hold, uint64_t t_ms, int32_t in_force_tenths,
                        int32_t power_w, int32_t cadence_rpm);

/* The level for this target range now, tenths. `floor_rpm` is the least cadence that the step asks
 * for; 0: POWER_HOLD_FLOOR_RPM. */
#define POWER_HOLD_FLOOR_RPM 60
int32_t power_hold_level(struct power_hold *hold, uint64_t t_ms,
                         const struct target_range *target_w, int32_t floor_rpm);

/* What would be chosen for this power if it were asked for now. */
int32_t power_hold_level_for(const struct power_hold *hold, uint64_t t_ms, int32_t power_w,
                             int32_t floor_rpm);

#endif
