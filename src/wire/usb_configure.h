/*
 * What a receiver is told next, so that each channel listens for what is wanted of it.
 */
#ifndef WIRE_USB_CONFIGURE_H
#define WIRE_USB_CONFIGURE_H

#include "wire/usb_receiver.h"

/* A channel that has not been told anything yet. */
void usb_configure_begin(struct usb_receiver *receiver, unsigned channel);
/* One whose search is over: the next type in turn, or the same again. */
void usb_configure_search_next(struct usb_receiver *receiver, unsigned channel);
/* False: there is nothing to be said now. */
bool usb_configure_next(const struct usb_receiver *receiver, uint64_t t_ms, struct usb_frame *ret);

#endif
