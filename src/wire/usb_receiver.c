#include "wire/usb_receiver.h"

#include "usb_say.h"

/* It answers within milliseconds, and starts within half a second (common practice). Some of the
 * first do not say that they have started; what follows shows whether they have. */
#define ANSWER_MS    1000u
#define TRIES_MAX    3u
#define RESTARTS_MAX 5u
/* A channel that is open says something at least when its search is over. */
#define SEARCH_UNITS 4u /* of 2.5 s: most are heard in the first */
#define TURN_UNITS   2u /* while several types are searched for in turn */
#define SILENCE_MS   15000u

#define TYPES_MAX 2u

/* What may measure each kind. */
static const uint8_t types[SENSOR_KIND_COUNT][TYPES_MAX] = {
    [SENSOR_STRAP] = {USB_TYPE_HEART},
    [SENSOR_POWER] = {USB_TYPE_POWER, USB_TYPE_EQUIPMENT},
    [SENSOR_CADENCE] = {USB_TYPE_CADENCE, USB_TYPE_SPEED_CADENCE},
};

static void fail(struct usb_receiver *receiver, const char *reason)
{
    if (receiver->failure == NULL)
        receiver->failure = reason;
    receiver->is_asking = receiver->is_unsent = false;
}

/* ---- saying ---- */

static void say(struct usb_receiver *receiver, uint64_t t_ms)
{
    receiver->is_asking = receiver->is_unsent = true;
    receiver->asked_t_ms = t_ms;
    receiver->tries++;
}

static bool is_settled(const struct usb_receiver *receiver, enum sensor_kind kind)
{
    return receiver->setup.ids[kind].type != 0 || types[kind][1] == 0;
}

/* False: nothing is to be said to that channel. */
static bool next_to_channel(const struct usb_receiver *receiver, enum sensor_kind kind,
                            struct usb_frame *ret)
{
    const struct usb_channel *channel = &receiver->channels[kind];

    switch (channel->step) {
    case USB_STEP_ASSIGN: *ret = usb_say_assign(kind); return true;
    case USB_STEP_ID: *ret = usb_say_id(kind, channel->id); return true;
    case USB_STEP_PERIOD: *ret = usb_say_period(kind, channel->id.type); return true;
    case USB_STEP_FREQUENCY: *ret = usb_say_frequency(kind); return true;
    case USB_STEP_SEARCH_TIME:
        *ret = usb_say_search_time(kind, is_settled(receiver, kind) ? SEARCH_UNITS : TURN_UNITS);
        return true;
    case USB_STEP_OPEN: *ret = usb_say_open(kind); return true;
    case USB_STEP_LISTEN: *ret = usb_say_request(kind, USB_CHANNEL_ID); return channel->wants_id;
    }
    return false;
}

static bool next_of_channels(const struct usb_receiver *receiver, struct usb_frame *ret)
{
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++)
        if (receiver->setup.is_wanted[kind] && next_to_channel(receiver, kind, ret))
            return true;
    return false;
}

/* What was said of a channel that has closed may have been lost; or there is nobody any more. */
static bool next_probe(const struct usb_receiver *receiver, uint64_t t_ms, struct usb_frame *ret)
{
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++) {
        if (receiver->setup.is_wanted[kind] &&
            t_ms - receiver->channels[kind].heard_t_ms >= SILENCE_MS) {
            *ret = usb_say_request(kind, USB_CHANNEL_STATUS);
            return true;
        }
    }
    return false;
}

static bool next_frame(const struct usb_receiver *receiver, uint64_t t_ms, struct usb_frame *ret)
{
    switch (receiver->phase) {
    case USB_PHASE_RESET: *ret = usb_say_reset(); return true;
    case USB_PHASE_KEY: *ret = usb_say_key(receiver->setup.key); return true;
    case USB_PHASE_CHANNELS: break;
    }
    return next_of_channels(receiver, ret) || next_probe(receiver, t_ms, ret);
}

/* One message at a time: the next follows the answer to the last. */
static void go_on(struct usb_receiver *receiver, uint64_t t_ms)
{
    if (receiver->failure != NULL || receiver->is_asking)
        return;
    receiver->tries = 0;
    if (next_frame(receiver, t_ms, &receiver->asked))
        say(receiver, t_ms);
}

/* ---- channels ---- */

static void begin_channel(const struct usb_receiver *receiver, enum sensor_kind kind,
                          struct usb_channel *channel)
{
    const struct usb_sensor_id wanted = receiver->setup.ids[kind];

    *channel = (struct usb_channel){
        .id = {wanted.number, wanted.type != 0 ? wanted.type : types[kind][0]}};
}

/* One that was found, or asked for by type, is searched for as it is. */
static void search_next(const struct usb_receiver *receiver, enum sensor_kind kind,
                        struct usb_channel *channel)
{
    if (!is_settled(receiver, kind))
        channel->id.type = types[kind][channel->id.type == types[kind][0]];
    channel->step = USB_STEP_ID;
}

