#include "wire/usb_listener.h"

#include <string.h>

#include "usb_say.h"

/* As those of usb_receiver.c. */
#define ANSWER_MS    1000u
#define TRIES_MAX    3u
#define RESTARTS_MAX 5u

/* Messages that nothing else of ours says or hears. */
enum { CAPABILITIES = 0x54, OPEN_SCAN = 0x5B, EXTEND = 0x66 };

/* In the fifth octet of what it can do. */
enum { CAN_EXTEND = 0x02, CAN_SCAN = 0x04 };
#define CAN_AT 4u

/* Behind the page: a flag, and the number, type and kind of transmission of who sent it. */
#define HAS_ID      0x80u
#define FLAGS_AT    (1u + USB_PAGE_SIZE)
#define ID_AT       (FLAGS_AT + 1u)
#define HEARD_SIZE  (ID_AT + 3u)
#define THE_CHANNEL 0u /* continuous scan knows no other */

static struct usb_frame with_octets(uint8_t message, uint8_t length, uint8_t last)
{
    struct usb_frame frame = {.message = message, .length = length};

    frame.payload[length - 1] = last;
    return frame;
}

static struct usb_frame message_of(const struct usb_listener *listener)
{
    switch (listener->step) {
    case USB_LISTENER_RESET: return usb_say_reset();
    case USB_LISTENER_ABLE: return with_octets(USB_REQUEST, 2, CAPABILITIES);
    case USB_LISTENER_KEY: return usb_say_key(listener->key);
    case USB_LISTENER_ASSIGN: return usb_say_assign(THE_CHANNEL);
    case USB_LISTENER_ID: return usb_say_id(THE_CHANNEL, (struct usb_sensor_id){0});
    case USB_LISTENER_FREQUENCY: return usb_say_frequency(THE_CHANNEL);
    case USB_LISTENER_EXTEND: return with_octets(EXTEND, 2, 1);
    case USB_LISTENER_OPEN: return with_octets(OPEN_SCAN, 1, 0);
    case USB_LISTENER_LISTEN:
    case USB_LISTENER_OVER: break;
    }
    return (struct usb_frame){0};
}

static bool is_asking(const struct usb_listener *listener)
{
    return listener->step < USB_LISTENER_LISTEN;
}

static void go_to(struct usb_listener *listener, uint64_t t_ms, enum usb_listener_step step)
{
    listener->step = step;
    listener->tries = 1;
    listener->asked_t_ms = t_ms;
    listener->is_unsent = is_asking(listener);
}

static void fail(struct usb_listener *listener, uint64_t t_ms, const char *reason)
{
    go_to(listener, t_ms, USB_LISTENER_OVER);
    listener->failure = reason;
}

static void give_up(struct usb_listener *listener, uint64_t t_ms)
{
    go_to(listener, t_ms, USB_LISTENER_OVER);
    listener->is_unable = true;
}

/* ---- hearing ---- */

/* Also when nobody asked it to: it has forgotten everything then. */
static void has_started(struct usb_listener *listener, uint64_t t_ms)
{
    if (listener->step != USB_LISTENER_RESET && listener->restarts++ == RESTARTS_MAX)
        fail(listener, t_ms, "the receiver starts anew again and again");
    else
        go_to(listener, t_ms, USB_LISTENER_ABLE);
}

static void on_capabilities(struct usb_listener *listener, uint64_t t_ms,
                            const struct usb_frame *frame)
{
    const uint8_t can = frame->length > CAN_AT ? frame->payload[CAN_AT] : 0;

    if (listener->step != USB_LISTENER_ABLE)
        return;
    if ((can & CAN_EXTEND) != 0 && (can & CAN_SCAN) != 0)
        go_to(listener, t_ms, USB_LISTENER_KEY);
    else
        give_up(listener, t_ms);
}

static void on_response(struct usb_listener *listener, uint64_t t_ms, const struct usb_frame *frame)
{
    const struct usb_frame asked = message_of(listener);

    if (frame->length < 3 || !is_asking(listener) || listener->step <= USB_LISTENER_ABLE ||
        frame->payload[1] != asked.message)
        return;
    if (frame->payload[2] == USB_CODE_OK)
        go_to(listener, t_ms, listener->step + 1);
    else if (listener->step == USB_LISTENER_KEY)
        fail(listener, t_ms, "the receiver refuses the network key");
    else
        give_up(listener, t_ms);
}

