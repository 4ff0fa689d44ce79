/*
 * An ANT receiver that listens to all sensors at once: each message it hears says which sensor it
 * is of. For finding them; nothing else can be had from a receiver meanwhile. Octets and time in,
 * octets and events out.
 *
 * That is called continuous scan, and takes a receiver that has it and extended messages. One that
 * has not, or refuses, is unable: wire/usb_receiver.h finds the first sensor of each kind with any.
 *
 * Source: ANT Message Protocol and Usage, D00000652 Rev 5.1, sections 5.5 (order), 7.1.1 (what
 * follows a page) and 9.5.4.5, 9.5.7.4 (from memory); the numbers were compared with the public
 * libraries openant (base/message.py) and incyclist's ant-plus (constants.ts).
 */
#ifndef WIRE_USB_LISTENER_H
#define WIRE_USB_LISTENER_H

#include "wire/usb_receiver.h"

enum usb_listener_event_kind {
    USB_LISTENER_HEARD,  /* id, with every page */
    USB_LISTENER_UNABLE, /* it cannot; nothing follows, and it may be started as another */
    USB_LISTENER_FAILED  /* reason: it is of no use. Close it; nothing follows. */
};

struct usb_listener_event {
    enum usb_listener_event_kind kind;
    struct usb_sensor_id id;
    const char *reason; /* words for the rider, static */
};

/* ---- the inside; read it, don't write it ---- */

/* What it is told next, in this order. */
enum usb_listener_step {
    USB_LISTENER_RESET,
    USB_LISTENER_ABLE, /* asks what it can do */
    USB_LISTENER_KEY,
    USB_LISTENER_ASSIGN,
    USB_LISTENER_ID,
    USB_LISTENER_FREQUENCY,
    USB_LISTENER_EXTEND,
    USB_LISTENER_OPEN,
    USB_LISTENER_LISTEN, /* nothing: it listens */
    USB_LISTENER_OVER
};

#define USB_LISTENER_IDS 16u

struct usb_listener {
    uint8_t key[USB_KEY_SIZE];
    enum usb_listener_step step;
    struct usb_decoder decoder;
    bool is_unsent, is_unable;
    uint8_t tries, restarts;
    uint64_t asked_t_ms;
    struct usb_sensor_id heard[USB_LISTENER_IDS]; /* a ring; of more the newest are dropped */
    uint8_t first, count;
    const char *failure; /* NULL: none */
};

void usb_listener_start(struct usb_listener *listener, const uint8_t key[USB_KEY_SIZE],
                        uint64_t t_ms);
/* Octets as they come, split anyhow. */
void usb_listener_receive(struct usb_listener *listener, uint64_t t_ms, const uint8_t *octets,
                          size_t length);
void usb_listener_tick(struct usb_listener *listener, uint64_t t_ms);
/* What is to be sent; its length, or 0. `ret` holds USB_FRAME_MAX. */
size_t usb_listener_next_octets(struct usb_listener *listener, uint8_t *ret);
bool usb_listener_next_event(struct usb_listener *listener, struct usb_listener_event *ret);

#endif
