/*
 * Devices in the air: how they are addressed, and what kinds of them concern a ride.
 */
#ifndef BASE_DEVICE_H
#define BASE_DEVICE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/text.h"

enum device_kind { DEVICE_MACHINE, DEVICE_STRAP, DEVICE_POWER, DEVICE_CADENCE, DEVICE_KIND_COUNT };

/* The numbers are the kernel's, in its management frames and socket addresses alike; but for the
 * last, of what is heard through a receiver on USB and has a number in place of an address. */
enum address_type { ADDRESS_NONE = 0, ADDRESS_PUBLIC = 1, ADDRESS_RANDOM = 2, ADDRESS_USB = 255 };

#define ADDRESS_OCTETS   6u
#define DEVICE_NAME_SIZE 65u /* of the names we keep, with the NUL; a name is for the eye only */

/* Zeroed: no address. The same octets with another type are another device. */
struct device_address {
    uint8_t octets[ADDRESS_OCTETS]; /* least significant first, as they travel; a number alike */
    enum address_type type;
};

bool device_address_is(const struct device_address *a, const struct device_address *b);

/* Whether the device puts another one in its place every so often, so that it is not found again
 * under this one (private addresses; Bluetooth Core, Vol 6 Part B 1.3.2, from memory). Once it is
 * paired the system knows it by one that stays. */
bool device_address_changes(const struct device_address *address);

/* The octets as people write them: six pairs of hexadecimal digits with colons between, most
 * significant first. Reading takes both cases and leaves the type alone. */
void device_address_put(struct text_writer *writer, const struct device_address *address);
bool device_address_read(const char *text, size_t length, struct device_address *ret);

/* "usb:12345", from 1 to 65535, or "usb" for any, which is 0. Put as other addresses are. */
bool device_address_read_usb(const char *text, size_t length, struct device_address *ret);
uint16_t device_address_usb(const struct device_address *address);

/* "machine", "strap", "power", "cadence"; "public", "random", "usb", "none". Never NULL. */
const char *device_kind_name(enum device_kind kind);
const char *address_type_name(enum address_type type);

#endif
