#include "usb_passage.h"

static void drop_first(struct usb_passage *passage)
{
    passage->first = (passage->first + 1) % USB_MESSAGES_MAX;
    passage->count--;
}

void usb_passage_put(struct usb_passage *passage, const struct usb_frame *frame)
{
    if (passage->count == USB_MESSAGES_MAX)
        drop_first(passage);
    passage->list[(passage->first + passage->count++) % USB_MESSAGES_MAX] = *frame;
}

bool usb_passage_take(struct usb_passage *passage, struct usb_receiver_event *ret)
{
    *ret = (struct usb_receiver_event){.kind = USB_RECEIVER_LOST, .channel = USB_CHANNEL_MACHINE};
    if (passage->count > 0) {
        ret->kind = USB_RECEIVER_MESSAGE;
        ret->frame = passage->list[passage->first % USB_MESSAGES_MAX];
        drop_first(passage);
        return true;
    }
    const bool is_lost = passage->lost_is_due;
    passage->lost_is_due = false;
    return is_lost;
}