/* What was found is what is wanted from now on. */
static void found(struct usb_receiver *receiver, enum sensor_kind kind, struct usb_sensor_id id)
{
    struct usb_channel *channel = &receiver->channels[kind];

    channel->wants_id = false;
    channel->id = receiver->setup.ids[kind] = id;
    channel->is_found = channel->found_is_due = true;
}

/* A refusal is of a receiver in a state that we do not know of: from the beginning, then. */
static void start_over(struct usb_receiver *receiver, enum usb_receiver_phase phase,
                       const char *reason)
{
    if (receiver->restarts++ == RESTARTS_MAX)
        fail(receiver, reason);
    receiver->is_asking = receiver->is_unsent = false;
    receiver->phase = phase;
}

static void channel_answered(struct usb_receiver *receiver, struct usb_channel *channel,
                             uint8_t code)
{
    if (code == USB_CODE_OK)
        channel->step++;
    else
        start_over(receiver, USB_PHASE_RESET,
                   "the receiver refuses to listen; unplug it and plug it in again");
}

/* ---- hearing ---- */

static void key_answered(struct usb_receiver *receiver, uint8_t code)
{
    if (code != USB_CODE_OK) {
        fail(receiver, "the receiver refuses the network key");
        return;
    }
    receiver->ready_is_due = true;
    receiver->phase = USB_PHASE_CHANNELS;
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++)
        begin_channel(receiver, kind, &receiver->channels[kind]);
}

/* Also when nobody asked it to: it has forgotten everything then. */
static void has_started(struct usb_receiver *receiver)
{
    if (receiver->phase != USB_PHASE_RESET)
        start_over(receiver, USB_PHASE_KEY, "the receiver starts anew again and again");
    receiver->is_asking = receiver->is_unsent = false;
    receiver->phase = USB_PHASE_KEY;
}

static bool is_wanted(const struct usb_receiver *receiver, uint8_t channel)
{
    return receiver->phase == USB_PHASE_CHANNELS && channel < SENSOR_KIND_COUNT &&
           receiver->setup.is_wanted[channel];
}

static void happened(struct usb_receiver *receiver, uint8_t number, uint8_t code)
{
    if (!is_wanted(receiver, number) || code != USB_CODE_CLOSED ||
        receiver->channels[number].step != USB_STEP_LISTEN)
        return;
    /* What it was being asked has no answer any more. */
    if (receiver->is_asking && receiver->asked.payload[0] == number)
        receiver->is_asking = receiver->is_unsent = false;
    receiver->channels[number].wants_id = false;
    search_next(receiver, (enum sensor_kind)number, &receiver->channels[number]);
}

static void on_response(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const uint8_t channel = frame->payload[0], about = frame->payload[1], code = frame->payload[2];

    if (frame->length < 3)
        return;
    if (about == USB_ABOUT_EVENT) {
        happened(receiver, channel, code);
        return;
    }
    if (!receiver->is_asking || about != receiver->asked.message || about == USB_REQUEST ||
        about == USB_RESET || channel != receiver->asked.payload[0])
        return; /* what was requested comes instead of a response, as does a start */
    receiver->is_asking = receiver->is_unsent = false;
    if (about == USB_SET_KEY)
        key_answered(receiver, code);
    else if (is_wanted(receiver, channel))
        channel_answered(receiver, &receiver->channels[channel], code);
}

static bool is_requested(const struct usb_receiver *receiver, const struct usb_frame *frame)
{
    return receiver->is_asking && receiver->asked.message == USB_REQUEST &&
           receiver->asked.payload[1] == frame->message &&
           receiver->asked.payload[0] == frame->payload[0];
}

/* 0 is the number of a channel that has heard nothing yet. */
static void on_id(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const enum sensor_kind kind = frame->payload[0];

    if (frame->length < 5 || !is_requested(receiver, frame))
        return;
    receiver->is_asking = receiver->is_unsent = false;
    receiver->channels[kind].wants_id = false;
    const uint16_t number = (uint16_t)(frame->payload[1] | frame->payload[2] << 8);
    if (number != 0)
        found(receiver, kind, (struct usb_sensor_id){number, receiver->channels[kind].id.type});
}

/* A channel that it closed, or forgot, without our hearing of it. */
static void on_status(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const enum sensor_kind kind = frame->payload[0];

    if (frame->length < 2 || !is_requested(receiver, frame))
        return;
    receiver->is_asking = receiver->is_unsent = false;
    const enum usb_channel_state state = frame->payload[1] & 3u;
    if (state == USB_ASSIGNED)
        search_next(receiver, kind, &receiver->channels[kind]);
    else if (state == USB_UNASSIGNED)
        receiver->channels[kind].step = USB_STEP_ASSIGN;
}

static void on_page(struct usb_receiver *receiver, uint64_t t_ms, const struct usb_frame *frame)
{
    const enum sensor_kind kind = frame->payload[0];
    const uint8_t *page = frame->payload + 1;

    if (frame->length < 1 + USB_PAGE_SIZE || !is_wanted(receiver, frame->payload[0]) ||
        receiver->channels[kind].step != USB_STEP_LISTEN)
        return;
    struct usb_channel *channel = &receiver->channels[kind];
    receiver->restarts = 0;
    if (!channel->is_found && channel->id.number == 0)
        channel->wants_id = true;
    else if (!channel->is_found)
        found(receiver, kind, channel->id);
    if (kind == SENSOR_STRAP)
        channel->heart_is_due |= usb_pulse_take(&channel->pulse, t_ms, page, &channel->heart_bpm);
    else
        channel->effort_is_due |=
            usb_effort_take(&channel->effort, channel->id.type, t_ms, page, &channel->last_effort);
}

