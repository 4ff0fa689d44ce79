#include "sensor_peer.h"

/* For an answer; nothing waits behind a sensor's (common practice). */
#define PATIENCE_MS 6000u

enum link_source sensor_link_source(enum sensor_kind sensor)
{
    switch (sensor) {
    case SENSOR_POWER: return LINK_POWER;
    case SENSOR_CADENCE: return LINK_CADENCE;
    case SENSOR_STRAP:
    case SENSOR_KIND_COUNT: break;
    }
    return LINK_STRAP;
}

/* A sensor that is gone stays a fault of the readings. The ride hears of it all the same. */
void sensor_peer_fail(struct sensor_peer *peer, const char *why)
{
    const struct event down = {.kind = EVENT_LINK,
                               .link = {sensor_link_source(peer->sensor), false}};

    if (peer->failure == NULL)
        peer->failure = why;
    if (peer->is_open)
        peer->is_ready = false;
    sensor_peer_close(peer);
    peer->on_event(peer->user, &down);
}

static enum contact contact_of(enum heart_contact contact)
{
    switch (contact) {
    case HEART_CONTACT_UNKNOWN: return CONTACT_UNKNOWN;
    case HEART_CONTACT_NONE: return CONTACT_NONE;
    case HEART_CONTACT_GOOD: return CONTACT_GOOD;
    }
    return CONTACT_UNKNOWN;
}

void sensor_peer_heart(struct sensor_peer *peer, uint16_t heart_bpm, enum heart_contact contact)
{
    const struct event event = {.kind = EVENT_HEART, .heart = {heart_bpm, contact_of(contact)}};
    peer->on_event(peer->user, &event);
}

void sensor_peer_effort(struct sensor_peer *peer, const struct sensor_effort *effort)
{
    struct event event = {.kind = EVENT_SENSOR,
                          .sensor = {.source = sensor_link_source(peer->sensor)}};

    if (effort->has_power) {
        event.sensor.has |= HAS_POWER;
        event.sensor.power_w = effort->power_w;
    }
    if (effort->has_cadence) {
        event.sensor.has |= HAS_CADENCE;
        event.sensor.cadence_rpm = effort->cadence_rpm;
    }
    peer->on_event(peer->user, &event);
}

static void on_ready(struct sensor_peer *peer)
{
    peer->failure = NULL; /* it is back, if it was lost */
    peer->is_ready = true;
    peer->known = peer->client.gatt.known;
}

static void pump(struct sensor_peer *peer)
{
    uint8_t pdu[ATT_MTU_MAX];
    struct sensor_client_event event;

    for (size_t length; (length = sensor_client_next_pdu(&peer->client, pdu)) > 0;)
        if (peer->is_open && link_send(peer->link, pdu, length) == RESULT_FULL)
            sensor_peer_fail(peer, "it does not take what is sent to it");
    while (peer->is_open && sensor_client_next_event(&peer->client, &event)) {
        switch (event.kind) {
        case SENSOR_CLIENT_READY: on_ready(peer); break;
        case SENSOR_CLIENT_HEART:
            sensor_peer_heart(peer, event.heart.heart_bpm, event.heart.contact);
            break;
        case SENSOR_CLIENT_EFFORT: sensor_peer_effort(peer, &event.effort); break;
        case SENSOR_CLIENT_FAILED: sensor_peer_fail(peer, event.reason); break;
        }
    }
}

static void tell_up(struct sensor_peer *peer)
{
    const struct event up = {.kind = EVENT_LINK, .link = {sensor_link_source(peer->sensor), true}};

    peer->on_event(peer->user, &up);
}

void sensor_peer_found(struct sensor_peer *peer)
{
    peer->failure = NULL;
    peer->is_ready = true;
    tell_up(peer);
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    struct sensor_peer *peer = user;
    sensor_client_receive(&peer->client, loop_now_ms(peer->loop), pdu, length);
    pump(peer);
}

static void on_opened(void *user)
{
    struct sensor_peer *peer = user;

    peer->is_open = true;
    peer->is_ready = false;
    tell_up(peer);
    sensor_client_start(&peer->client, peer->sensor, loop_now_ms(peer->loop));
    gatt_client_remember(&peer->client.gatt, &peer->known);
    gatt_client_set_patience(&peer->client.gatt, PATIENCE_MS);
    pump(peer);
}

static void on_closed(void *user, const char *why)
{
    struct sensor_peer *peer = user;

    peer->is_open = false;
    sensor_peer_fail(peer, why);
}

struct link_user sensor_peer_user(struct sensor_peer *peer)
{
    return (struct link_user){on_opened, on_received, on_closed, peer};
}

void sensor_peer_tick(struct sensor_peer *peer)
{
    if (!peer->is_open)
        return;
    if (link_is_securing(peer->link))
        gatt_client_wait_anew(&peer->client.gatt);
    sensor_client_tick(&peer->client, loop_now_ms(peer->loop));
    pump(peer);
}

void sensor_peer_close(struct sensor_peer *peer)
{
    link_close(peer->link);
    peer->link = NULL;
    peer->is_open = false;
}
