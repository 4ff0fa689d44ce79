#include "wire/usb_frame.h"

#include <assert.h>
#include <string.h>

#define HEAD_SIZE 3u /* sync, length, message */

static uint8_t checksum(const uint8_t *octets, size_t count)
{
    uint8_t sum = 0;

    for (size_t i = 0; i < count; i++)
        sum ^= octets[i];
    return sum;
}

size_t usb_frame_encode(const struct usb_frame *frame, uint8_t *ret)
{
    const size_t end = HEAD_SIZE + frame->length;

    assert(frame->length <= USB_PAYLOAD_MAX);
    ret[0] = USB_SYNC;
    ret[1] = frame->length;
    ret[2] = frame->message;
    memcpy(ret + HEAD_SIZE, frame->payload, frame->length);
    ret[end] = checksum(ret, end);
    return end + 1;
}

static void drop(struct usb_decoder *decoder, size_t count)
{
    decoder->count = (uint8_t)(decoder->count - count);
    memmove(decoder->octets, decoder->octets + count, decoder->count);
}

/* No frame begins here: it may at the next octet. */
static void skip(struct usb_decoder *decoder)
{
    drop(decoder, 1);
    decoder->dropped++;
}

void usb_decoder_put(struct usb_decoder *decoder, uint8_t octet)
{
    if (decoder->count == USB_FRAME_MAX)
        skip(decoder);
    decoder->octets[decoder->count++] = octet;
}

/* Whether the octets that are there could be the beginning of a frame. */
static bool may_begin(const struct usb_decoder *decoder)
{
    return decoder->octets[0] == USB_SYNC &&
           (decoder->count < 2 || decoder->octets[1] <= USB_PAYLOAD_MAX);
}

bool usb_decoder_next(struct usb_decoder *decoder, struct usb_frame *ret)
{
    const uint8_t *octets = decoder->octets;

    while (decoder->count > 0) {
        if (!may_begin(decoder)) {
            skip(decoder);
            continue;
        }
        if (decoder->count < 2 || decoder->count < HEAD_SIZE + octets[1] + 1u)
            return false;
        const size_t end = HEAD_SIZE + octets[1];
        if (checksum(octets, end) != octets[end]) {
            skip(decoder);
            continue;
        }
        *ret = (struct usb_frame){.message = octets[2], .length = octets[1]};
        memcpy(ret->payload, octets + HEAD_SIZE, ret->length);
        drop(decoder, end + 1);
        return true;
    }
    return false;
}
