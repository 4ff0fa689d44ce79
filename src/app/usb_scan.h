/*
 * Trainers and sensors that a receiver on USB hears, as sightings: all of them, each time they are
 * heard; of those that were asked for, and with a receiver that cannot listen to all at once, the
 * first of each kind.
 */
#ifndef APP_USB_SCAN_H
#define APP_USB_SCAN_H

#include "io/dialer.h"
#include "port/scan.h"
#include "wire/usb_listener.h"

/* Zero it, then set loop, seen and user, and in `setup` what is wanted; zeroed, that is all. */
struct usb_scan {
    struct loop *loop;
    void (*seen)(void *user, const struct sighting *sighting);
    void *user;
    struct usb_receiver_setup setup;

    /* inside */
    struct dialer dialer;
    bool hears_all;
    struct usb_listener listener; /* while it does, else: */
    struct usb_receiver receiver;
    bool is_open;
    int timer;
    const char *problem;
};

/* Begins to listen. False where it fails at once: see usb_scan_problem(). */
bool usb_scan_begin(struct usb_scan *scan, const struct link_address *receiver, uint64_t key);
/* Harmless on a zeroed one. */
void usb_scan_end(struct usb_scan *scan);
/* Why nothing is heard, or no longer, in words that last as long as the scan; or NULL. */
const char *usb_scan_problem(const struct usb_scan *scan);

#endif
