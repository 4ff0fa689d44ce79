/*
 * A heart-rate strap seen through its Heart Rate Service: subscribes, hands on what it measures.
 * Bytes and time in, bytes and events out; sits on gatt_client and is used like it.
 */
#ifndef WIRE_HEART_CLIENT_H
#define WIRE_HEART_CLIENT_H

#include "wire/gatt_client.h"
#include "wire/heart_rate.h"

enum heart_client_event_kind {
    HEART_CLIENT_READY,
    HEART_CLIENT_DATA,  /* heart; may come before READY from a strap in a hurry */
    HEART_CLIENT_FAILED /* reason: no usable strap, or the link is dead. Close it; nothing follows.
                         */
};

struct heart_client_event {
    enum heart_client_event_kind kind;
    struct heart_rate heart;
    const char *reason; /* words for the rider, static */
};

/* ---- the inside; read it, don't write it ---- */

#define HEART_CLIENT_EVENTS_MAX 4u

struct heart_client {
    struct gatt_client gatt;
    uint16_t value_handle, config_handle; /* 0 until discovered */
    const char *failure;                  /* NULL: none */
    bool failure_is_told;
    struct heart_client_event events[HEART_CLIENT_EVENTS_MAX];
    uint8_t first_event, event_count;
    uint32_t lost_events; /* for which there was no room, as the caller did not drain */
};

void heart_client_start(struct heart_client *client, uint64_t t_ms);
void heart_client_receive(struct heart_client *client, uint64_t t_ms, const uint8_t *pdu,
                          size_t length);
void heart_client_tick(struct heart_client *client, uint64_t t_ms);
size_t heart_client_next_pdu(struct heart_client *client, uint8_t *ret);
bool heart_client_next_event(struct heart_client *client, struct heart_client_event *ret);

#endif
