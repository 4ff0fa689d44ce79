/*
 * A profile, and the plan worked out of it for one rider.
 *
 * A profile is what the file says, for any rider; a plan is a flat list of steps with absolute
 * targets. The length of a block is that of its intervals, from the first work or rest step to the
 * last; warm-up and cool-down are around it.
 */
#ifndef RIDE_PLAN_H
#define RIDE_PLAN_H

#include <stddef.h>

#include "base/result.h"
#include "body/rider.h"
#include "ride/step.h"

#define PLAN_STEPS_MAX     512u
#define PLAN_TITLE_MAX     60u /* octets of UTF-8 */
#define PROFILE_ITEMS_MAX  128u
#define PROFILE_DEPTH_MAX  4u
#define PROFILE_ROUNDS_MAX 99u
#define PLAN_LENGTH_MIN_MS 180000u /* 3:00, the shortest block there is */
#define PLAN_LENGTH_MAX_MS 420000u /* 7:00, the longest */

enum profile_item_kind { PROFILE_STEP, PROFILE_ROUNDS, PROFILE_END };

struct profile_item {
    enum profile_item_kind kind;
    /* of PROFILE_STEP */
    enum step_kind step;
    uint32_t duration_ms;                 /* the longest it may take */
    struct step_targets targets, ramp_to; /* where it begins; where it leads, if set */
    struct step_end end;
    struct step_reps reps;
    char cue_text[PLAN_CUE_MAX + 1]; /* shown to the rider */
    /* of PROFILE_ROUNDS */
    uint16_t rounds;
    bool fits; /* these are the rounds that bend: see ride/fit.h */

    uint32_t line; /* in the file, from 1; 0: in none yet */
};

struct profile {
    char title[PLAN_TITLE_MAX + 1];
    uint32_t length_min_ms, length_max_ms; /* what the profile allows */
    uint32_t title_line, length_line;      /* as for items */
    size_t item_count;
    struct profile_item items[PROFILE_ITEMS_MAX];
};

struct plan_step {
    enum step_kind kind;
    uint32_t duration_ms;                 /* the longest it may take */
    struct step_targets targets, ramp_to; /* as in profiles, but shares are watts */
    struct step_end end;
    struct step_reps reps;
    char cue_text[PLAN_CUE_MAX + 1];
    uint16_t round, rounds; /* of the innermost rounds, from 1; 0 outside */
};

struct plan {
    char title[PLAN_TITLE_MAX + 1];
    size_t step_count;
    struct plan_step steps[PLAN_STEPS_MAX];
};

/* How large a profile is once its rounds are unrolled; the same for every rider. */
struct profile_size {
    uint64_t steps;
    uint64_t work_steps;
    uint64_t length_ms; /* as for plans */
};

/* RESULT_INVALID: rounds and ends do not match, rounds are empty or nested too deep, or a count or
 * a duration is outside the limits above. Profiles out of profile_read() have none of these. */
MUST_USE enum result profile_measure(const struct profile *profile, struct profile_size *ret);

/* The same of the items from one to before another, in which rounds and ends match. */
MUST_USE enum result profile_measure_part(const struct profile *profile, size_t from, size_t end,
                                          struct profile_size *ret);

/* Whether any step asks for a share of the mark, or of this rider's critical power. */
bool profile_asks_for_mark(const struct profile *profile);
bool profile_asks_for_critical_power(const struct profile *profile, const struct rider *rider);

/* Unrolls the rounds and turns shares into watts (rounded to the nearest). Shares of the mark are
 * of rider->mark_power_w, and of critical power while there is no mark. Targets and ends by heart
 * rate are left out where medicine slows the heart: they would mean something else.
 * RESULT_INVALID: see profile_measure(). RESULT_FULL: more than PLAN_STEPS_MAX steps.
 * RESULT_NOT_FOUND: the profile asks for a share of critical power and the rider has none.
 * RESULT_RANGE: the length is not what the profile, or this program, allows. */
MUST_USE enum result profile_plan(const struct profile *profile, const struct rider *rider,
                                  struct plan *ret);

/* The same whatever its length: for a profile that is still being made. */
MUST_USE enum result profile_unroll(const struct profile *profile, const struct rider *rider,
                                    struct plan *ret);

/* All with the longest times of the steps. */
uint32_t plan_length_ms(const struct plan *plan);   /* first work or rest to the last */
uint32_t plan_duration_ms(const struct plan *plan); /* everything on the bike */
uint32_t plan_work_ms(const struct plan *plan);     /* the work steps alone */
uint32_t plan_floor_ms(const struct plan *plan);    /* the steps off the bike */
size_t plan_floor_steps(const struct plan *plan);   /* how many of those; they come first */

/* What a step asks for so far into it: ramps lead evenly over its time. */
struct step_targets plan_step_targets(const struct plan_step *step, uint32_t step_ms);

#endif
