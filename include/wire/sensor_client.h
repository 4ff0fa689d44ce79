/*
 * A strap, or a sensor of power or cadence, seen through its service: subscribes, hands on what it
 * measures. Bytes and time in, bytes and events out; sits on gatt_client and is used like it.
 */
#ifndef WIRE_SENSOR_CLIENT_H
#define WIRE_SENSOR_CLIENT_H

#include "wire/crank.h"
#include "wire/gatt_client.h"
#include "wire/heart_rate.h"

enum sensor_kind { SENSOR_STRAP, SENSOR_POWER, SENSOR_CADENCE, SENSOR_KIND_COUNT };

enum sensor_client_event_kind {
    SENSOR_CLIENT_READY,
    SENSOR_CLIENT_HEART,  /* heart; may come before READY from a strap in a hurry */
    SENSOR_CLIENT_EFFORT, /* effort, likewise */
    SENSOR_CLIENT_FAILED  /* reason: no usable sensor, or the link is dead. Close it; nothing
                             follows. */
};

/* Of the legs. Legs that do not turn the crank have no power, whatever a sensor goes on saying. */
struct sensor_effort {
    bool has_power, has_cadence;
    int32_t power_w, cadence_rpm;
};

struct sensor_client_event {
    enum sensor_client_event_kind kind;
    struct heart_rate heart;
    struct sensor_effort effort;
    const char *reason; /* words for the rider, static */
};

/* ---- the inside; read it, don't write it ---- */

#define SENSOR_CLIENT_EVENTS_MAX GATT_EVENTS_MAX

struct sensor_client {
    enum sensor_kind sensor;
    struct gatt_client gatt;
    uint16_t value_handle, config_handle; /* 0 until discovered */
    struct crank crank;
    const char *failure; /* NULL: none */
    bool failure_is_told;
    struct sensor_client_event events[SENSOR_CLIENT_EVENTS_MAX];
    uint8_t first_event, event_count;
    uint32_t lost_events; /* for which there was no room, as the caller did not drain */
};

void sensor_client_start(struct sensor_client *client, enum sensor_kind sensor, uint64_t t_ms);
void sensor_client_receive(struct sensor_client *client, uint64_t t_ms, const uint8_t *pdu,
                           size_t length);
void sensor_client_tick(struct sensor_client *client, uint64_t t_ms);
size_t sensor_client_next_pdu(struct sensor_client *client, uint8_t *ret);
bool sensor_client_next_event(struct sensor_client *client, struct sensor_client_event *ret);

#endif
