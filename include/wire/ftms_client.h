/*
 * A machine seen through its Fitness Machine Service: subscribes, reads what it can do, runs the
 * control point. Bytes and time in, bytes and machine events out; sits on gatt_client and is used
 * like it: after each call drain ftms_client_next_pdu() and ftms_client_next_event().
 *
 * Commands: one procedure runs at a time. A newer command takes the place of one of its kind that
 * still waits (both targets are one kind). A command marked `now` (release, stop) drops waiting
 * targets and starts, and goes out before everything else, without waiting for the answer to a
 * procedure under way; refused with "in progress" it is repeated every 250 ms until accepted.
 * Beyond that only two things are sent again, each once: what was refused with ATT 0x80 or 0xFD,
 * and a resistance in the other width when the first one is not understood. Nothing is judged:
 * time limits for answers are ride/safety's.
 *
 * A command that went out ends with one FTMS_CLIENT_ANSWER at most, one that was dropped or
 * replaced before with none. One that was overtaken and is still open when a later one is answered
 * is given up, as one without an answer for 3 s.
 *
 * An answer names an opcode and no more, but the n-th answer on a link is that to the n-th write:
 * indications come in order, one at a time (Bluetooth Core 5.1, Vol 3 Part F 3.3.2). So what is
 * marked `now` takes no answer that may still be owed to an earlier one, which is told as an answer
 * to that, and not at all where it would pass for one to an equal load after another. Where it was
 * lost, the next is one too few, and what is said again is answered by it.
 *
 * A request that is never answered holds up all else, as ATT allows one at a time; after 30 s, or
 * what gatt_client_set_patience() says, the link is dead and FTMS_CLIENT_FAILED says so.
 */
#ifndef WIRE_FTMS_CLIENT_H
#define WIRE_FTMS_CLIENT_H

#include "wire/ftms_client_layout.h"
#include "wire/gatt_client.h"

enum ftms_client_event_kind {
    FTMS_CLIENT_READY,  /* machine: what it is able to do */
    FTMS_CLIENT_DATA,   /* data: at once for every frame, parts of a record as they come, and before
                           READY from a machine in a hurry */
    FTMS_CLIENT_RECORD, /* data: a whole record was closed */
    FTMS_CLIENT_ANSWER, /* command, result, att_error: a procedure ended */
    FTMS_CLIENT_STATUS, /* status */
    FTMS_CLIENT_TRAINING, /* training_status */
    FTMS_CLIENT_FAILED    /* reason: no usable machine, or the link is dead. Close it; nothing
                             follows. */
};

/* Without a feature characteristic, or with indications refused, there are data but no control. */
struct ftms_machine {
    bool takes_power, takes_level, has_control_point;
    bool has_power_range, has_level_range;
    struct ftms_range power_w;      /* when has_power_range */
    struct ftms_range level_tenths; /* when has_level_range */
    struct ftms_feature feature;
};

struct ftms_client_event {
    enum ftms_client_event_kind kind;
    struct ftms_machine machine;
    struct ftms_bike_data data;
    struct ftms_command command;
    uint8_t result;    /* enum ftms_result; FTMS_OPERATION_FAILED with an ATT error */
    uint8_t att_error; /* enum att_error, when the write itself was refused */
    struct ftms_status status;
    uint8_t training_status; /* Fitness Machine Service 1.0, 4.10 */
    const char *reason;      /* words for the rider, static */
    bool may_pass;           /* the failure: on another link it may be over */
};

/* ---- the inside; read it, don't write it ---- */

/* Of each value that comes with others at once: the value, and the record that it closes. */
#define FTMS_CLIENT_EVENTS_MAX (2u * GATT_EVENTS_MAX)

struct ftms_client {
    struct gatt_client gatt;
    struct ftms_machine machine;
    struct ftms_control control;
    struct ftms_record record;
    uint16_t data_handle, status_handle, training_handle; /* 0: has none */
    bool has_feature;
    uint8_t step;         /* of the setup; past the last it is set up */
    uint16_t step_handle; /* 0: nothing under way */
    bool step_was_repeated;
    unsigned skipped_steps;     /* a bit each */
    uint64_t step_repeat_at_ms; /* 0: no repeat is due */
    const char *failure;        /* NULL: none */
    bool failure_may_pass, failure_is_told;
    struct ftms_client_event events[FTMS_CLIENT_EVENTS_MAX];
    uint8_t first_event, event_count;
    uint32_t lost_events; /* for which there was no room, as the caller did not drain */
};

void ftms_client_start(struct ftms_client *client, uint64_t t_ms);
/* Some machines never answer one of the subscriptions, and then nothing else can be asked for on
 * that link. After FTMS_CLIENT_FAILED: the bit of the one that was waited for, where a ride can do
 * without it, or 0. On the next link, right after the start: those that are not to be asked for. */
unsigned ftms_client_stuck_step(const struct ftms_client *client);
void ftms_client_skip_steps(struct ftms_client *client, unsigned skipped);
void ftms_client_receive(struct ftms_client *client, uint64_t t_ms, const uint8_t *pdu,
                         size_t length);
void ftms_client_tick(struct ftms_client *client, uint64_t t_ms);
/* RESULT_UNSUPPORTED without a control point, RESULT_BUSY before FTMS_CLIENT_READY, RESULT_CLOSED
 * after FTMS_CLIENT_FAILED, RESULT_INVALID for another opcode. */
MUST_USE enum result ftms_client_command(struct ftms_client *client,
                                         const struct ftms_command *command);
/* The write that would carry the command now, for a process that is to send it if we cannot; 0
 * without a control point, or when nobody knows any more where it is. `ret` holds ATT_MTU_DEFAULT
 * octets. */
size_t ftms_client_encode(const struct ftms_client *client, const struct ftms_command *command,
                          uint8_t *ret);
size_t ftms_client_next_pdu(struct ftms_client *client, uint8_t *ret);
bool ftms_client_next_event(struct ftms_client *client, struct ftms_client_event *ret);

#endif
