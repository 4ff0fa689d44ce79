/*
 * What a step of a profile or a plan can be, and what it can ask for.
 */
#ifndef RIDE_STEP_H
#define RIDE_STEP_H

#include <stdbool.h>
#include <stdint.h>

#define PLAN_STEP_MIN_MS 1000u
#define PLAN_STEP_MAX_MS 1800000u
#define PLAN_CUE_MAX     40u /* octets of UTF-8 */
#define PLAN_REPS_MAX    99u
#define PLAN_EFFORT_MAX  10

enum step_kind {
    STEP_WARM_UP,
    STEP_WORK,
    STEP_REST,
    STEP_COOL_DOWN,
    STEP_FLOOR, /* off the bike, before all others: no load and no targets */
    STEP_KIND_COUNT
};

/* Both ends belong to the range. Zeroed: nothing is asked. */
struct target_range {
    bool set;
    int32_t low, high;
};

struct step_targets {
    struct target_range power_w;
    struct target_range power_cp_tenths;   /* tenths of a per cent of critical power; and */
    struct target_range power_mark_tenths; /* of the mark: in profiles only, see profile_plan() */
    struct target_range cadence_rpm;
    struct target_range heart_bpm;
    struct target_range level_tenths;
    struct target_range effort; /* how hard it should feel, 0 to 10: for the rider, not the bike */
};

/* What ends a step before its time is over. Zeroed: its time alone. */
enum step_until {
    UNTIL_TIME,
    UNTIL_WORK,     /* so much done in it, J */
    UNTIL_DISTANCE, /* so far in it, m */
    UNTIL_HEART     /* the heart rate has fallen to it, bpm */
};
struct step_end {
    enum step_until until;
    int32_t value;
};

/* Repetitions off the bike. Zeroed: a hold, or a step on it. */
struct step_reps {
    uint16_t reps;
    uint16_t tempo; /* four digits, seconds of lowering, bottom, lifting, top: 3010 */
};

/* Where somebody is who keeps to the tempo. */
enum rep_part { REP_LOWERS, REP_BOTTOM, REP_LIFTS, REP_TOP, REP_PART_COUNT };
struct rep_place {
    uint32_t rep; /* from 1 */
    enum rep_part part;
    uint32_t second, seconds; /* into that part, from 1; of it */
};

/* `reps` is sound and `step_ms` before its end. */
struct rep_place reps_place(struct step_reps reps, uint32_t step_ms);

/* Of reps x tempo; 0 when the tempo is not four digits, or takes no time. */
uint32_t reps_duration_ms(struct step_reps reps);

const char *step_kind_text(enum step_kind kind); /* as in profiles: "warm-up", "work", … */

#endif
