/*
 * Devices on USB for libusb in this process and in programs that it starts: umockdev answers what
 * the kernel would be asked, and a model of the test says what the two bulk pipes do. umockdev's
 * preload library must be there first: tests that use this are linked with it.
 */
#ifndef SUPPORT_USB_MOCK_H
#define SUPPORT_USB_MOCK_H

#include <stdbool.h>
#include <stdint.h>

/* Called on umockdev's own thread, one at a time for a device, under its lock. Each returns the
 * number of octets, USB_MOCK_LATER when it is not the time yet, or an errno, negative. */
#define USB_MOCK_LATER (-10000)
struct usb_model {
    int (*give)(void *user, uint8_t *octets, int size);
    int (*take)(void *user, const uint8_t *octets, int length);
    void *user;
};

/* Zeroed fields have the sense of an ordinary receiver, where one is said. */
struct usb_mock_device {
    unsigned bus, port; /* also its address there */
    uint16_t vendor, product;
    uint8_t class_code, subclass, protocol;
    uint16_t packet_size;   /* of both pipes; 0: 64 */
    bool has_no_pipes;      /* its interface is empty */
    bool is_held_by_kernel; /* a driver of the kernel has its interface */
    struct usb_model model; /* NULL: neither gives nor takes */
    int claim_error;        /* an errno, positive */
    int clear_error;        /* the same for clearing a halt */
    bool ignores_clearing;  /* does not answer that; the kernel waits for 5 s */
    int submit_error;       /* the same for every transfer */
};

struct usb_counts {
    unsigned claims, releases, halts_cleared, resets, cancelled;
    unsigned driver_detached, driver_attached;
    unsigned in_flight, in_flight_most;
};

struct usb_mock;

/* One at a time. Ends the test program where umockdev fails. */
struct usb_mock *usb_mock_new(void);
void usb_mock_free(struct usb_mock *mock);

#define USB_MOCK_DEVICES_MAX 4
/* The number under which it is known here. */
int usb_mock_plug(struct usb_mock *mock, const struct usb_mock_device *device);
/* What is in flight ends as it does when a receiver is pulled out. */
void usb_mock_unplug(struct usb_mock *mock, int number);
/* The kernel made hciINDEX of that device. */
void usb_mock_make_adapter(struct usb_mock *mock, int number, unsigned index);
struct usb_counts usb_mock_counts(struct usb_mock *mock, int number);
/* Around what a test changes in its model. */
void usb_mock_lock(struct usb_mock *mock, int number);
void usb_mock_unlock(struct usb_mock *mock, int number);

#endif
