/*
 * Cycling Speed and Cadence Service (0x1816): octets to structs and back. Of the wheel, which says
 * nothing about a bike that stands, nothing is kept.
 *
 * Source: Cycling Speed and Cadence Service 1.0, CSC Measurement and CSC Feature.
 */
#ifndef WIRE_CADENCE_H
#define WIRE_CADENCE_H

#include <stddef.h>

#include "base/result.h"
#include "wire/crank.h"

enum { CADENCE_SERVICE = 0x1816, CADENCE_MEASUREMENT = 0x2A5B, CADENCE_FEATURE = 0x2A5C };

#define CADENCE_FRAME_MAX 5u /* what we send */

struct cadence_frame {
    bool has_crank; /* else of the wheel alone */
    struct crank_count crank;
};

/* RESULT_NEED_MORE for a frame that is shorter than its flags say. */
MUST_USE enum result cadence_decode(const uint8_t *value, size_t length, struct cadence_frame *ret);
/* Whether a sensor with this CSC Feature counts turns of the crank. RESULT_NEED_MORE: cut short. */
MUST_USE enum result cadence_feature_decode(const uint8_t *value, size_t length,
                                            bool *ret_counts_crank);
/* For a server; `ret` holds CADENCE_FRAME_MAX octets. Gives the length. */
size_t cadence_encode(struct crank_count crank, uint8_t *ret);

#endif
