/*
 * Where a link leads, as riders write it: "unix:PATH" for a socket, "capture:FILE" for a recorded
 * device, "AA:BB:CC:DD:EE:FF" for a Bluetooth device, with "/public" or "/random" behind it where
 * the kind of address is known; "usb" for the first ANT sensor that a receiver on USB hears,
 * "usb:12345" for that of this number; behind either "@1-2" for the receiver of that place, of
 * several (io/usb_list.h), or "@PATH" for one at a socket, or recorded in a file.
 */
#ifndef IO_LINK_ADDRESS_H
#define IO_LINK_ADDRESS_H

#include <stdbool.h>

#include "base/device.h"

enum link_address_kind {
    LINK_ADDRESS_NONE,
    LINK_ADDRESS_UNIX,
    LINK_ADDRESS_CAPTURE,
    LINK_ADDRESS_BLUETOOTH,
    LINK_ADDRESS_USB
};

struct link_address {
    enum link_address_kind kind;
    const char *path;             /* of the socket or file; borrowed from the text. NULL with USB:
                                     a receiver that is plugged in */
    const char *place;            /* of that receiver; borrowed from the text; NULL: any */
    struct device_address device; /* type NONE: not known, both are to be tried */
};

/* False when it is none of these. A path may not be empty. */
bool link_address_read(const char *text, struct link_address *ret);

/* To be tried first where the type is not known: an address that starts with two set bits is that
 * of a device with a static random address, or one of the few public ones from such a block.
 * Bluetooth Core, Vol 6 Part B 1.3.2.1 (from memory). */
enum address_type address_type_likelier(const struct device_address *address);

#endif
