/*
 * The network key of sensors that are heard through a receiver on USB. Its owner licenses it, so it
 * comes from the rider's settings alone.
 */
#ifndef APP_USB_KEY_H
#define APP_USB_KEY_H

#include "wire/usb_receiver.h"

/* What is missing, where it is to be put and whose it is, and `behind` that. */
void usb_key_complain(const char *behind);
/* From text/settings.h, in the order it is written. */
void usb_key_put(uint64_t key, uint8_t ret[USB_KEY_SIZE]);

#endif
