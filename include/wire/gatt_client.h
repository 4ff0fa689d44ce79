/*
 * The client side of the Generic Attribute Profile on one link: bytes and time in, bytes and events
 * out. No I/O and no clock, so a conversation is a test.
 *
 * Use: gatt_client_start(), then feed every PDU that arrives and a tick now and then; after each
 * call drain gatt_client_next_pdu() to the link and gatt_client_next_event() to the user. The start
 * exchanges the MTU and discovers all services, characteristics and descriptors, unless these are
 * remembered; GATT_DISCOVERED ends it. Operations asked for earlier wait for it. One request is
 * outstanding at a time; operations queue in order. The peer's own requests are answered here (we
 * serve no attributes), its indications are confirmed, whatever the handle.
 *
 * Judgement on what a peer may get wrong:
 *   - a response that does not fit the outstanding request fails that operation with
 *     ATT_UNLIKELY_ERROR; one that nobody asked for is counted in `stray_pdus` and ignored;
 *   - a PDU longer than the agreed MTU is counted in `long_pdus` and read all the same, for every
 *     reader here knows the true length;
 *   - an answer to the MTU exchange that is no answer leaves the MTU at 23;
 *   - of several values at once those from a cut one, or from the eighth, on are left out, and the
 *     PDU counts as stray;
 *   - whatever is no Database Hash counts as none;
 *   - where there is one, changes are asked to be told (Service Changed). Told of one, nothing goes
 *     to the handles before the hash was asked for again: the same, and all goes on, for some tell
 *     without need; anything else ends in GATT_DEAD as "database out of sync" does;
 *   - the error "database out of sync" ends in GATT_DEAD: every handle is in doubt, and the next
 *     link asks for the hash again;
 *   - an error in place of a service's characteristics, or of a characteristic's descriptors, costs
 *     that one only, and `is_cut` says so; malformed tables, handles that do not advance and an
 *     error in place of the services end in GATT_DEAD;
 *   - more services or characteristics than the tables hold are left out, and `is_cut` says so;
 *   - tables that are cut are not gone by on a later link.
 *
 * Nothing overflows: a call makes at most one answer and, but for several values that are notified
 * at once, one event. A PDU for which there is no room (because the caller did not drain) is
 * dropped and counted in `dropped_pdus`.
 */
#ifndef WIRE_GATT_CLIENT_H
#define WIRE_GATT_CLIENT_H

#include "wire/gatt_client_layout.h"

enum gatt_event_kind {
    GATT_DISCOVERED, /* the tables are filled */
    GATT_READ_DONE,  /* error, and the whole value (long reads are put together) */
    GATT_WRITE_DONE, /* error */
    GATT_NOTIFIED,   /* a notification or an indication; error is 0 */
    /* No answer in time (error is 0), or the tables cannot be had or are no longer true (error says
     * how): close the link. Nothing
     * follows; operations that still wait end with it. */
    GATT_DEAD
};

struct gatt_event {
    enum gatt_event_kind kind;
    uint16_t handle;
    uint8_t error;        /* enum att_error as received; 0 is none */
    bool indicated;       /* GATT_NOTIFIED came as an indication */
    const uint8_t *value; /* valid until the next call that is not next_event */
    size_t length;
};

/* Forgets everything of an earlier link. */
void gatt_client_start(struct gatt_client *client, uint64_t t_ms);
void gatt_client_receive(struct gatt_client *client, uint64_t t_ms, const uint8_t *pdu,
                         size_t length);
void gatt_client_tick(struct gatt_client *client, uint64_t t_ms);
/* How long an answer is waited for, until the next start; the standard's 30 s unless less is said.
 * A peer that has shown that it is quicker, and under whose silence something waits that must not,
 * is given up sooner. */
void gatt_client_set_patience(struct gatt_client *client, uint32_t patience_ms);
/* Nothing could be answered up to now, for the link is being encrypted: the wait begins anew. */
void gatt_client_wait_anew(struct gatt_client *client);

/* To be called right after the start: the Database Hash is asked for, and where it is that of
 * `earlier` the tables are taken from there and GATT_DISCOVERED comes at once. Otherwise they are
 * filled anew, and `known` of the client, with the hash in it, is what to remember. `earlier` may
 * be zeroed; it is borrowed until GATT_DISCOVERED. */
void gatt_client_remember(struct gatt_client *client, const struct gatt_known *earlier);

/* RESULT_FULL when the queue is full, RESULT_CLOSED after GATT_DEAD, RESULT_RANGE for a value
 * longer than GATT_WRITE_MAX. The outcome comes as GATT_READ_DONE or GATT_WRITE_DONE with the same
 * handle, in order. */
MUST_USE enum result gatt_client_read(struct gatt_client *client, uint16_t handle);
MUST_USE enum result gatt_client_write(struct gatt_client *client, uint16_t handle,
                                       const uint8_t *value, size_t length);
/* Before everything that waits, and between the parts of a long read: for what must not stand in a
 * queue. Several of these keep their order. */
MUST_USE enum result gatt_client_write_first(struct gatt_client *client, uint16_t handle,
                                             const uint8_t *value, size_t length);
/* Unacknowledged; no event follows. Waits for what was asked for earlier to be sent, but not for
 * the answers. */
MUST_USE enum result gatt_client_write_command(struct gatt_client *client, uint16_t handle,
                                               const uint8_t *value, size_t length);

/* The next PDU to send: its length, or 0 when there is none. `ret` holds ATT_MTU_MAX octets. */
size_t gatt_client_next_pdu(struct gatt_client *client, uint8_t *ret);
bool gatt_client_next_event(struct gatt_client *client, struct gatt_event *ret);

/* The first characteristic of that UUID within the first service of that UUID, or NULL. */
const struct gatt_characteristic *gatt_client_find(const struct gatt_client *client,
                                                   uint16_t service, uint16_t characteristic);
uint16_t gatt_client_mtu(const struct gatt_client *client);

#endif
