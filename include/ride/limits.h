/*
 * The one table of limits. Built from the program's own, lowered by the rider's and the machine's;
 * no profile reaches it.
 */
#ifndef RIDE_LIMITS_H
#define RIDE_LIMITS_H

#include "body/rider.h"
#include "ride/machine.h"

struct limits {
    /* load */
    int32_t load_max_w, load_max_tenths;
    int32_t load_min_w, load_min_tenths;     /* of the machine; less is a release */
    int32_t ramp_w_per_s, ramp_tenths_per_s; /* upwards; downwards there is none */
    int32_t step_max_w, step_max_tenths;     /* of one rising command */
    uint32_t raise_every_ms;                 /* between two rising commands */
    /* power and cadence that end the ride */
    int32_t power_max_w, cadence_max_rpm;
    uint32_t over_for_ms;
    /* cadence that says the legs cannot turn the load */
    int32_t cadence_floor_rpm, cadence_clear_rpm; /* it counts as under the floor until clear */
    int32_t cadence_resume_rpm;                   /* the load comes back */
    uint32_t floor_for_ms;
    int32_t cadence_still_rpm, power_still_w; /* legs that do not turn */
    uint32_t still_for_ms;
    /* age of readings */
    uint32_t data_stale_ms, data_lost_ms, heart_stale_ms;
    uint32_t link_lost_ms; /* how long a lost link is waited for */
    /* heart */
    int32_t heart_limit_bpm, heart_caution_bpm;
    uint32_t heart_window_ms; /* the median over this counts */
    /* commands */
    uint32_t answer_ms;
    /* clock */
    uint32_t jump_ms, hold_max_ms, connect_max_ms, ready_max_ms, easy_max_ms, leave_max_ms,
        total_max_ms;
};

/* `machine` may be NULL before it is known. `plan_ms` is the planned duration of everything. */
void limits_set(const struct rider *rider, const struct machine *machine, uint32_t plan_ms,
                struct limits *ret);

#endif