static void on_page(struct usb_listener *listener, const struct usb_frame *frame)
{
    const uint8_t *id = frame->payload + ID_AT;

    if (listener->step != USB_LISTENER_LISTEN || listener->count == USB_LISTENER_IDS ||
        frame->length < HEARD_SIZE || (frame->payload[FLAGS_AT] & HAS_ID) == 0)
        return;
    /* The highest bit of the type says that it wants to be paired with. */
    const struct usb_sensor_id heard = {(uint16_t)(id[0] | id[1] << 8), id[2] & 0x7Fu};
    if (heard.number == 0)
        return;
    listener->heard[(listener->first + listener->count) % USB_LISTENER_IDS] = heard;
    listener->count++;
}

static void on_frame(struct usb_listener *listener, uint64_t t_ms, const struct usb_frame *frame)
{
    switch (frame->message) {
    case USB_STARTED: has_started(listener, t_ms); return;
    case CAPABILITIES: on_capabilities(listener, t_ms, frame); return;
    case USB_RESPONSE: on_response(listener, t_ms, frame); return;
    case USB_BROADCAST:
    case USB_ACKNOWLEDGED: on_page(listener, frame); return;
    default: return;
    }
}

/* ---- for the user ---- */

void usb_listener_start(struct usb_listener *listener, const uint8_t key[USB_KEY_SIZE],
                        uint64_t t_ms)
{
    *listener = (struct usb_listener){0};
    memcpy(listener->key, key, USB_KEY_SIZE);
    go_to(listener, t_ms, USB_LISTENER_RESET);
}

void usb_listener_receive(struct usb_listener *listener, uint64_t t_ms, const uint8_t *octets,
                          size_t length)
{
    struct usb_frame frame = {0};

    for (size_t i = 0; i < length; i++) {
        usb_decoder_put(&listener->decoder, octets[i]);
        while (usb_decoder_next(&listener->decoder, &frame))
            if (listener->step != USB_LISTENER_OVER)
                on_frame(listener, t_ms, &frame);
    }
}

/* Some of the first do not say that they have started, nor what they can do. */
static void unanswered(struct usb_listener *listener, uint64_t t_ms)
{
    if (listener->step == USB_LISTENER_RESET)
        go_to(listener, t_ms, USB_LISTENER_ABLE);
    else if (listener->step == USB_LISTENER_ABLE)
        give_up(listener, t_ms);
    else
        fail(listener, t_ms, "the receiver does not answer; unplug it and plug it in again");
}

void usb_listener_tick(struct usb_listener *listener, uint64_t t_ms)
{
    if (!is_asking(listener) || t_ms - listener->asked_t_ms < ANSWER_MS)
        return;
    if (listener->tries == TRIES_MAX) {
        unanswered(listener, t_ms);
        return;
    }
    listener->tries++;
    listener->asked_t_ms = t_ms;
    listener->is_unsent = true;
}

size_t usb_listener_next_octets(struct usb_listener *listener, uint8_t *ret)
{
    const struct usb_frame frame = message_of(listener);

    if (!listener->is_unsent)
        return 0;
    listener->is_unsent = false;
    return usb_frame_encode(&frame, ret);
}

bool usb_listener_next_event(struct usb_listener *listener, struct usb_listener_event *ret)
{
    if (listener->count > 0) {
        *ret = (struct usb_listener_event){.kind = USB_LISTENER_HEARD,
                                           .id = listener->heard[listener->first]};
        listener->first = (uint8_t)((listener->first + 1) % USB_LISTENER_IDS);
        listener->count--;
        return true;
    }
    if (listener->is_unable)
        *ret = (struct usb_listener_event){.kind = USB_LISTENER_UNABLE};
    else if (listener->failure != NULL)
        *ret =
            (struct usb_listener_event){.kind = USB_LISTENER_FAILED, .reason = listener->failure};
    else
        return false;
    listener->is_unable = false;
    listener->failure = NULL;
    return true;
}
