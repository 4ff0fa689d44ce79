/* A decoder with any octets in it, given one more and asked for a frame; and any frame of ours.
 * Eva: -eva-precision 1 -eva-slevel 400 */
#include "unknown.h"
#include "usb_frames.h"

static struct usb_decoder decoder;
static struct usb_frame frame;
static uint8_t said[USB_FRAME_MAX];

static void begin(void)
{
    MAKE_UNKNOWN(decoder);
    decoder.count = (uint8_t)any_int(0, USB_FRAME_MAX);
    /*@ split decoder.count; */
}

int main(void)
{
    struct usb_frame found;

    begin();
    if (any_bool())
        usb_decoder_put(&decoder, (uint8_t)any_int(0, UINT8_MAX));
    else
        usb_decoder_next(&decoder, &found);
    MAKE_UNKNOWN(frame);
    frame.length = (uint8_t)any_int(0, USB_PAYLOAD_MAX);
    usb_frame_encode(&frame, said);
    return 0;
}
