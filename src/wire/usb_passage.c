#include "usb_passage.h"

#include <string.h>

static void drop_first(struct usb_passage *passage)
{
    passage->first = (passage->first + 1) % USB_MESSAGES_MAX;
    passage->count--;
}

void usb_passage_put(struct usb_passage *passage, const struct usb_frame *frame)
{
    const uint8_t most = USB_MESSAGE_MAX - 1;
    const uint8_t length = frame->length < most ? frame->length : most;

    if (passage->count == USB_MESSAGES_MAX)
        drop_first(passage);
    struct usb_passed *last =
        &passage->list[(passage->first + passage->count++) % USB_MESSAGES_MAX];
    last->length = length + 1;
    last->octets[0] = frame->message;
    memcpy(last->octets + 1, frame->payload, length);
}

bool usb_passage_take(struct usb_passage *passage, struct usb_receiver_event *ret)
{
    *ret = (struct usb_receiver_event){.kind = USB_RECEIVER_LOST, .channel = USB_CHANNEL_MACHINE};
    if (passage->count > 0) {
        ret->kind = USB_RECEIVER_MESSAGE;
        ret->message = passage->list[passage->first];
        drop_first(passage);
        return true;
    }
    const bool is_lost = passage->lost_is_due;
    passage->lost_is_due = false;
    return is_lost;
}
