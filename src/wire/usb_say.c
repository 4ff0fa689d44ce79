#include "usb_say.h"

#define NETWORK  0u
#define RECEIVES 0u /* as the type of a channel: listens, and may answer */

static void put(struct usb_frame *frame, uint32_t value)
{
    frame->payload[frame->length++] = (uint8_t)value;
}

static void put_wide(struct usb_frame *frame, uint32_t value)
{
    put(frame, value);
    put(frame, value >> 8);
}

static struct usb_frame to_channel(enum usb_message message, unsigned channel)
{
    struct usb_frame frame = {.message = (uint8_t)message};

    put(&frame, channel);
    return frame;
}

static struct usb_frame with_one(enum usb_message message, unsigned channel, uint32_t value)
{
    struct usb_frame frame = to_channel(message, channel);

    put(&frame, value);
    return frame;
}

struct usb_frame usb_say_reset(void)
{
    return (struct usb_frame){.message = USB_RESET, .length = 1};
}

struct usb_frame usb_say_key(const uint8_t key[USB_KEY_SIZE])
{
    struct usb_frame frame = {.message = USB_SET_KEY};

    put(&frame, NETWORK);
    for (size_t i = 0; i < USB_KEY_SIZE; i++)
        put(&frame, key[i]);
    return frame;
}

struct usb_frame usb_say_assign(unsigned channel)
{
    struct usb_frame frame = with_one(USB_ASSIGN, channel, RECEIVES);

    put(&frame, NETWORK);
    return frame;
}

struct usb_frame usb_say_id(unsigned channel, struct usb_sensor_id id)
{
    struct usb_frame frame = to_channel(USB_CHANNEL_ID, channel);

    put_wide(&frame, id.number);
    put(&frame, id.type);
    put(&frame, 0); /* any kind of transmission */
    return frame;
}

struct usb_frame usb_say_period(unsigned channel, uint8_t type)
{
    struct usb_frame frame = to_channel(USB_SET_PERIOD, channel);

    put_wide(&frame, usb_type_period(type));
    return frame;
}

struct usb_frame usb_say_frequency(unsigned channel)
{
    return with_one(USB_SET_FREQUENCY, channel, USB_FREQUENCY_MHZ);
}

struct usb_frame usb_say_search_time(unsigned channel, uint8_t units)
{
    return with_one(USB_SET_SEARCH_TIME, channel, units);
}

struct usb_frame usb_say_open(unsigned channel)
{
    return to_channel(USB_OPEN, channel);
}

struct usb_frame usb_say_request(unsigned channel, enum usb_message wanted)
{
    return with_one(USB_REQUEST, channel, wanted);
}
