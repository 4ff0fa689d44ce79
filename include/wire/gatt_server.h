/*
 * The server side of the Generic Attribute Profile on one link: a table of attributes, bytes in,
 * bytes and events out. Serves the virtual bike; no I/O and no clock.
 *
 * The table belongs to the caller and is sorted by handle. Values up to ATT_VALUE_MAX octets are
 * read straight from it. A write to a client-config attribute is handled here and reported; a write
 * to another writable attribute is reported and not answered until gatt_server_answer_write().
 *
 * After each call drain gatt_server_next_pdu() and gatt_server_next_event(): a call makes at most
 * one of each, and a PDU for which there is no room is dropped and counted in `dropped_pdus`.
 * A request that comes before the last one was answered is the peer's fault (one at a time is the
 * rule): counted in `early_requests` and not answered, for the peer could not tell the answers
 * apart. What is longer than the MTU is counted in `long_pdus` and read all the same; commands that
 * are not permitted and PDUs that are no business of a server are counted in `stray_pdus`.
 */
#ifndef WIRE_GATT_SERVER_H
#define WIRE_GATT_SERVER_H

#include "base/result.h"
#include "wire/gatt.h"

#define GATT_ATTRIBUTES_MAX    192u
#define GATT_SERVER_PDUS_MAX   8u
#define GATT_SERVER_EVENTS_MAX 4u

enum gatt_access { GATT_ACCESS_READ = 1, GATT_ACCESS_WRITE = 2, GATT_ACCESS_WRITE_COMMAND = 4 };

/* Declarations are readable, and client configs readable and writable, whatever `access` says. The
 * value of a client config is kept by the server, both octets 0 at first; it takes none here. */
struct gatt_attribute {
    uint16_t handle;
    uint16_t group_end; /* of a service declaration: its last handle; else 0 */
    struct att_uuid type;
    uint8_t access; /* enum gatt_access */
    uint16_t length;
    const uint8_t *value; /* borrowed; may change between calls */
};

enum gatt_server_event_kind {
    GATT_SERVER_WRITTEN,    /* value; a request waits for gatt_server_answer_write() */
    GATT_SERVER_SUBSCRIBED, /* client config written: value[0] bit 0 notify, bit 1 indicate */
    GATT_SERVER_CONFIRMED   /* our indication was confirmed */
};

struct gatt_server_event {
    enum gatt_server_event_kind kind;
    uint16_t handle;      /* of the value; for SUBSCRIBED of the characteristic's value as well */
    bool is_command;      /* without an answer */
    const uint8_t *value; /* valid until the next call that is not next_event */
    size_t length;
};

struct gatt_server; /* laid out below */

/* RESULT_FULL for more than GATT_ATTRIBUTES_MAX. RESULT_INVALID when the table is not sorted, a
 * value is too long or missing, a service ends before it starts, or a client config stands behind
 * no characteristic. `receive_mtu` is brought into ATT_MTU_DEFAULT to ATT_MTU_MAX. */
MUST_USE enum result gatt_server_init(struct gatt_server *server,
                                      const struct gatt_attribute *attributes, size_t count,
                                      uint16_t receive_mtu);
void gatt_server_receive(struct gatt_server *server, const uint8_t *pdu, size_t length);
/* Does nothing when no write waits for an answer. */
void gatt_server_answer_write(struct gatt_server *server, enum att_error error);

/* Only when the client has subscribed (else RESULT_REFUSED); cut to MTU - 3 octets. RESULT_FULL
 * when too many wait to be drained. */
MUST_USE enum result gatt_server_notify(struct gatt_server *server, uint16_t handle,
                                        const uint8_t *value, size_t length);
/* One at a time: RESULT_BUSY until the last one is confirmed. */
MUST_USE enum result gatt_server_indicate(struct gatt_server *server, uint16_t handle,
                                          const uint8_t *value, size_t length);
/* To either kind. */
bool gatt_server_is_subscribed(const struct gatt_server *server, uint16_t handle);

/* The next PDU to send: its length, or 0 when there is none. `ret` holds ATT_MTU_MAX octets. */
size_t gatt_server_next_pdu(struct gatt_server *server, uint8_t *ret);
bool gatt_server_next_event(struct gatt_server *server, struct gatt_server_event *ret);
uint16_t gatt_server_mtu(const struct gatt_server *server);

/* ---- the inside; the counters are for reading ---- */

enum gatt_server_turn { GATT_TURN_PEER, GATT_TURN_USER, GATT_TURN_QUEUED };
enum gatt_server_indication { GATT_INDICATION_NONE, GATT_INDICATION_QUEUED, GATT_INDICATION_SENT };

struct gatt_server_pdu {
    uint16_t length;
    uint8_t octets[ATT_MTU_MAX];
};

struct gatt_server_event_slot {
    uint8_t kind;
    bool is_command;
    uint16_t handle, length;
    uint8_t value[ATT_VALUE_MAX];
};

struct gatt_server {
    uint32_t stray_pdus, long_pdus, dropped_pdus, early_requests;

    const struct gatt_attribute *attributes;
    size_t count;
    uint16_t receive_mtu, mtu;                      /* 0 stands for the default */
    uint8_t client_configs[GATT_ATTRIBUTES_MAX][2]; /* as they travel, by attribute index */
    enum gatt_server_turn turn; /* whose turn it is in the peer's request; USER to answer_write */
    enum gatt_server_indication indication;
    uint16_t written_handle, indicated_handle;
    struct gatt_server_pdu pdus[GATT_SERVER_PDUS_MAX];
    uint8_t pdu_first, pdu_count;
    struct gatt_server_event_slot events[GATT_SERVER_EVENTS_MAX];
    uint8_t event_first, event_count;
};

#endif
