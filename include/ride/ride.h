/*
 * The controller of one block: a step function over events.
 *
 * The phases and what leads from one to the next are drawn in DEVELOPERS.md.
 *
 * Deterministic, no I/O, no clock: the same setup and the same events give the same effects.
 */
#ifndef RIDE_RIDE_H
#define RIDE_RIDE_H

#include "ride/control.h"
#include "ride/effect.h"
#include "ride/plan.h"
#include "ride/power_hold.h"
#include "ride/safety.h"
#include "ride/sensors.h"
#include "ride/totals.h"
#include "ride/watch.h"

#define COUNT_IN_MS 3000u
/* Until the first step off the bike begins: the way from the keyboard to the floor. */
#define FLOOR_LEAD_MS 10000u
/* A step that is not work and has come to its end goes on for so long, to be counted down. */
#define END_COUNT_MS 3000u
#define RIDE_NO_EDGE UINT64_MAX

/* Everything a ride depends on besides its events. */
struct ride_setup {
    struct plan plan;
    struct rider rider;
    bool strap_expected;  /* the rider named a strap */
    bool counts_recovery; /* else the ride of an older program, whose summary has none */
    bool tells_sources;   /* likewise: whose summary does not say who measured the power */
    bool is_watched;      /* likewise: else without the cautions of ride/watch.h */
    bool compares_powers; /* likewise: without CAUTION_TWO_POWERS */
    bool holds_power; /* likewise: a machine that takes levels is left alone by targets of power */
    bool tells_knob;  /* likewise: who turns a brake by hand is told nothing */
    struct knob_place knob;   /* where an earlier ride left it; its curve is in brake */
    struct brake_curve brake; /* of this machine, as earlier rides learned it */
};

/* Read it, for screens; write it only through ride_step(). */
struct ride {
    struct ride_setup setup;
    struct limits limits;
    enum phase phase;
    enum hold hold;
    enum end end;
    enum end_reason reason;
    uint64_t t_ms;        /* of the last event */
    uint64_t phase_t_ms;  /* when the phase began */
    uint64_t start_t_ms;  /* when the block began; 0 before */
    uint32_t block_ms;    /* the block clock: holds left out */
    size_t step;          /* index into the plan */
    uint32_t step_ms;     /* into the step */
    uint32_t step_end_ms; /* where it will end if nothing else happens */
    int64_t step_work_j;  /* totals when it began */
    int32_t step_distance_m;
    uint32_t floor_lead_ms; /* still to go, in PHASE_FLOOR */
    uint64_t hold_t_ms;     /* when the hold began */
    int32_t shift_pct;      /* the rider's own, on every load */
    int32_t skipped;        /* steps cut short by key */
    bool must_rest;         /* pedalling starts nothing before the legs have been still */
    bool safety_key, heart_was_known;
    bool is_linked, machine_known; /* the machine of this link has told what it can do */
    bool is_regaining;             /* the link was lost, and there are no new readings yet */
    uint64_t lost_t_ms;            /* since when */
    struct sensors sensors;
    struct control control;
    struct power_hold power_hold; /* in use on a machine that takes levels and no power */
    struct knob knob;             /* in use on a machine that takes nothing */
    struct felt felt;             /* by feel, beside the number of work in knob.place */
    struct knob_scale knob_scale; /* its former one */
    struct safety safety;
    struct safety_verdict verdict; /* of the last event */
    struct totals totals;
    struct watch watch;
    uint64_t caution_t_ms[CAUTION_COUNT]; /* when each was given last; 0 never */
};

/* The setup is copied. A plan without steps on the bike is the caller's fault (assert). */
void ride_init(struct ride *ride, const struct ride_setup *setup);

/* `effects` is emptied first. After PHASE_ENDED nothing more comes. */
void ride_step(struct ride *ride, const struct event *event, struct effects *effects);

/* Something was put on the brake, and nothing has confirmed that it let go. */
bool ride_may_be_loaded(const struct ride *ride);

/* Held by what does not go on by itself: the hold key goes on. */
bool ride_waits_for_key(const struct ride *ride);

/* Power is held by levels on this machine, whose brake is being learned. */
bool ride_holds_power(const struct ride *ride);
/* What that costs nobody has measured, today or ever: the rider's keys are its knob. */
bool ride_goes_by_feel(const struct ride *ride);
/* The level that the machine took last and still holds, in tenths; 0: none. */
int32_t ride_level_set(const struct ride *ride);

/* Nothing measures the power: none but 0 was told in the block so far, or in the last
 * WATCH_POWERLESS_MS of work under turning legs. Nobody is judged by it then. */
bool ride_is_powerless(const struct ride *ride);

/* The load of this machine is made by hand, and the rider told how. */
bool ride_turns_knob(const struct ride *ride);

/* The number on the knob at which the brake gives the middle of the power that this step of the
 * plan asks for at its beginning, where its curve and its place are known well enough to tell. */
bool ride_knob_for(const struct ride *ride, size_t step, int32_t *ret);

/* Where the knob cannot come nearer: the cadence, of those that the step asks for, with which it
 * makes the middle of the power as it stands. False where none brings it into the range, or its
 * curve or its place are not known. */
bool ride_cadence_for(const struct ride *ride, int32_t *ret);

/* Which way it is to be turned at the end of this step; and only while that is announced. */
enum knob_turn ride_turn_at_edge(const struct ride *ride);
enum knob_turn ride_turn_ahead(const struct ride *ride);
/* NULL when no step is being ridden, or done on the floor. */
const struct plan_step *ride_current_step(const struct ride *ride);

/* What that step asks for at this moment, which changes with the whole seconds of a ramp. Zeroed
 * without a step. */
struct step_targets ride_targets(const struct ride *ride);

/* With the rider's shift of the watts: what the screen and the cues judge by, for where the brake
 * holds those others cannot be met; by feel none, which nobody sees. What is kept of the ride goes
 * by the plan. Asked: the targets at this moment, so. */
struct step_targets ride_shifted(const struct ride *ride, const struct step_targets *targets);
struct step_targets ride_asked(const struct ride *ride);

/* How much of what ends the step is left: J or m; beats that the heart is above it; 0 where it ends
 * with its time, or nothing is known. */
int32_t ride_left_to_end(const struct ride *ride);

/* When the count-in or the step will be over if nothing else happens. A step ends with the first
 * event at or after its edge, so one at the edge keeps it exact. RIDE_NO_EDGE: no clock runs. */
uint64_t ride_next_edge_ms(const struct ride *ride);

#endif
