/*
 * Messages between a computer and an ANT receiver, as they travel over USB or a serial line:
 * A4, length of the payload, message, payload, and the exclusive or of all that. They come in
 * chunks that keep no message together.
 *
 * Source: ANT Message Protocol and Usage, D00000652 Rev 5.1, sections 7.1 and 9; the numbers were
 * compared with the public libraries openant (base/message.py) and ant-arduino (ANT_defines.h).
 */
#ifndef WIRE_USB_FRAME_H
#define WIRE_USB_FRAME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What we say and hear. The first octet of a payload is a channel, unless noted. */
enum usb_message {
    USB_RESPONSE = 0x40,        /* channel, message it is about or 1, enum usb_code */
    USB_ASSIGN = 0x42,          /* channel, type, network */
    USB_SET_PERIOD = 0x43,      /* channel, 1/32768 s (2 octets) */
    USB_SET_SEARCH_TIME = 0x44, /* channel, 2.5 s; 255: for ever */
    USB_SET_FREQUENCY = 0x45,   /* channel, MHz above 2400 */
    USB_SET_KEY = 0x46,         /* network, key (8 octets) */
    USB_RESET = 0x4A,           /* 0 */
    USB_OPEN = 0x4B,            /* channel */
    USB_CLOSE = 0x4C,           /* channel; what waits to be sent on it is not */
    USB_REQUEST = 0x4D,         /* channel, message wanted */
    USB_BROADCAST = 0x4E,       /* channel, page (8 octets) */
    USB_ACKNOWLEDGED = 0x4F,    /* the same */
    USB_CHANNEL_ID = 0x51,      /* channel, device number (2), type, kind of transmission */
    USB_CHANNEL_STATUS = 0x52,  /* channel, enum usb_channel_state in the low two bits */
    USB_STARTED = 0x6F          /* why it started; no channel */
};

/* What a response says: of a message how it went, or (as of message 1) what has happened. */
enum usb_code {
    USB_CODE_OK = 0,
    USB_CODE_SEARCH_TIMED_OUT = 1, /* the channel closes next */
    USB_CODE_MISSED = 2,           /* the sensor was not heard in its turn */
    USB_CODE_TRANSFERRED = 5,      /* acknowledged data has arrived */
    USB_CODE_NOT_TRANSFERRED = 6,
    USB_CODE_CLOSED = 7,
    USB_CODE_SEARCHES_AGAIN = 8, /* after too many that were missed */
    USB_CODE_WRONG_STATE = 0x15
};
#define USB_ABOUT_EVENT 1u

enum usb_channel_state { USB_UNASSIGNED, USB_ASSIGNED, USB_SEARCHING, USB_TRACKING };

#define USB_SYNC        0xA4u
#define USB_PAYLOAD_MAX 32u /* no message of ours is longer */
#define USB_FRAME_MAX   (USB_PAYLOAD_MAX + 4u)
#define USB_PAGE_SIZE   8u

struct usb_frame {
    uint8_t message; /* enum usb_message, or another */
    uint8_t length;  /* of the payload, up to USB_PAYLOAD_MAX */
    uint8_t payload[USB_PAYLOAD_MAX];
};

/* The length; `ret` holds USB_FRAME_MAX. */
size_t usb_frame_encode(const struct usb_frame *frame, uint8_t *ret);

/* Zero it for each link. After each octet that is put, take frames until there is none: one octet
 * may end several, where what was taken for the beginning of a longer one was none. */
struct usb_decoder {
    uint8_t octets[USB_FRAME_MAX];
    uint8_t count;
    uint32_t dropped; /* octets that belong to no frame */
};

void usb_decoder_put(struct usb_decoder *decoder, uint8_t octet);
bool usb_decoder_next(struct usb_decoder *decoder, struct usb_frame *ret);

#endif
