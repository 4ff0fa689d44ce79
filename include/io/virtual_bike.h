/*
 * The virtual bike: an attribute server with a rider, a flywheel and a brake behind it. Bytes and
 * time in, bytes out; no I/O and no clock. The same seed, times and bytes in give the same bytes
 * out.
 *
 * Services: Generic Access, Generic Attribute (empty), Device Information, Fitness Machine, and a
 * strap (Heart Rate) on the same link when the machine file says so. In place of the Fitness
 * Machine it may be the strap alone, or one sensor of power or cadence.
 *
 * Use: init, then for each central connect, and from then on receive what comes, advance when
 * virtual_bike_next_ms() is due, and after each call drain virtual_bike_next_pdu(). Time 0 of the
 * ride, which the times in machine and rider files count from, is the first connect; the ride goes
 * on while nobody is connected, with the load released.
 *
 * A struct virtual_bike points into itself: do not move it after init.
 */
#ifndef IO_VIRTUAL_BIKE_H
#define IO_VIRTUAL_BIKE_H

#include "io/virtual_machine.h"
#include "io/virtual_rider.h"
#include "wire/crank.h"
#include "wire/ftms_control_point.h"
#include "wire/gatt_server.h"

#define VIRTUAL_BIKE_NEVER UINT64_MAX

struct virtual_bike;

/* RESULT_INVALID for a machine that the attribute server cannot serve. */
MUST_USE enum result virtual_bike_init(struct virtual_bike *bike,
                                       const struct virtual_machine_config *machine,
                                       const struct virtual_rider_config *rider, uint64_t seed);
/* A new central: nothing is subscribed, nobody has control. */
void virtual_bike_connect(struct virtual_bike *bike, uint64_t t_ms);
void virtual_bike_disconnect(struct virtual_bike *bike, uint64_t t_ms);
/* Rides until t_ms. Times that go back are ignored; of a gap of many minutes the last ten count. */
void virtual_bike_advance(struct virtual_bike *bike, uint64_t t_ms);
void virtual_bike_receive(struct virtual_bike *bike, uint64_t t_ms, const uint8_t *pdu,
                          size_t length);
/* The next PDU to send: its length, or 0 when there is none. `ret` holds ATT_MTU_MAX octets. */
size_t virtual_bike_next_pdu(struct virtual_bike *bike, uint8_t *ret);
/* When it wants to be advanced next; VIRTUAL_BIKE_NEVER while nobody is connected. */
uint64_t virtual_bike_next_ms(const struct virtual_bike *bike);
/* The machine drops its link: disconnect, and close it. */
bool virtual_bike_wants_close(const struct virtual_bike *bike);

/* ---- the inside; read it, don't write it ---- */

#define VIRTUAL_ATTRIBUTES_MAX 56u
#define VIRTUAL_OCTETS_MAX     224u

struct virtual_table {
    struct gatt_attribute attributes[VIRTUAL_ATTRIBUTES_MAX];
    size_t count;
    uint8_t octets[VIRTUAL_OCTETS_MAX]; /* values that the attributes point to */
    size_t octet_count;
    uint8_t *training; /* the two octets of the training status; NULL: has none */
    /* Handles of values; 0: the machine has none. */
    uint16_t data, training_status, control_point, machine_status, strap, power, cadence;
};

struct virtual_control {
    bool granted, started, key_out;
    bool answering;    /* a procedure is under way, its answer is due at answer_at_ms */
    bool unconfirmed;  /* the answer was indicated and not yet confirmed */
    bool is_repeating; /* one that was given already */
    uint8_t request, request_before;
    uint32_t writes; /* to the control point */
    enum ftms_result result;
    uint64_t answer_at_ms;
    uint8_t status[3]; /* told after the answer */
    size_t status_length;
};

struct virtual_bike {
    struct virtual_rider rider;
    struct virtual_machine machine;
    struct virtual_random chance; /* garbage */
    struct virtual_table table;
    struct gatt_server server;
    struct virtual_control control;
    bool linked, began, wants_close;
    uint64_t began_ms, now_ms; /* the ride stands at now_ms */
    uint64_t next_data_ms, next_strap_ms;
    uint32_t elapsed_ms;      /* since start, stops left out */
    uint8_t heart_bpm;        /* as the strap read it last; 0: no strap */
    struct crank_count crank; /* as the sensors told it last */
    uint8_t stray[ATT_MTU_DEFAULT];
    size_t stray_length;
    uint32_t unsent; /* notifications that nobody had subscribed to or that found no place */
};

#endif
