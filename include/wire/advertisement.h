/*
 * What a device says of itself before anybody connects: advertising structures, each a length, a
 * type and data.
 *
 * One report may hold all of it, or the parts come in several (advertising, then scan response), so
 * reading adds to what is known. Structures that are cut short end a report; types that are not
 * known are passed over.
 *
 * Source: Supplement to the Bluetooth Core Specification, part A; Assigned Numbers, "Common Data
 * Types"; Fitness Machine Service 1.0, section 3 for its service data.
 */
#ifndef WIRE_ADVERTISEMENT_H
#define WIRE_ADVERTISEMENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define ADVERTISEMENT_NAME_MAX 248u /* octets, as the Core specification has it */

/* Bits of the machine types in the service data. */
enum machine_type {
    MACHINE_TREADMILL = 1u << 0,
    MACHINE_CROSS_TRAINER = 1u << 1,
    MACHINE_STEP_CLIMBER = 1u << 2,
    MACHINE_STAIR_CLIMBER = 1u << 3,
    MACHINE_ROWER = 1u << 4,
    MACHINE_BIKE = 1u << 5
};

/* Zeroed: nothing is known. */
struct advertisement {
    uint32_t offers;        /* 1 << enum device_kind */
    bool has_machine_types; /* there was service data of a machine */
    bool is_available;      /* it says that it is free for a new session */
    uint16_t machine_types; /* enum machine_type */
    bool name_is_whole;
    uint8_t name_length;
    char name[ADVERTISEMENT_NAME_MAX]; /* octets as they came: hostile, no NUL behind them */
};

void advertisement_read(struct advertisement *known, const uint8_t *report, size_t length);

/* The parts that reports in another form have in common with octets. */
void advertisement_add_service(struct advertisement *known, uint16_t service);
void advertisement_add_machine(struct advertisement *known, const uint8_t *service_data,
                               size_t length);
void advertisement_add_name(struct advertisement *known, const char *name, size_t length,
                            bool is_whole);

#endif
