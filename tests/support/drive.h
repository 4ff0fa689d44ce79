/*
 * Drives the real step function through a ride: a plan, a machine that answers, a rider who pedals,
 * unless a test says otherwise. Keeps what was last commanded, as seen from outside.
 */
#ifndef SUPPORT_DRIVE_H
#define SUPPORT_DRIVE_H

#include "ride/reserve_run.h"
#include "ride/ride.h"

struct drive {
    struct ride ride;
    struct reserve_run reserve; /* zeroed: not looked at */
    struct effects effects;     /* of the last event */
    /* sees every event and what it caused; NULL: nobody does */
    void (*watch)(void *user, const struct event *event, const struct effects *effects);
    void *user;
    uint64_t t_ms;
    /* what the machine and the rider do at each tick */
    bool is_mute;   /* no answers to commands */
    bool is_silent; /* no telemetry */
    bool has_strap;
    int32_t power_w, cadence_rpm, strap_bpm;
    int32_t sensor_w; /* of a power sensor; 0: there is none */
    enum answer answer;
    /* what was seen, over all events */
    struct load load; /* commanded last */
    uint64_t load_t_ms;
    enum cut_off cut_off; /* first */
    uint64_t cut_off_t_ms;
    enum hold hold;   /* now */
    enum phase phase; /* now */
    unsigned cautions[CAUTION_COUNT];
    unsigned commands[COMMAND_STOP + 1];
    struct summary summary;
    unsigned summaries;
};

/* 30 s warm-up at 100 W, then three rounds of 60 s work at 200 W and 30 s rest at 80 W, then 60 s
 * of cool-down at 60 W; ranges of +-10 W. */
void drive_init(struct drive *drive);
void drive_event(struct drive *drive, const struct event *event);
/* A machine that takes power; the rider pedals at 90 rpm and 100 W; ridden up to `block_ms` of the
 * block clock, or until the phase is no longer RIDING. */
void drive_to(struct drive *drive, uint32_t block_ms);
/* Ticks and telemetry four times a second for so long. */
void drive_for(struct drive *drive, uint32_t ms);
void drive_key(struct drive *drive, enum ride_key key);
void drive_status(struct drive *drive, enum machine_status status);
void drive_link(struct drive *drive, bool up);
/* Nothing is heard or answered any more; answers come again, telemetry only when it is not silent.
 */
void drive_lose_link(struct drive *drive);
void drive_regain_link(struct drive *drive);
bool drive_saw(const struct drive *drive, enum effect_kind kind); /* in the last event */

#define WORK_1_MS 30000u /* where the first work step begins, and the first rest */
#define REST_1_MS 90000u

#endif
