/*
 * What is plugged into this computer that a ride may go through: ANT receivers and Bluetooth
 * adapters on USB.
 */
#ifndef IO_USB_LIST_H
#define IO_USB_LIST_H

#include <stdbool.h>
#include <stddef.h>

#include "base/result.h"

enum usb_kind {
    USB_RECEIVER,       /* ANT over a pair of bulk pipes: io/link_usb.h speaks with it */
    USB_RECEIVER_OLDER, /* ANT behind a serial bridge: nobody here speaks with it */
    USB_BLUETOOTH
};

/* Bus and ports as the kernel names a device, "1-2.3": what stays when it is plugged in again.
 * Seven ports at most (USB 3.2, 10.16.2.2), each number three digits at most. */
#define USB_PLACE_SIZE 32u
#define USB_NODE_SIZE  24u

struct usb_entry {
    enum usb_kind kind;
    char place[USB_PLACE_SIZE];
    char node[USB_NODE_SIZE]; /* "/dev/bus/usb/001/004" */
    bool may_open;            /* this user may read and write the node */
};

#define USB_LIST_MAX 16u

struct usb_list {
    size_t count;
    struct usb_entry entries[USB_LIST_MAX]; /* by bus, then by ports */
};

/* RESULT_UNSUPPORTED where this system has no USB. What is beyond USB_LIST_MAX is left out. */
enum result usb_list(struct usb_list *ret);

/* Resets the Bluetooth adapter at that place, as if it had been unplugged and plugged in again; it
 * may take seconds. False: *ret_why says why not, in words for the rider (static). */
bool usb_reset_adapter(const char *place, const char **ret_why);

#endif
