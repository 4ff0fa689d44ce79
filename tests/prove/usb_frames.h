/*
 * What the decoder of a receiver's octets promises. The driver of frames shows it of any state of
 * the decoder, but for what is assigned, which Eva does not look into; that of the receiver
 * believes it.
 */
#ifndef PROVE_USB_FRAMES_H
#define PROVE_USB_FRAMES_H

#include "wire/usb_frame.h"

/*@ requires decoder->count <= USB_FRAME_MAX;
    assigns *decoder \from *decoder, octet;
    ensures 1 <= decoder->count <= USB_FRAME_MAX;
*/
void usb_decoder_put(struct usb_decoder *decoder, uint8_t octet);

/*@ requires decoder->count <= USB_FRAME_MAX;
    assigns *decoder \from *decoder;
    assigns *ret \from *decoder;
    assigns \result \from *decoder;
    ensures decoder->count <= USB_FRAME_MAX;
    ensures \result == 0 ||
        (\result == 1 && ret->length <= USB_PAYLOAD_MAX && \initialized(&ret->message) &&
         \initialized(&ret->payload[0 .. USB_PAYLOAD_MAX - 1]));
*/
bool usb_decoder_next(struct usb_decoder *decoder, struct usb_frame *ret);

#endif
