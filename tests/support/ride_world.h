/*
 * What must hold in every ride whatever happens, said from the events that go in and the effects
 * that come out, with no help from the code under test.
 */
#ifndef SUPPORT_RIDE_WORLD_H
#define SUPPORT_RIDE_WORLD_H

#include "ride/effect.h"

/* What the world outside knows. Zeroed: a ride begins. */
struct ride_world {
    uint64_t t_ms;
    bool control_asked; /* and not answered yet */
    bool link_up, control, cut_off, ended, stopped;
    enum phase phase;
    bool phase_told;
    uint64_t phase_t_ms;        /* since when, once it was told */
    bool stop_now;              /* this event is one */
    bool goes_on_now;           /* it is the hold key */
    bool is_machines_start;     /* it is a start at the machine */
    bool pause_now;             /* it is the pause key */
    bool jumped;                /* more than 5 s passed before it, in no hold */
    bool starts_now;            /* this step commanded a start */
    enum hold hold;             /* as it was told last */
    bool stood;                 /* legs that stood in a hold, and have not turned since */
    bool has_cadence_sensor;    /* one that tells cadence has spoken: then that is not looked at */
    enum cut_off first_cut_off; /* as it was told first */
    enum end_reason first_stop; /* of the key that ended the block, if one did */
    bool machine_known, takes_power;           /* as the machine told first on this link */
    int32_t machine_max_w, machine_max_tenths; /* 0: not told */
    int32_t machine_min_tenths;
    bool data_known;
    uint64_t data_t_ms;
    int32_t rider_max_w; /* 0: no limit of the rider's own; to be set */
    struct load load;    /* commanded last */
    uint64_t load_t_ms;  /* when, or when the machine last answered one */
    bool may_be_loaded;  /* nothing has confirmed that the load is off */
    bool loads_now;      /* this step commanded a load */
    uint64_t raised_t_ms;
    unsigned long loads_seen, cut_offs_seen, holds_seen;
};

/* Before the step. */
void ride_world_takes(struct ride_world *world, const struct event *event);
/* After it: NULL, or the rule that is broken. */
const char *ride_world_sees(struct ride_world *world, const struct effects *effects);

#endif
