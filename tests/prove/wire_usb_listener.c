/* A receiver that says anything at any time, in chunks, to whoever looks for sensors with it.
 * Eva: -eva-precision 1 -eva-slevel 100 -eva-split-return full
 * Eva: -eva-use-spec usb_decoder_put,usb_decoder_next */
#include "unknown.h"
#include "usb_frames.h"
#include "wire/usb_listener.h"

enum { CHUNK_MAX = 64 };

static struct usb_listener listener;
static uint8_t heard[CHUNK_MAX];

static void talk(void)
{
    uint8_t said[USB_FRAME_MAX];
    struct usb_listener_event event;

    switch (any_int(0, 3)) {
    case 0:
        MAKE_UNKNOWN(heard);
        usb_listener_receive(&listener, any_u64(), heard, any_size(sizeof heard));
        break;
    case 1: usb_listener_tick(&listener, any_u64()); break;
    case 2: usb_listener_next_octets(&listener, said); break;
    default: usb_listener_next_event(&listener, &event); break;
    }
}

int main(void)
{
    uint8_t key[USB_KEY_SIZE];

    MAKE_UNKNOWN(key);
    /*@ widen_hints global:"all", 2, 3, 15, 16, 32, 35, 36; */
    usb_listener_start(&listener, key, any_u64());
    while (any_bool())
        talk();
    return 0;
}
