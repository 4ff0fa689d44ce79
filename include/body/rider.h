/*
 * The person who rides, as far as they have told us. Zero means: not known.
 */
#ifndef BODY_RIDER_H
#define BODY_RIDER_H

#include <stdbool.h>
#include <stdint.h>

struct rider {
    double mass_kg;
    uint16_t age_years;
    uint16_t heart_rest_bpm;
    uint16_t heart_max_bpm;   /* measured, not estimated */
    uint16_t heart_limit_bpm; /* personal, from a clinician; it can only lower */
    bool is_new;              /* these are the first blocks: see ride/fit.h */
    bool heart_slowed;        /* takes rate-slowing medicine: estimates from age do not hold */
    uint16_t critical_power_w;
    uint32_t w_prime_j;
    uint16_t mark_power_w; /* mean in the work steps of the block that is to be beaten */
    uint16_t power_limit_w;
    uint16_t cadence_limit_rpm;
};

#endif
