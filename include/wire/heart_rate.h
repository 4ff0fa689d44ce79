/*
 * Heart Rate Service (0x180D): octets to structs and back.
 *
 * Source: Heart Rate Service 1.0. RR intervals come in 1/1024 s, oldest first.
 */
#ifndef WIRE_HEART_RATE_H
#define WIRE_HEART_RATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/result.h"

enum {
    HEART_RATE_SERVICE = 0x180D,
    HEART_RATE_MEASUREMENT = 0x2A37,
    HEART_RATE_BODY_LOCATION = 0x2A38
};

#define HEART_RR_MAX    255u /* as many as a frame of 512 octets holds */
#define HEART_FRAME_MAX 20u  /* what we send: fits the smallest MTU */

enum heart_contact { HEART_CONTACT_UNKNOWN, HEART_CONTACT_NONE, HEART_CONTACT_GOOD };

struct heart_rate {
    uint16_t heart_bpm;
    enum heart_contact contact; /* unknown: the strap cannot tell, which is not "none" */
    bool has_energy;
    uint16_t energy_kj;
    uint8_t rr_count;
    uint16_t rr_1024[HEART_RR_MAX];
};

/* RESULT_NEED_MORE for a frame without its heart rate. Energy or intervals cut off are left out. */
MUST_USE enum result heart_rate_decode(const uint8_t *value, size_t length, struct heart_rate *ret);
/* For a server; `ret` holds HEART_FRAME_MAX octets, RR intervals that do not fit are left out. */
size_t heart_rate_encode(const struct heart_rate *heart, uint8_t *ret);

#endif
