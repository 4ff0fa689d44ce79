/*
 * A receiver on USB and what is heard through it: up to one sensor of each kind, each told of
 * through its own sensor_peer, which has no link then; and the machine, whose messages are carried
 * by a link of their own.
 */
#ifndef APP_USB_PEER_H
#define APP_USB_PEER_H

#include "machine_peer.h"
#include "sensor_peer.h"
#include "wire/usb_receiver.h"

/* Zero it, then set loop, sensors, setup and link. A link that is gone may be set again. */
struct usb_peer {
    struct link machine_link; /* first: the port's handle */
    struct loop *loop;
    struct sensor_peer *sensors;  /* SENSOR_KIND_COUNT of them; borrowed */
    struct machine_peer *machine; /* set where it is wanted; borrowed */
    /* Key, kinds, and numbers asked for; those that were found are put in, for the next link. */
    struct usb_receiver_setup setup;
    struct usb_receiver receiver;
    struct link *link; /* NULL: none, or gone. Owned from then on */
    bool is_open;
    bool is_ready; /* as in machine_peer.h */
    bool machine_is_called, machine_is_open;
    uint64_t machine_from_ms; /* before that it is not listened to */
    const char *failure;
};

struct link_user usb_peer_user(struct usb_peer *peer);
/* The machine's link, for its peer: opens once the machine is heard, in `wait_ms` at the earliest,
 * and closes when the receiver has lost it, or is lost itself. */
struct link *usb_peer_call_machine(struct usb_peer *peer, uint32_t wait_ms);
void usb_peer_tick(struct usb_peer *peer);
void usb_peer_close(struct usb_peer *peer);

#endif
