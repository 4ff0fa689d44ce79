#include "usb_configure.h"

#include "usb_say.h"

/* A channel that is open says something at least when its search is over. That of the machine says
 * something in every turn while it is heard; a second is four of them. */
#define SEARCH_UNITS       4u /* of 2.5 s: most are heard in the first */
#define TURN_UNITS         2u /* while several types are searched for in turn */
#define SILENCE_MS         15000u
#define MACHINE_SILENCE_MS 1000u

#define TYPES_MAX 2u

/* What may measure each kind. */
static const uint8_t types[USB_CHANNEL_COUNT][TYPES_MAX] = {
    [SENSOR_STRAP] = {USB_TYPE_HEART},
    [SENSOR_POWER] = {USB_TYPE_POWER, USB_TYPE_EQUIPMENT},
    [SENSOR_CADENCE] = {USB_TYPE_CADENCE, USB_TYPE_SPEED_CADENCE},
    [USB_CHANNEL_MACHINE] = {USB_TYPE_EQUIPMENT},
};

static bool is_settled(const struct usb_receiver *receiver, unsigned channel)
{
    return receiver->setup.ids[channel].type != 0 || types[channel][1] == 0;
}

void usb_configure_begin(struct usb_receiver *receiver, unsigned channel)
{
    const struct usb_sensor_id wanted = receiver->setup.ids[channel];

    receiver->channels[channel] = (struct usb_channel){
        .id = {wanted.number, wanted.type != 0 ? wanted.type : types[channel][0]}};
}

/* One that was found, or asked for by type, is searched for as it is. */
void usb_configure_search_next(struct usb_receiver *receiver, unsigned channel)
{
    struct usb_channel *it = &receiver->channels[channel];

    if (!is_settled(receiver, channel))
        it->id.type = types[channel][it->id.type == types[channel][0]];
    it->step = USB_STEP_ID;
}

/* False: nothing is to be said to that channel. */
static bool next_to_channel(const struct usb_receiver *receiver, unsigned channel,
                            struct usb_frame *ret)
{
    const struct usb_channel *it = &receiver->channels[channel];

    switch (it->step) {
    case USB_STEP_ASSIGN: *ret = usb_say_assign(channel); return true;
    case USB_STEP_ID: *ret = usb_say_id(channel, it->id); return true;
    case USB_STEP_PERIOD: *ret = usb_say_period(channel, it->id.type); return true;
    case USB_STEP_FREQUENCY: *ret = usb_say_frequency(channel); return true;
    case USB_STEP_SEARCH_TIME:
        *ret =
            usb_say_search_time(channel, is_settled(receiver, channel) ? SEARCH_UNITS : TURN_UNITS);
        return true;
    case USB_STEP_OPEN: *ret = usb_say_open(channel); return true;
    case USB_STEP_LISTEN: *ret = usb_say_request(channel, USB_CHANNEL_ID); return it->wants_id;
    }
    return false;
}

static bool next_of_channels(const struct usb_receiver *receiver, struct usb_frame *ret)
{
    for (unsigned channel = 0; channel < USB_CHANNEL_COUNT; channel++)
        if (receiver->setup.is_wanted[channel] && next_to_channel(receiver, channel, ret))
            return true;
    return false;
}

/* What was said of a channel that has closed may have been lost; or there is nobody any more. */
static bool next_probe(const struct usb_receiver *receiver, uint64_t t_ms, struct usb_frame *ret)
{
    for (unsigned channel = 0; channel < USB_CHANNEL_COUNT; channel++) {
        const struct usb_channel *it = &receiver->channels[channel];
        const bool is_heard = channel == USB_CHANNEL_MACHINE && it->is_tracked;
        if (receiver->setup.is_wanted[channel] &&
            t_ms - it->heard_t_ms >= (is_heard ? MACHINE_SILENCE_MS : SILENCE_MS)) {
            *ret = usb_say_request(channel, USB_CHANNEL_STATUS);
            return true;
        }
    }
    return false;
}

bool usb_configure_next(const struct usb_receiver *receiver, uint64_t t_ms, struct usb_frame *ret)
{
    switch (receiver->phase) {
    case USB_PHASE_RESET: *ret = usb_say_reset(); return true;
    case USB_PHASE_KEY: *ret = usb_say_key(receiver->setup.key); return true;
    case USB_PHASE_CHANNELS: break;
    }
    return next_of_channels(receiver, ret) || next_probe(receiver, t_ms, ret);
}
