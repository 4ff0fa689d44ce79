/*
 * Rides in a store, ridden by the real step function and recorded by the real recorder: a warm-up
 * of 10 s, one stretch of work, a cool-down of 5 s. All of it is invented.
 */
#ifndef SUPPORT_RIDDEN_H
#define SUPPORT_RIDDEN_H

#include "port/store.h"

#define RIDDEN_EASY_BPM 95

struct ridden {
    const char *title, *bike; /* NULL: "Invented", "virtual" */
    const char *profile;      /* its file; NULL: not known */
    bool is_fresh;
    uint32_t feel;
    uint32_t work_s;           /* 0: 180 */
    int32_t asked_w;           /* +-10; 0: asks for nothing */
    int32_t level;             /* asked for instead, in tenths, +-10; 0: none */
    int32_t power_w;           /* ridden */
    int32_t shifts_up;         /* by key, before the work */
    int32_t strap_bpm;         /* in the work, RIDDEN_EASY_BPM around it; 0: no strap */
    uint16_t critical_power_w; /* the rider's; 0: not known */
    bool stops;                /* half way */
    const char *power_sensor;  /* NULL: none */
    int32_t sensor_told_pct;   /* of the power ridden; 0: that sensor is not heard */
    bool bike_has_no_power;    /* it tells 0 W */
    bool sensor_falls_silent;  /* half way */
    uint32_t proposed, proposed_length_ms;
    /* The brake, which else takes any power. By levels to 20.0, ridden before: 36 W for 1.0. */
    int32_t level_step_tenths;
    int32_t knob; /* turned by hand, to this of ten numbers in the work, and to 1 before */
};

/* Gives the number of the ride. */
int64_t ridden(struct store *store, const struct ridden *how);

#endif
