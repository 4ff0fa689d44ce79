/*
 * Fitness Machine Service (0x1826): octets to structs and back. Bike data and control point, which
 * come along with this header, have one of their own.
 *
 * Source: Fitness Machine Service 1.0 (2017-02-14) and 1.0.1 (2024-10-01). Resistance travels in
 * two widths, told apart by length and never by version.
 */
#ifndef WIRE_FTMS_H
#define WIRE_FTMS_H

#include "wire/ftms_bike_data.h"
#include "wire/ftms_control_point.h"

enum {
    FTMS_SERVICE = 0x1826,
    FTMS_FEATURE = 0x2ACC,
    FTMS_INDOOR_BIKE_DATA = 0x2AD2,
    FTMS_TRAINING_STATUS = 0x2AD3,
    FTMS_SPEED_RANGE = 0x2AD4,
    FTMS_INCLINATION_RANGE = 0x2AD5,
    FTMS_RESISTANCE_RANGE = 0x2AD6,
    FTMS_HEART_RATE_RANGE = 0x2AD7,
    FTMS_POWER_RANGE = 0x2AD8,
    FTMS_CONTROL_POINT = 0x2AD9,
    FTMS_MACHINE_STATUS = 0x2ADA
};

/* Which of the two words of the feature characteristic, and the bit in it. */
enum ftms_machine_feature {
    FTMS_HAS_AVERAGE_SPEED = 1u << 0,
    FTMS_HAS_CADENCE = 1u << 1,
    FTMS_HAS_TOTAL_DISTANCE = 1u << 2,
    FTMS_HAS_RESISTANCE_LEVEL = 1u << 7,
    FTMS_HAS_EXPENDED_ENERGY = 1u << 9,
    FTMS_HAS_HEART_RATE = 1u << 10,
    FTMS_HAS_METABOLIC_EQUIVALENT = 1u << 11,
    FTMS_HAS_ELAPSED_TIME = 1u << 12,
    FTMS_HAS_REMAINING_TIME = 1u << 13,
    FTMS_HAS_POWER = 1u << 14
};
enum ftms_target_feature {
    FTMS_TAKES_SPEED = 1u << 0,
    FTMS_TAKES_INCLINATION = 1u << 1,
    FTMS_TAKES_RESISTANCE = 1u << 2,
    FTMS_TAKES_POWER = 1u << 3,
    FTMS_TAKES_HEART_RATE = 1u << 4,
    FTMS_TAKES_SIMULATION = 1u << 13,
    FTMS_TAKES_CADENCE = 1u << 16
};
struct ftms_feature {
    uint32_t machine; /* enum ftms_machine_feature; unknown bits kept */
    uint32_t target;  /* enum ftms_target_feature */
};

struct ftms_range {
    int32_t minimum, maximum, increment; /* in the unit of the characteristic; increment >= 1 */
};

enum ftms_status_opcode {
    FTMS_STATUS_RESET = 0x01,
    FTMS_STATUS_STOPPED_BY_USER = 0x02, /* parameter: enum ftms_stop */
    FTMS_STATUS_SAFETY_KEY = 0x03,
    FTMS_STATUS_STARTED_BY_USER = 0x04,
    FTMS_STATUS_RESISTANCE_CHANGED = 0x07, /* parameter: 0.1 */
    FTMS_STATUS_POWER_CHANGED = 0x08,      /* parameter: 1 W */
    FTMS_STATUS_CONTROL_LOST = 0xFF
};
struct ftms_status {
    uint8_t opcode;
    bool has_parameter;
    int32_t parameter; /* of the opcodes above; those of others are not read */
};

struct ftms_training_status {
    uint8_t status;
    const char *text; /* borrowed from the frame, not terminated; NULL without text */
    size_t text_length;
    bool is_longer; /* the rest needs a read */
};

/* Decoders: RESULT_NEED_MORE for a frame too short to mean anything. Extra octets and unknown
 * flags are ignored, as the profile asks. */
MUST_USE enum result ftms_decode_feature(const uint8_t *value, size_t length,
                                         struct ftms_feature *ret);
/* `characteristic` is one of the …_RANGE numbers (else RESULT_UNSUPPORTED): it gives width and
 * sign, and for resistance the length does. RESULT_RANGE when minimum is not below maximum. */
MUST_USE enum result ftms_decode_range(uint16_t characteristic, const uint8_t *value, size_t length,
                                       struct ftms_range *ret);
/* How wide a resistance travels in a range of that length: 1 or 2 octets. */
unsigned ftms_resistance_octets(size_t range_length);
MUST_USE enum result ftms_decode_status(const uint8_t *value, size_t length,
                                        struct ftms_status *ret);
MUST_USE enum result ftms_decode_training_status(const uint8_t *value, size_t length,
                                                 struct ftms_training_status *ret);

#endif