static void on_frame(struct usb_receiver *receiver, uint64_t t_ms, const struct usb_frame *frame)
{
    if (frame->message != USB_STARTED && frame->payload[0] < SENSOR_KIND_COUNT)
        receiver->channels[frame->payload[0]].heard_t_ms = t_ms;
    switch ((enum usb_message)frame->message) {
    case USB_RESPONSE: on_response(receiver, frame); break;
    case USB_STARTED: has_started(receiver); break;
    case USB_CHANNEL_ID: on_id(receiver, frame); break;
    case USB_CHANNEL_STATUS: on_status(receiver, frame); break;
    case USB_BROADCAST:
    case USB_ACKNOWLEDGED: on_page(receiver, t_ms, frame); break;
    case USB_ASSIGN:
    case USB_SET_PERIOD:
    case USB_SET_SEARCH_TIME:
    case USB_SET_FREQUENCY:
    case USB_SET_KEY:
    case USB_RESET:
    case USB_OPEN:
    case USB_REQUEST: break;
    }
    go_on(receiver, t_ms);
}

/* ---- for the user ---- */

void usb_receiver_start(struct usb_receiver *receiver, const struct usb_receiver_setup *setup,
                        uint64_t t_ms)
{
    *receiver = (struct usb_receiver){.setup = *setup};
    go_on(receiver, t_ms);
}

void usb_receiver_receive(struct usb_receiver *receiver, uint64_t t_ms, const uint8_t *octets,
                          size_t length)
{
    struct usb_frame frame;

    for (size_t i = 0; i < length; i++) {
        usb_decoder_put(&receiver->decoder, octets[i]);
        while (usb_decoder_next(&receiver->decoder, &frame))
            if (receiver->failure == NULL)
                on_frame(receiver, t_ms, &frame);
    }
}

/* Which sensor was heard can be done without; all else must be answered. */
static void unanswered(struct usb_receiver *receiver)
{
    const struct usb_frame *asked = &receiver->asked;

    receiver->is_asking = receiver->is_unsent = false;
    if (asked->message == USB_RESET) {
        receiver->phase = USB_PHASE_KEY;
    } else if (asked->message == USB_REQUEST && asked->payload[1] == USB_CHANNEL_ID) {
        const enum sensor_kind kind = asked->payload[0];
        found(receiver, kind, (struct usb_sensor_id){0, receiver->channels[kind].id.type});
    } else {
        fail(receiver, "the receiver does not answer; unplug it and plug it in again");
    }
}

void usb_receiver_tick(struct usb_receiver *receiver, uint64_t t_ms)
{
    if (receiver->failure != NULL)
        return;
    if (receiver->is_asking && t_ms - receiver->asked_t_ms >= ANSWER_MS) {
        if (receiver->tries < TRIES_MAX)
            say(receiver, t_ms);
        else
            unanswered(receiver);
    }
    go_on(receiver, t_ms);
}

size_t usb_receiver_next_octets(struct usb_receiver *receiver, uint8_t *ret)
{
    if (!receiver->is_unsent)
        return 0;
    receiver->is_unsent = false;
    return usb_frame_encode(&receiver->asked, ret);
}

static bool take_due(bool *is_due)
{
    const bool was_due = *is_due;

    *is_due = false;
    return was_due;
}

static bool next_of_channel(struct usb_receiver *receiver, enum sensor_kind kind,
                            struct usb_receiver_event *ret)
{
    struct usb_channel *channel = &receiver->channels[kind];

    *ret = (struct usb_receiver_event){.sensor = kind};
    if (take_due(&channel->found_is_due)) {
        ret->kind = USB_RECEIVER_FOUND;
        ret->id = channel->id;
    } else if (take_due(&channel->heart_is_due)) {
        ret->kind = USB_RECEIVER_HEART;
        ret->heart_bpm = channel->heart_bpm;
    } else if (take_due(&channel->effort_is_due)) {
        ret->kind = USB_RECEIVER_EFFORT;
        ret->effort = channel->last_effort;
    } else {
        return false;
    }
    return true;
}

bool usb_receiver_next_event(struct usb_receiver *receiver, struct usb_receiver_event *ret)
{
    if (take_due(&receiver->ready_is_due)) {
        *ret = (struct usb_receiver_event){.kind = USB_RECEIVER_READY};
        return true;
    }
    for (enum sensor_kind kind = SENSOR_STRAP; kind < SENSOR_KIND_COUNT; kind++)
        if (next_of_channel(receiver, kind, ret))
            return true;
    if (receiver->failure == NULL || receiver->failure_is_told)
        return false;
    receiver->failure_is_told = true;
    *ret = (struct usb_receiver_event){.kind = USB_RECEIVER_FAILED, .reason = receiver->failure};
    return true;
}
