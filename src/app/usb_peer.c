#include "usb_peer.h"

static void fail(struct usb_peer *peer, const char *why)
{
    peer->failure = why;
    if (peer->is_open)
        peer->is_ready = false;
    usb_peer_close(peer);
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++) {
        if (!peer->setup.is_wanted[kind])
            continue;
        peer->sensors[kind].failure = why; /* and no longer that it was not heard */
        sensor_peer_fail(&peer->sensors[kind], why);
    }
}

/* It listens: whatever was wrong with it is over, and each sensor is to be heard. */
static void on_ready(struct usb_peer *peer)
{
    static const char *const not_heard[SENSOR_KIND_COUNT] = {
        [SENSOR_STRAP] = "the receiver on USB does not hear it; wet it and wear it",
        [SENSOR_POWER] = "the receiver on USB does not hear it; turn the pedals to wake it",
        [SENSOR_CADENCE] = "the receiver on USB does not hear it; turn the pedals to wake it",
    };

    peer->failure = NULL;
    peer->is_ready = true;
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++)
        if (peer->setup.is_wanted[kind])
            peer->sensors[kind].failure = not_heard[kind];
}

/* Which one it was is known from now on, also to the next link. */
static void on_found(struct usb_peer *peer, enum sensor_kind kind, struct usb_sensor_id id)
{
    peer->setup.ids[kind] = id;
    sensor_peer_found(&peer->sensors[kind]);
}

static void on_event(struct usb_peer *peer, const struct usb_receiver_event *event)
{
    struct sensor_peer *sensor = &peer->sensors[event->channel];

    switch (event->kind) {
    case USB_RECEIVER_READY: on_ready(peer); break;
    case USB_RECEIVER_FOUND: on_found(peer, event->channel, event->id); break;
    case USB_RECEIVER_HEART:
        sensor_peer_heart(sensor, event->heart_bpm, HEART_CONTACT_UNKNOWN);
        break;
    case USB_RECEIVER_EFFORT: sensor_peer_effort(sensor, &event->effort); break;
    case USB_RECEIVER_MESSAGE:
    case USB_RECEIVER_LOST: break;
    case USB_RECEIVER_FAILED: fail(peer, event->reason); break;
    }
}

static void pump(struct usb_peer *peer)
{
    uint8_t octets[USB_FRAME_MAX];
    struct usb_receiver_event event;

    for (size_t length; (length = usb_receiver_next_octets(&peer->receiver, octets)) > 0;)
        if (peer->is_open && link_send(peer->link, octets, length) == RESULT_FULL)
            fail(peer, "the receiver does not take what is sent to it");
    while (peer->is_open && usb_receiver_next_event(&peer->receiver, &event))
        on_event(peer, &event);
}

static void on_received(void *user, const uint8_t *octets, size_t length)
{
    struct usb_peer *peer = user;

    usb_receiver_receive(&peer->receiver, loop_now_ms(peer->loop), octets, length);
    pump(peer);
}

static void on_opened(void *user)
{
    struct usb_peer *peer = user;

    peer->is_open = true;
    peer->is_ready = false;
    usb_receiver_start(&peer->receiver, &peer->setup, loop_now_ms(peer->loop));
    pump(peer);
}

static void on_closed(void *user, const char *why)
{
    struct usb_peer *peer = user;

    peer->is_open = false;
    fail(peer, why);
}

struct link_user usb_peer_user(struct usb_peer *peer)
{
    return (struct link_user){on_opened, on_received, on_closed, peer};
}

void usb_peer_tick(struct usb_peer *peer)
{
    if (!peer->is_open)
        return;
    usb_receiver_tick(&peer->receiver, loop_now_ms(peer->loop));
    pump(peer);
}

void usb_peer_close(struct usb_peer *peer)
{
    link_close(peer->link);
    peer->link = NULL;
    peer->is_open = false;
}
