/*
 * What of libusb's devices concerns afterset: which they are, and a receiver that is claimed.
 */
#ifndef USB_DEVICE_H
#define USB_DEVICE_H

#include <libusb.h>
#include <stdint.h>

#include "io/usb_list.h"

/* Zeroed: nothing is open. */
struct usb_device {
    libusb_context *context;
    libusb_device_handle *handle;
    /* Its node, opened a second time: for a process that may have to take the receiver from us. */
    int node;
    uint8_t interface;
    uint8_t in, out;  /* addresses of the bulk endpoints */
    uint16_t in_size; /* octets of a packet */
};

/* False: neither a receiver nor a Bluetooth adapter. */
bool usb_device_kind(libusb_device *device, enum usb_kind *ret);
/* "" for a root hub. */
void usb_device_place(libusb_device *device, char ret[USB_PLACE_SIZE]);
/* <0, 0 or >0: by bus, then by ports. */
int usb_device_compare(libusb_device *left, libusb_device *right);

/* Claims a receiver; a place of NULL: the first that can be had. On failure false, nothing is left
 * open, and *ret_why says why in words for the rider (static). */
bool usb_device_open(const char *place, struct usb_device *ret, const char **ret_why);
/* Gives the receiver back; transfers are to be freed after this and before the next. */
void usb_device_release(struct usb_device *device);
void usb_device_close(struct usb_device *device);

/* What a rider can do about an error of libusb; never NULL. */
const char *usb_device_words(int error);

#endif
