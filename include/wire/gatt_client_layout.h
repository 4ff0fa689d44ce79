/*
 * What a GATT client consists of, so that it can live in its owner's memory. The tables and the
 * counters are for reading; the rest belongs to gatt_client.c and gatt_discovery.c.
 */
#ifndef WIRE_GATT_CLIENT_LAYOUT_H
#define WIRE_GATT_CLIENT_LAYOUT_H

#include <stddef.h>

#include "base/result.h"
#include "wire/gatt_known.h"

#define GATT_OPERATIONS_MAX 32u
#define GATT_EVENTS_MAX     8u
#define GATT_ANSWERS_MAX    8u
/* Octets in one write of ours: fits at every MTU, and the services need 19. */
#define GATT_WRITE_MAX (ATT_MTU_DEFAULT - 3u)

enum gatt_phase {
    GATT_PHASE_IDLE, /* not started */
    GATT_PHASE_MTU,
    GATT_PHASE_HASH, /* left out unless something is remembered, or to be */
    GATT_PHASE_SERVICES,
    GATT_PHASE_CHARACTERISTICS, /* of one service after the other */
    GATT_PHASE_DESCRIPTORS,     /* of one characteristic after the other */
    GATT_PHASE_CHANGES,         /* asks to be told of them; left out without a hash to compare */
    GATT_PHASE_HASH_AGAIN,      /* only from READY, which it leads back to */
    GATT_PHASE_READY,
    GATT_PHASE_DEAD
};

struct gatt_operation {
    uint8_t opcode; /* ATT_READ_REQUEST, ATT_WRITE_REQUEST or ATT_WRITE_COMMAND */
    uint8_t length;
    uint16_t handle;
    uint8_t value[GATT_WRITE_MAX];
};

struct gatt_operations {
    struct gatt_operation items[GATT_OPERATIONS_MAX];
    uint8_t first, count;
};

/* The request that was sent and not answered. */
struct gatt_transaction {
    uint8_t opcode; /* 0: there is none */
    uint16_t handle;
    bool is_timed; /* started_ms is set: at the first time heard of after sending */
    uint64_t started_ms;
};

struct gatt_long_read {
    bool is_open;
    uint16_t handle;
    uint16_t length; /* octets so far */
    uint8_t value[ATT_VALUE_MAX];
};

struct gatt_event_slot {
    uint8_t kind, error;
    bool indicated;
    uint16_t handle, length;
    uint8_t value[ATT_VALUE_MAX];
};

struct gatt_answer {
    uint8_t length;
    uint8_t pdu[5]; /* the longest is an Error Response */
};

struct gatt_client {
    struct gatt_known known;
    uint32_t stray_pdus, long_pdus, dropped_pdus;

    enum gatt_phase phase;
    bool is_in_doubt;                 /* told of a change: the hash is to be asked for again */
    const struct gatt_known *earlier; /* NULL: the hash is not asked for */
    uint32_t patience_ms;             /* 0: ATT_TRANSACTION_TIMEOUT_MS */
    uint16_t mtu;                     /* 0 until agreed; see gatt_client_mtu() */
    uint8_t index;                    /* of the service or characteristic under discovery */
    uint16_t next_handle;             /* where discovery goes on */
    struct gatt_transaction transaction;
    struct gatt_long_read read;
    struct gatt_operations first, waiting;
    struct gatt_event_slot events[GATT_EVENTS_MAX];
    uint8_t event_first, event_count;
    struct gatt_answer answers[GATT_ANSWERS_MAX];
    uint8_t answer_first, answer_count;
};

#endif
