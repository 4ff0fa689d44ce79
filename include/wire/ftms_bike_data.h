/*
 * Indoor Bike Data (0x2AD2): what a bike measures, about once a second.
 *
 * Source: Fitness Machine Service 1.0.1, 4.9 and table 4.10. Where the characteristic's older XML
 * puts cadence before average speed in the flags, the service's own table is followed.
 */
#ifndef WIRE_FTMS_BIKE_DATA_H
#define WIRE_FTMS_BIKE_DATA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/result.h"

/* In the order of the frame. The bits are those of its flags, but for the first: on the air a
 * clear bit 0 says that speed is there. */
enum ftms_bike_field {
    FTMS_BIKE_SPEED = 1u << 0,
    FTMS_BIKE_AVERAGE_SPEED = 1u << 1,
    FTMS_BIKE_CADENCE = 1u << 2,
    FTMS_BIKE_AVERAGE_CADENCE = 1u << 3,
    FTMS_BIKE_DISTANCE = 1u << 4,
    FTMS_BIKE_RESISTANCE = 1u << 5,
    FTMS_BIKE_POWER = 1u << 6,
    FTMS_BIKE_AVERAGE_POWER = 1u << 7,
    FTMS_BIKE_ENERGY = 1u << 8,
    FTMS_BIKE_HEART_RATE = 1u << 9,
    FTMS_BIKE_METABOLIC_EQUIVALENT = 1u << 10,
    FTMS_BIKE_ELAPSED = 1u << 11,
    FTMS_BIKE_REMAINING = 1u << 12
};

#define FTMS_ENERGY_UNKNOWN            0xFFFFu
#define FTMS_ENERGY_PER_MINUTE_UNKNOWN 0xFFu
#define FTMS_BIKE_DATA_MAX             30u /* octets in a frame with every field */

struct ftms_bike_data {
    uint32_t has;        /* enum ftms_bike_field: what the frame carried */
    bool more_data;      /* further parts of this record follow */
    bool is_short;       /* the frame held less than its flags promise */
    uint16_t speed_ckmh; /* 0.01 km/h */
    uint16_t average_speed_ckmh;
    uint16_t cadence_half_rpm; /* 0.5 /min */
    uint16_t average_cadence_half_rpm;
    uint32_t distance_m;
    int16_t resistance;        /* raw number: its scale differs between machines */
    uint8_t resistance_octets; /* 1 or 2, as it travelled */
    int16_t power_w;
    int16_t average_power_w;
    uint16_t energy_kcal;           /* or FTMS_ENERGY_UNKNOWN */
    uint16_t energy_kcal_per_hour;  /* or FTMS_ENERGY_UNKNOWN */
    uint8_t energy_kcal_per_minute; /* or FTMS_ENERGY_PER_MINUTE_UNKNOWN */
    uint8_t heart_bpm;              /* 0: the machine sends the field but has no reading */
    uint8_t metabolic_equivalent_tenths;
    uint16_t elapsed_s, remaining_s;
};

/* Puts the parts of a record together. Zeroed is empty; zero it again at a new link. */
struct ftms_record {
    struct ftms_bike_data data;
};

/* RESULT_NEED_MORE below the two octets of the flags. A frame cut short keeps the fields that are
 * whole; extra octets and unknown flags are ignored. Resistance is one octet wide when the frame
 * is exactly one shorter than two octets would make it. */
MUST_USE enum result ftms_decode_bike_data(const uint8_t *value, size_t length,
                                           struct ftms_bike_data *ret);
/* True when this part closes the record; then `ret` has all its fields. */
bool ftms_record_add(struct ftms_record *record, const struct ftms_bike_data *part,
                     struct ftms_bike_data *ret);
/* For a server; `ret` holds FTMS_BIKE_DATA_MAX octets. A frame without speed announces more data,
 * whatever `more_data` says; resistance in the width that `resistance_octets` says. */
size_t ftms_encode_bike_data(const struct ftms_bike_data *data, uint8_t *ret);

#endif
