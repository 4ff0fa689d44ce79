/*
 * What is said to a receiver, as messages. Channels are numbered as in wire/usb_receiver.h. Source
 * of the fields: ANT Message Protocol and Usage, D00000652 Rev 5.1, section 9.5.
 */
#ifndef WIRE_USB_SAY_H
#define WIRE_USB_SAY_H

#include "wire/usb_receiver.h"

struct usb_frame usb_say_reset(void);
struct usb_frame usb_say_key(const uint8_t key[USB_KEY_SIZE]);
struct usb_frame usb_say_assign(unsigned channel);
struct usb_frame usb_say_id(unsigned channel, struct usb_sensor_id id);
struct usb_frame usb_say_period(unsigned channel, uint8_t type);
struct usb_frame usb_say_frequency(unsigned channel);
struct usb_frame usb_say_search_time(unsigned channel, uint8_t units); /* of 2.5 s */
struct usb_frame usb_say_open(unsigned channel);
struct usb_frame usb_say_request(unsigned channel, enum usb_message wanted);

#endif
