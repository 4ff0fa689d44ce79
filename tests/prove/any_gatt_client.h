/*
 * A GATT client in any state that it can be in, and more: in any that keeps what is held true by
 * each call. The clients of services have one inside.
 */
#ifndef PROVE_ANY_GATT_CLIENT_H
#define PROVE_ANY_GATT_CLIENT_H

#include "unknown.h"
#include "wire/gatt_client.h"

static inline uint16_t any_u16(void)
{
    return (uint16_t)any_int(0, UINT16_MAX);
}

static inline uint8_t any_u8(void)
{
    return (uint8_t)any_int(0, UINT8_MAX);
}

static inline struct att_uuid any_uuid(void)
{
    struct att_uuid uuid;
    MAKE_UNKNOWN(uuid.full);
    uuid.is_full = any_bool();
    uuid.assigned = any_u16();
    return uuid;
}

static inline struct gatt_known any_known(void)
{
    struct gatt_known known = {.is_cut = any_bool(), .has_hash = any_bool()};

    for (unsigned i = 0; i < GATT_SERVICES_MAX; i++)
        known.services[i] = (struct gatt_service){any_uuid(), any_u16(), any_u16()};
    for (unsigned i = 0; i < GATT_CHARACTERISTICS_MAX; i++)
        known.characteristics[i] = (struct gatt_characteristic){
            any_uuid(), (uint8_t)any_int(0, GATT_SERVICES_MAX - 1), any_u8(), any_u16(), any_u16(),
            any_u16()};
    known.service_count = (uint8_t)any_int(0, GATT_SERVICES_MAX);
    known.characteristic_count = (uint8_t)any_int(0, GATT_CHARACTERISTICS_MAX);
    MAKE_UNKNOWN(known.hash);
    return known;
}

static inline void make_any_operations(struct gatt_operations *queue)
{
    for (unsigned i = 0; i < GATT_OPERATIONS_MAX; i++) {
        MAKE_UNKNOWN(queue->items[i].value);
        queue->items[i].opcode = any_u8();
        queue->items[i].handle = any_u16();
        queue->items[i].length = (uint8_t)any_int(0, GATT_WRITE_MAX);
    }
    queue->first = (uint8_t)any_int(0, GATT_OPERATIONS_MAX - 1);
    queue->count = (uint8_t)any_int(0, GATT_OPERATIONS_MAX);
}

static inline void make_any_queues(struct gatt_client *client)
{
    make_any_operations(&client->first);
    make_any_operations(&client->waiting);
    for (unsigned i = 0; i < GATT_EVENTS_MAX; i++) {
        MAKE_UNKNOWN(client->events[i].value);
        client->events[i].kind = (uint8_t)any_int(GATT_DISCOVERED, GATT_DEAD);
        client->events[i].error = any_u8();
        client->events[i].indicated = any_bool();
        client->events[i].handle = any_u16();
        client->events[i].length = (uint16_t)any_int(0, ATT_VALUE_MAX);
    }
    client->event_first = (uint8_t)any_int(0, GATT_EVENTS_MAX - 1);
    client->event_count = (uint8_t)any_int(0, GATT_EVENTS_MAX - (client->phase != GATT_PHASE_DEAD));
    for (unsigned i = 0; i < GATT_ANSWERS_MAX; i++) {
        MAKE_UNKNOWN(client->answers[i].pdu);
        client->answers[i].length = (uint8_t)any_int(0, sizeof client->answers[0].pdu);
    }
    client->answer_first = (uint8_t)any_int(0, GATT_ANSWERS_MAX - 1);
    client->answer_count = (uint8_t)any_int(0, GATT_ANSWERS_MAX);
}

static inline void make_any_gatt_client(struct gatt_client *client,
                                        const struct gatt_known *earlier)
{
    client->known = any_known();
    client->stray_pdus = any_u32();
    client->long_pdus = any_u32();
    client->dropped_pdus = any_u32();
    client->phase = (enum gatt_phase)any_int(GATT_PHASE_IDLE, GATT_PHASE_DEAD);
    /*@ split client->phase; */
    client->is_in_doubt = any_bool();
    client->earlier = client->phase == GATT_PHASE_HASH || any_bool() ? earlier : NULL;
    client->patience_ms = any_u32();
    client->mtu = 0;
    const bool is_agreed = any_bool();
    /*@ split is_agreed; */
    if (is_agreed)
        client->mtu = (uint16_t)any_int(ATT_MTU_DEFAULT, ATT_MTU_MAX);
    client->index = (uint8_t)any_int(0, client->phase == GATT_PHASE_CHARACTERISTICS
                                            ? GATT_SERVICES_MAX - 1
                                            : GATT_CHARACTERISTICS_MAX - 1);
    client->next_handle = any_u16();
    client->transaction.opcode = any_u8();
    client->transaction.handle = any_u16();
    client->transaction.is_timed = any_bool();
    client->transaction.started_ms = any_u64();
    MAKE_UNKNOWN(client->read.value);
    client->read.is_open = any_bool();
    client->read.handle = any_u16();
    client->read.length = (uint16_t)any_int(0, ATT_VALUE_MAX);
    make_any_queues(client);
}

/* Of the tables, what any_known() says. */
static inline void look_at_known(const struct gatt_known *known)
{
    /*@ assert known->service_count <= GATT_SERVICES_MAX; */
    /*@ assert known->characteristic_count <= GATT_CHARACTERISTICS_MAX; */
    for (unsigned i = 0; i < GATT_CHARACTERISTICS_MAX; i++) {
        /*@ assert known->characteristics[i].service < GATT_SERVICES_MAX; */
    }
}

static inline void look_at_operations(const struct gatt_operations *queue)
{
    /*@ assert queue->first < GATT_OPERATIONS_MAX && queue->count <= GATT_OPERATIONS_MAX; */
    for (unsigned i = 0; i < GATT_OPERATIONS_MAX; i++) {
        /*@ assert queue->items[i].length <= GATT_WRITE_MAX; */
    }
}

/* Of the client, what make_any_gatt_client() says. */
static inline void look_at_gatt_client(const struct gatt_client *client)
{
    look_at_known(&client->known);
    look_at_operations(&client->first);
    look_at_operations(&client->waiting);
    /*@ assert client->phase <= GATT_PHASE_DEAD; */
    /*@ assert client->mtu == 0 || ATT_MTU_DEFAULT <= client->mtu <= ATT_MTU_MAX; */
    /*@ assert client->phase != GATT_PHASE_HASH || client->earlier != \null; */
    /*@ assert client->index < GATT_CHARACTERISTICS_MAX; */
    /*@ assert client->phase != GATT_PHASE_CHARACTERISTICS || client->index < GATT_SERVICES_MAX; */
    /*@ assert client->read.length <= ATT_VALUE_MAX; */
    /*@ assert client->event_first < GATT_EVENTS_MAX && client->answer_first < GATT_ANSWERS_MAX; */
    /*@ assert client->event_count < GATT_EVENTS_MAX || client->phase == GATT_PHASE_DEAD; */
    /*@ assert client->event_count <= GATT_EVENTS_MAX; */
    /*@ assert client->answer_count <= GATT_ANSWERS_MAX; */
    for (unsigned i = 0; i < GATT_EVENTS_MAX; i++) {
        /*@ assert client->events[i].kind <= GATT_DEAD; */
        /*@ assert client->events[i].length <= ATT_VALUE_MAX; */
    }
    for (unsigned i = 0; i < GATT_ANSWERS_MAX; i++) {
        /*@ assert client->answers[i].length <= sizeof(client->answers[0].pdu); */
    }
}

#endif
