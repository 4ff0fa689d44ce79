/*
 * Messages that a receiver's client hands through to whoever speaks with the machine.
 */
#ifndef WIRE_USB_PASSAGE_H
#define WIRE_USB_PASSAGE_H

#include "wire/usb_receiver.h"

void usb_passage_put(struct usb_passage *passage, const struct usb_frame *frame);
/* The next message, or that the machine is lost. False: neither. */
bool usb_passage_take(struct usb_passage *passage, struct usb_receiver_event *ret);

#endif
