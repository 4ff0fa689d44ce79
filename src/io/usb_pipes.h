/*
 * The inside of io/link_usb: its transfers. What libusb tells is only noted; usb_read_on() and
 * usb_write_on() deal with it outside of libusb, since a user may close the link in `received`.
 */
#ifndef USB_PIPES_H
#define USB_PIPES_H

#include <stdbool.h>

#include "io/link_usb.h"
#include "usb_device.h"

/* Several, so that the receiver is never without one while the loop is busy. */
#define USB_READS 4u
/* A whole number of packets of any size that a bulk endpoint may have (USB 2.0, 5.8.3). */
#define USB_READ_SIZE   512
#define USB_WATCHES_MAX 8u /* libusb has an event, a timer, and the receiver's node */

enum slot_state { SLOT_IDLE, SLOT_FLYING, SLOT_DONE };

struct usb_slot {
    struct libusb_transfer *transfer;
    enum slot_state state;
    uint8_t octets[USB_READ_SIZE];
};

struct usb_pipe {
    unsigned failures; /* in a row, with nothing transferred between */
    bool is_recovering, is_halted, has_paused;
    int timer;             /* until it is tried again */
    struct usb_slot clear; /* asks the receiver to clear a halt */
};

struct link_usb {
    struct link link; /* first: the port's handle */
    struct loop *loop;
    struct link_user user;
    struct usb_device device;
    struct usb_watch {
        int fd, id;
    } watches[USB_WATCHES_MAX];
    size_t watch_count;
    bool is_open, has_ended, in_callback, is_closed; /* closed within a callback: freed behind it */
    const char *why;                                 /* not NULL: it is to end, and has not */
    int timer;                                       /* to open, or to end */

    struct usb_pipe in, out;
    struct usb_slot reads[USB_READS]; /* complete in the order in which they were submitted */
    unsigned first_read;
    struct usb_slot write;
    struct usb_waiting {
        size_t length;
        uint8_t octets[LINK_USB_SEND_MAX];
    } waiting[LINK_USB_QUEUE_MAX]; /* the first is being written */
    unsigned first_waiting, waiting_count;
};

bool usb_transfers_make(struct link_usb *usb);
/* Writes what was sent where the receiver takes it at once, cancels what is in flight, waits until
 * it is back, closes the device, and frees the transfers. */
void usb_transfers_end(struct link_usb *usb);

void usb_submit_reads(struct link_usb *usb);
void usb_read_on(struct link_usb *usb);

void usb_write_first(struct link_usb *usb);
void usb_write_on(struct link_usb *usb);

/* Of link_usb.c: looks at both pipes and at whether it is the end. May free `usb`. */
void usb_go_on(struct link_usb *usb);

#endif
