/*
 * The file of remembered devices, one of each kind: kind, address, address type, and a name for the
 * eye that may be missing.
 *
 *     machine  F0:AA:1B:01:00:01  public  Bike in the cellar
 *     strap    C0:AA:1B:01:00:02  random
 *     power    usb:12345  Pedals heard through a receiver on USB
 *
 * Kinds are machine, strap, power and cadence, in any order, each at most once.
 */
#ifndef TEXT_DEVICES_H
#define TEXT_DEVICES_H

#include "base/device.h"
#include "text/lines.h"

#define DEVICES_FILE_MAX 1024u /* octets, the NUL included; devices_write() needs no more */

struct device {
    struct device_address address; /* type NONE: no such device is remembered */
    char name[DEVICE_NAME_SIZE];   /* UTF-8 without controls; may be empty */
};

/* Zeroed: none is remembered. */
struct devices {
    struct device list[DEVICE_KIND_COUNT]; /* by enum device_kind */
};

/* RESULT_INVALID: the fault says what and where. */
MUST_USE enum result devices_read(const char *text, size_t length, struct devices *ret,
                                  struct text_fault *ret_fault);
/* The file for these devices, with a NUL behind it. RESULT_FULL: more than `size` octets. A "#" in
 * a name, which would begin a comment, becomes "?". */
MUST_USE enum result devices_write(const struct devices *devices, char *ret, size_t size);

/* What a device is called: its name where one is known, else its address; its number on USB. What
 * its rides are kept under is for port/device_store.h. `ret` has room for DEVICE_NAME_SIZE. */
void device_label(const struct device *device, char *ret);

/* A name as it came through the air, made fit to be shown and kept: cut to DEVICE_NAME_SIZE between
 * characters, blanks around it taken off, "?" for each octet that is no character. */
void device_name_from(const char *octets, size_t length, char *ret);

#endif
