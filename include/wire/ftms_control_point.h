/*
 * Fitness Machine Control Point (0x2AD9): commands to a machine and its answers.
 *
 * Source: Fitness Machine Service 1.0.1, 4.16 and tables 4.15 and 4.24. Resistance travels in two
 * widths: the tables print one octet, the erratum E8991 of 2017 made it two.
 */
#ifndef WIRE_FTMS_CONTROL_POINT_H
#define WIRE_FTMS_CONTROL_POINT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/result.h"

enum ftms_opcode {
    FTMS_REQUEST_CONTROL = 0x00,
    FTMS_RESET = 0x01,
    FTMS_SET_SPEED = 0x02,
    FTMS_SET_INCLINATION = 0x03,
    FTMS_SET_RESISTANCE = 0x04,
    FTMS_SET_POWER = 0x05,
    FTMS_SET_HEART_RATE = 0x06,
    FTMS_START_OR_RESUME = 0x07,
    FTMS_STOP_OR_PAUSE = 0x08,
    FTMS_SET_SIMULATION = 0x11,
    FTMS_RESPONSE_CODE = 0x80
};

enum ftms_result {
    FTMS_SUCCESS = 0x01,
    FTMS_NOT_SUPPORTED = 0x02,
    FTMS_INVALID_PARAMETER = 0x03,
    FTMS_OPERATION_FAILED = 0x04,
    FTMS_CONTROL_NOT_PERMITTED = 0x05
};

/* The parameter of FTMS_STOP_OR_PAUSE, and of the status FTMS_STATUS_STOPPED_BY_USER. */
enum ftms_stop { FTMS_STOP = 1, FTMS_PAUSE = 2 };

struct ftms_response {
    uint8_t request; /* enum ftms_opcode */
    uint8_t result;  /* enum ftms_result; reserved numbers are kept */
};

#define FTMS_COMMAND_MAX 19u

/* Accepts a lone result octet as an answer to `pending`, which some machines send. An answer that
 * names its request but lost its result says FTMS_OPERATION_FAILED. Parameters after the result
 * are ignored. RESULT_NEED_MORE for nothing usable, RESULT_INVALID for no response at all. */
MUST_USE enum result ftms_decode_response(const uint8_t *value, size_t length, uint8_t pending,
                                          struct ftms_response *ret);

/* Encoders return the length; the buffers hold FTMS_COMMAND_MAX octets. */
size_t ftms_encode_plain(uint8_t opcode, uint8_t *ret); /* request control, reset, start */
size_t ftms_encode_stop(bool pause, uint8_t *ret);
size_t ftms_encode_power(int16_t power_w, uint8_t *ret);
/* `octets` is 1 or 2; one octet holds 0 to 25.5, levels outside are clipped to that. */
size_t ftms_encode_resistance(int16_t level_tenths, unsigned octets, uint8_t *ret);
size_t ftms_encode_response(uint8_t request, uint8_t result, uint8_t *ret);

#endif
