/* A receiver that says anything at any time, in chunks, to its client.
 * Eva: -eva-precision 1 -eva-slevel 12 -eva-split-return full
 * Eva: -eva-use-spec usb_decoder_put,usb_decoder_next */
#include "unknown.h"
#include "usb_frames.h"
#include "wire/usb_receiver.h"

enum { CHUNK_MAX = 64 };

static struct usb_receiver receiver;
static uint8_t heard[CHUNK_MAX];

static struct usb_receiver_setup any_setup(void)
{
    struct usb_receiver_setup setup = {0};

    MAKE_UNKNOWN(setup.key);
    MAKE_UNKNOWN(setup.ids);
    for (int channel = 0; channel < USB_CHANNEL_COUNT; channel++)
        setup.is_wanted[channel] = any_bool();
    return setup;
}

static void talk(void)
{
    uint8_t said[USB_FRAME_MAX];
    struct usb_receiver_event event;

    switch (any_int(0, 3)) {
    case 0:
        MAKE_UNKNOWN(heard);
        usb_receiver_receive(&receiver, any_u64(), heard, any_size(sizeof heard));
        break;
    case 1: usb_receiver_tick(&receiver, any_u64()); break;
    case 2: usb_receiver_next_octets(&receiver, said); break;
    default: usb_receiver_next_event(&receiver, &event); break;
    }
}

int main(void)
{
    const struct usb_receiver_setup setup = any_setup();

    /*@ widen_hints global:"all", 2, 3, 32, 35, 36; */
    usb_receiver_start(&receiver, &setup, any_u64());
    while (any_bool())
        talk();
    return 0;
}
