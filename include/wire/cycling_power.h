/*
 * Cycling Power Service (0x1818): octets to structs and back.
 *
 * Source: Cycling Power Service 1.1, Cycling Power Measurement. What a ride has no use for
 * (balance, torque, the wheel, extremes, dead spots, energy) is passed over.
 */
#ifndef WIRE_CYCLING_POWER_H
#define WIRE_CYCLING_POWER_H

#include <stddef.h>

#include "base/result.h"
#include "wire/crank.h"

enum {
    CYCLING_POWER_SERVICE = 0x1818,
    CYCLING_POWER_MEASUREMENT = 0x2A63,
    CYCLING_POWER_FEATURE = 0x2A65,
    CYCLING_POWER_LOCATION = 0x2A5D
};

#define CYCLING_POWER_FRAME_MAX 8u /* what we send */

struct cycling_power {
    int16_t power_w; /* at this moment; what cannot be true is for the ride to tell */
    bool has_crank;
    struct crank_count crank;
};

/* RESULT_NEED_MORE for a frame without its power. A count of turns cut off is left out. */
MUST_USE enum result cycling_power_decode(const uint8_t *value, size_t length,
                                          struct cycling_power *ret);
/* For a server; `ret` holds CYCLING_POWER_FRAME_MAX octets. Gives the length. */
size_t cycling_power_encode(const struct cycling_power *power, uint8_t *ret);

#endif
