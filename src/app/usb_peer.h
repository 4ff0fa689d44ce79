/*
 * A receiver on USB and the sensors that are heard through it: up to one of each kind, each told of
 * through its own sensor_peer, which has no link then.
 */
#ifndef APP_USB_PEER_H
#define APP_USB_PEER_H

#include "sensor_peer.h"
#include "wire/usb_receiver.h"

/* Zero it, then set loop, sensors, setup and link. A link that is gone may be set again. */
struct usb_peer {
    struct loop *loop;
    struct sensor_peer *sensors; /* SENSOR_KIND_COUNT of them; borrowed */
    /* Key, kinds, and numbers asked for; those that were found are put in, for the next link. */
    struct usb_receiver_setup setup;
    struct usb_receiver receiver;
    struct link *link; /* NULL: none, or gone. Owned from then on */
    bool is_open;
    bool is_ready; /* as in machine_peer.h */
    const char *failure;
};

struct link_user usb_peer_user(struct usb_peer *peer);
void usb_peer_tick(struct usb_peer *peer);
void usb_peer_close(struct usb_peer *peer);

#endif
