/*
 * The last word on every load.
 *
 * Called with every event, after everything else has decided what it would like. Going down is at
 * once, going up is ramped; without fresh readings nothing is raised; a cut-off lasts to the end of
 * the ride and the first reason is kept. Nothing here knows profiles, screens or links.
 */
#ifndef RIDE_SAFETY_H
#define RIDE_SAFETY_H

#include "ride/effect.h"
#include "ride/limits.h"

/* A condition, and since when it has stood without a break. */
struct stretch {
    bool stands;
    uint64_t since_ms;
};

struct safety {
    enum cut_off cut_off; /* latched */
    struct load load;     /* what was allowed last */
    bool climbs;          /* it is on its way up, and counts from here */
    uint64_t climb_t_ms;
    struct stretch power_over, cadence_over, cadence_low, legs_still;
    bool collapsed; /* cadence fell under load; until it is back, no load */
};

/* What the control procedures make of the machine's answers. */
enum control_fault { CONTROL_FINE, CONTROL_UNANSWERED, CONTROL_REFUSED, CONTROL_LOST };

/* Ages are of the latest believable reading; AGE_UNKNOWN when there was none. */
#define AGE_UNKNOWN UINT32_MAX
struct safety_inputs {
    uint64_t t_ms;
    enum phase phase;
    enum hold hold; /* in PHASE_HELD */
    bool in_work;   /* a work step */
    bool may_coast; /* a rest or cool-down: legs that stop there do not stop the block */
    bool has_control, safety_key;
    bool link_lost; /* and not yet back with readings; since when: */
    uint32_t link_lost_ms;
    enum control_fault control_fault;
    uint32_t data_age_ms;
    uint32_t silence_ms;          /* the same, but no longer than this phase has lasted */
    int32_t power_w, cadence_rpm; /* 0 when unknown */
    bool cadence_known;           /* and fresh; else the power tells whether the legs turn */
    bool heart_was_known;         /* ever in this ride */
    uint32_t heart_age_ms;
    int32_t heart_bpm, heart_median_bpm; /* 0 when unknown */
    uint32_t since_start_ms;             /* by the wall, holds included; 0 before the start */
    struct load rest_load; /* what work drops to when nobody watches the heart any more */
};

struct safety_verdict {
    struct load load;
    enum cut_off cut_off;
    enum hold hold; /* a reason to hold that stands now */
    bool heart_near, strap_lost, lowered;
};

struct safety_verdict safety_step(struct safety *safety, const struct limits *limits,
                                  const struct safety_inputs *inputs, struct load wanted);

/* Where there is no cadence the power tells, which is nothing at the pedals of legs that stand. */
bool safety_legs_are_still(const struct limits *limits, const struct safety_inputs *in);

bool load_is_same(struct load a, struct load b);
/* True when `a` asks no more of the legs than `b`. Loads of different kinds are not comparable. */
bool load_is_at_most(struct load a, struct load b);

#endif
