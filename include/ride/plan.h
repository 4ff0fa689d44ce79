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

#define PLAN_STEPS_MAX     512u
#define PLAN_TITLE_MAX     60u /* octets of UTF-8 */
#define PROFILE_ITEMS_MAX  128u
#define PROFILE_DEPTH_MAX  4u
#define PROFILE_ROUNDS_MAX 99u
#define PLAN_STEP_MIN_MS   1000u
#define PLAN_STEP_MAX_MS   1800000u
#define PLAN_LENGTH_MIN_MS 180000u /* 3:00, the shortest block there is */
#define PLAN_LENGTH_MAX_MS 420000u /* 7:00, the longest */

enum step_kind { STEP_WARM_UP, STEP_WORK, STEP_REST, STEP_COOL_DOWN, STEP_KIND_COUNT };

/* Both ends belong to the range. Zeroed: nothing is asked. */
struct target_range {
    bool set;
    int32_t low, high;
};

struct step_targets {
    struct target_range power_w;
    struct target_range power_cp_tenths; /* tenths of a per cent of critical power; profiles only */
    struct target_range cadence_rpm;
    struct target_range heart_bpm;
    struct target_range level_tenths;
};

enum profile_item_kind { PROFILE_STEP, PROFILE_ROUNDS, PROFILE_END };

struct profile_item {
    enum profile_item_kind kind;
    enum step_kind step;  /* PROFILE_STEP */
    uint32_t duration_ms; /* PROFILE_STEP */
    struct step_targets targets;
    uint16_t rounds; /* PROFILE_ROUNDS */
    uint32_t line;   /* in the file, from 1 */
};

struct profile {
    char title[PLAN_TITLE_MAX + 1];
    uint32_t length_min_ms, length_max_ms; /* what the profile allows */
    size_t item_count;
    struct profile_item items[PROFILE_ITEMS_MAX];
};

struct plan_step {
    enum step_kind kind;
    uint32_t duration_ms;
    struct step_targets targets; /* power_cp_tenths is never set here */
    uint16_t round, rounds;      /* of the innermost rounds, from 1; 0 outside */
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

/* Unrolls the rounds and turns shares of critical power into watts (rounded to the nearest). Heart
 * targets are left out where medicine slows the heart: it would not reach them.
 * RESULT_INVALID: see profile_measure(). RESULT_FULL: more than PLAN_STEPS_MAX steps.
 * RESULT_NOT_FOUND: the profile asks for a share of critical power and the rider has none.
 * RESULT_RANGE: the length is not what the profile, or this program, allows. */
MUST_USE enum result profile_plan(const struct profile *profile, const struct rider *rider,
                                  struct plan *ret);

uint32_t plan_length_ms(const struct plan *plan);   /* first work or rest to the last */
uint32_t plan_duration_ms(const struct plan *plan); /* everything */
uint32_t plan_work_ms(const struct plan *plan);     /* the work steps alone */

const char *step_kind_text(enum step_kind kind); /* as in profiles: "warm-up", "work", … */

#endif
