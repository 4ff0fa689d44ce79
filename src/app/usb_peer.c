#include "usb_peer.h"

/* ---- the machine's link ---- */

static enum result send_to_machine(struct link *link, const uint8_t *octets, size_t length)
{
    struct usb_peer *peer = (struct usb_peer *)link;

    return peer->is_open && peer->machine_is_open ? link_send(peer->link, octets, length)
                                                  : RESULT_CLOSED;
}

static enum result secure_machine(struct link *link)
{
    (void)link;
    return RESULT_UNSUPPORTED;
}

static void close_machine(struct link *link)
{
    struct usb_peer *peer = (struct usb_peer *)link;
    peer->machine_is_called = peer->machine_is_open = false;
}

static int descriptor_of(const struct link *link, struct link_way *ret)
{
    const struct usb_peer *peer = (const struct usb_peer *)link;
    return peer->is_open ? link_descriptor(peer->link, ret) : -1;
}

struct link *usb_peer_call_machine(struct usb_peer *peer, uint32_t wait_ms)
{
    static const struct link_operations operations = {send_to_machine, secure_machine,
                                                      close_machine, descriptor_of, NULL};

    peer->machine_link.operations = &operations;
    peer->machine_is_called = true;
    peer->machine_from_ms = loop_now_ms(peer->loop) + wait_ms;
    return &peer->machine_link;
}

static void lose_machine(struct usb_peer *peer, const char *why)
{
    const struct link_user user = machine_peer_user(peer->machine);

    if (!peer->machine_is_called)
        return;
    close_machine(&peer->machine_link);
    user.closed(user.user, why);
}

static void on_message(struct usb_peer *peer, const struct usb_frame *frame)
{
    const struct link_user user = machine_peer_user(peer->machine);

    if (!peer->machine_is_called || loop_now_ms(peer->loop) < peer->machine_from_ms)
        return;
    if (!peer->machine_is_open) {
        peer->machine_is_open = true;
        user.opened(user.user);
    }
    if (peer->machine_is_open) {
        uint8_t octets[USB_FRAME_MAX];
        const size_t length = usb_frame_encode(frame, octets);
        user.received(user.user, octets, length);
    }
}

/* ---- the receiver ---- */

static void fail(struct usb_peer *peer, const char *why)
{
    peer->failure = why;
    if (peer->is_open)
        peer->is_ready = false;
    if (peer->is_open && peer->machine_is_open)
        machine_peer_let_go_unheard(peer->machine);
    usb_peer_close(peer);
    if (peer->machine_is_called) {
        peer->machine->failure = why; /* and no longer that it was not heard */
        lose_machine(peer, why);
    }
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++) {
        if (!peer->setup.is_wanted[kind])
            continue;
        peer->sensors[kind].failure = why;
        sensor_peer_fail(&peer->sensors[kind], why);
    }
}

#define TURN_TO_WAKE "the receiver on USB does not hear it; turn the pedals to wake it"

/* It listens: whatever was wrong with it is over, and each sensor is to be heard. */
static void on_ready(struct usb_peer *peer)
{
    static const char *const not_heard[SENSOR_KIND_COUNT] = {
        [SENSOR_STRAP] = "the receiver on USB does not hear it; wet it and wear it",
        [SENSOR_POWER] = TURN_TO_WAKE,
        [SENSOR_CADENCE] = TURN_TO_WAKE,
    };

    peer->failure = NULL;
    peer->is_ready = true;
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++)
        if (peer->setup.is_wanted[kind])
            peer->sensors[kind].failure = not_heard[kind];
    if (peer->machine_is_called)
        peer->machine->failure = TURN_TO_WAKE;
}

/* Which one it was is known from now on, also to the next link. */
static void on_found(struct usb_peer *peer, unsigned channel, struct usb_sensor_id id)
{
    peer->setup.ids[channel] = id;
    if (channel < SENSOR_KIND_COUNT)
        sensor_peer_found(&peer->sensors[channel]);
}

static void on_event(struct usb_peer *peer, const struct usb_receiver_event *event)
{
    switch (event->kind) {
    case USB_RECEIVER_READY: on_ready(peer); break;
    case USB_RECEIVER_FOUND: on_found(peer, event->channel, event->id); break;
    case USB_RECEIVER_HEART:
        sensor_peer_heart(&peer->sensors[event->channel], event->heart_bpm, HEART_CONTACT_UNKNOWN);
        break;
    case USB_RECEIVER_EFFORT:
        sensor_peer_effort(&peer->sensors[event->channel], &event->effort);
        break;
    case USB_RECEIVER_MESSAGE: on_message(peer, &event->frame); break;
    case USB_RECEIVER_LOST:
        if (peer->machine_is_open)
            lose_machine(peer, "the receiver on USB no longer hears it");
        break;
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
