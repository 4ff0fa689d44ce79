#include "strap_peer.h"

/* For an answer; nothing waits behind a strap's (common practice). */
#define PATIENCE_MS 6000u

/* A strap that is gone stays a fault of the readings: they age. The ride hears of it all the same.
 */
static void fail(struct strap_peer *peer, const char *why)
{
    const struct event down = {.kind = EVENT_LINK, .link = {LINK_STRAP, false}};

    if (peer->failure == NULL)
        peer->failure = why;
    strap_peer_close(peer);
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

static void on_heart(struct strap_peer *peer, const struct heart_rate *heart)
{
    const struct event event = {.kind = EVENT_HEART,
                                .heart = {heart->heart_bpm, contact_of(heart->contact)}};
    peer->on_event(peer->user, &event);
}

static void on_ready(struct strap_peer *peer)
{
    peer->failure = NULL; /* it is back, if it was lost */
    peer->is_ready = true;
    peer->known = peer->client.gatt.known;
}

static void pump(struct strap_peer *peer)
{
    uint8_t pdu[ATT_MTU_MAX];
    struct heart_client_event event;

    for (size_t length; (length = heart_client_next_pdu(&peer->client, pdu)) > 0;)
        if (peer->is_open && link_send(peer->link, pdu, length) == RESULT_FULL)
            fail(peer, "the strap does not take what is sent to it");
    while (peer->is_open && heart_client_next_event(&peer->client, &event)) {
        if (event.kind == HEART_CLIENT_READY)
            on_ready(peer);
        else if (event.kind == HEART_CLIENT_DATA)
            on_heart(peer, &event.heart);
        else
            fail(peer, event.reason);
    }
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    struct strap_peer *peer = user;
    heart_client_receive(&peer->client, loop_now_ms(peer->loop), pdu, length);
    pump(peer);
}

static void on_opened(void *user)
{
    struct strap_peer *peer = user;
    const struct event up = {.kind = EVENT_LINK, .link = {LINK_STRAP, true}};

    peer->is_open = true;
    peer->is_ready = false;
    peer->on_event(peer->user, &up);
    heart_client_start(&peer->client, loop_now_ms(peer->loop));
    gatt_client_remember(&peer->client.gatt, &peer->known);
    gatt_client_set_patience(&peer->client.gatt, PATIENCE_MS);
    pump(peer);
}

static void on_closed(void *user, const char *why)
{
    fail(user, why);
}

struct link_user strap_peer_user(struct strap_peer *peer)
{
    return (struct link_user){on_opened, on_received, on_closed, peer};
}

void strap_peer_tick(struct strap_peer *peer)
{
    if (!peer->is_open)
        return;
    if (link_is_securing(peer->link))
        gatt_client_wait_anew(&peer->client.gatt);
    heart_client_tick(&peer->client, loop_now_ms(peer->loop));
    pump(peer);
}

void strap_peer_close(struct strap_peer *peer)
{
    link_close(peer->link);
    peer->link = NULL;
    peer->is_open = false;
}
