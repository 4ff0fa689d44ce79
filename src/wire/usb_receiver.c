#include "wire/usb_receiver.h"

#include "usb_configure.h"
#include "usb_passage.h"

/* It answers within milliseconds, and starts within half a second (common practice). Some of the
 * first do not say that they have started; what follows shows whether they have. */
#define ANSWER_MS    1000u
#define TRIES_MAX    3u
#define RESTARTS_MAX 5u

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

/* One message at a time: the next follows the answer to the last. */
static void go_on(struct usb_receiver *receiver, uint64_t t_ms)
{
    if (receiver->failure != NULL || receiver->is_asking)
        return;
    receiver->tries = 0;
    if (usb_configure_next(receiver, t_ms, &receiver->asked))
        say(receiver, t_ms);
}

/* ---- channels ---- */

/* What was found is what is wanted from now on. */
static void found(struct usb_receiver *receiver, unsigned channel, struct usb_sensor_id id)
{
    struct usb_channel *it = &receiver->channels[channel];

    it->wants_id = false;
    it->id = receiver->setup.ids[channel] = id;
    it->is_found = it->found_is_due = true;
}

static void lose_machine(struct usb_receiver *receiver)
{
    struct usb_channel *machine = &receiver->channels[USB_CHANNEL_MACHINE];

    receiver->passage.lost_is_due |= machine->is_tracked && machine->is_found;
    machine->is_tracked = false;
}

/* A refusal is of a receiver in a state that we do not know of: from the beginning, then. */
static void start_over(struct usb_receiver *receiver, enum usb_receiver_phase phase,
                       const char *reason)
{
    if (receiver->restarts++ == RESTARTS_MAX)
        fail(receiver, reason);
    lose_machine(receiver);
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
    for (unsigned channel = 0; channel < USB_CHANNEL_COUNT; channel++)
        usb_configure_begin(receiver, channel);
}

/* Also when nobody asked it to: it has forgotten everything then. */
static void has_started(struct usb_receiver *receiver)
{
    if (receiver->phase != USB_PHASE_RESET)
        start_over(receiver, USB_PHASE_KEY, "the receiver starts anew again and again");
    receiver->is_asking = receiver->is_unsent = false;
    receiver->phase = USB_PHASE_KEY;
}

static bool is_wanted(const struct usb_receiver *receiver, unsigned channel)
{
    return receiver->phase == USB_PHASE_CHANNELS && channel < USB_CHANNEL_COUNT &&
           receiver->setup.is_wanted[channel];
}

/* For whoever speaks with the machine. */
static void pass_on(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const struct usb_channel *machine = &receiver->channels[USB_CHANNEL_MACHINE];

    if (frame->payload[0] == USB_CHANNEL_MACHINE && machine->is_tracked && machine->is_found)
        usb_passage_put(&receiver->passage, frame);
}

static void has_closed(struct usb_receiver *receiver, unsigned channel)
{
    if (receiver->channels[channel].step != USB_STEP_LISTEN)
        return;
    /* What it was being asked has no answer any more. */
    if (receiver->is_asking && receiver->asked.payload[0] == channel)
        receiver->is_asking = receiver->is_unsent = false;
    receiver->channels[channel].wants_id = false;
    usb_configure_search_next(receiver, channel);
}

static void happened(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const uint8_t channel = frame->payload[0], code = frame->payload[2];

    if (!is_wanted(receiver, channel))
        return;
    if (code == USB_CODE_TRANSFERRED || code == USB_CODE_NOT_TRANSFERRED)
        pass_on(receiver, frame);
    if (channel == USB_CHANNEL_MACHINE &&
        (code == USB_CODE_SEARCHES_AGAIN || code == USB_CODE_CLOSED))
        lose_machine(receiver);
    if (code == USB_CODE_CLOSED)
        has_closed(receiver, channel);
}

static void on_response(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const uint8_t channel = frame->payload[0], about = frame->payload[1], code = frame->payload[2];

    if (frame->length < 3)
        return;
    if (about == USB_ABOUT_EVENT) {
        happened(receiver, frame);
        return;
    }
    if (about == USB_ACKNOWLEDGED)
        pass_on(receiver, frame);
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
    const unsigned channel = frame->payload[0];

    if (frame->length < 5 || !is_requested(receiver, frame))
        return;
    receiver->is_asking = receiver->is_unsent = false;
    receiver->channels[channel].wants_id = false;
    const uint16_t number = (uint16_t)(frame->payload[1] | frame->payload[2] << 8);
    if (number != 0)
        found(receiver, channel,
              (struct usb_sensor_id){number, receiver->channels[channel].id.type});
}

/* A channel that it closed, or forgot, without our hearing of it. */
static void on_status(struct usb_receiver *receiver, const struct usb_frame *frame)
{
    const unsigned channel = frame->payload[0];

    if (frame->length < 2 || !is_requested(receiver, frame))
        return;
    receiver->is_asking = receiver->is_unsent = false;
    const enum usb_channel_state state = frame->payload[1] & 3u;
    if (channel == USB_CHANNEL_MACHINE && state != USB_TRACKING)
        lose_machine(receiver);
    if (state == USB_ASSIGNED)
        usb_configure_search_next(receiver, channel);
    else if (state == USB_UNASSIGNED)
        receiver->channels[channel].step = USB_STEP_ASSIGN;
}

static void on_page(struct usb_receiver *receiver, uint64_t t_ms, const struct usb_frame *frame)
{
    const unsigned channel = frame->payload[0];
    const uint8_t *page = frame->payload + 1;

    if (frame->length < 1 + USB_PAGE_SIZE || !is_wanted(receiver, channel) ||
        receiver->channels[channel].step != USB_STEP_LISTEN)
        return;
    struct usb_channel *it = &receiver->channels[channel];
    receiver->restarts = 0;
    it->is_tracked = true;
    if (!it->is_found && it->id.number == 0)
        it->wants_id = true;
    else if (!it->is_found)
        found(receiver, channel, it->id);
    if (channel == USB_CHANNEL_MACHINE)
        pass_on(receiver, frame);
    else if (channel == SENSOR_STRAP)
        it->heart_is_due |= usb_pulse_take(&it->pulse, t_ms, page, &it->heart_bpm);
    else
        it->effort_is_due |=
            usb_effort_take(&it->effort, it->id.type, t_ms, page, &it->last_effort);
}

static void on_frame(struct usb_receiver *receiver, uint64_t t_ms, const struct usb_frame *frame)
{
    if (frame->message != USB_STARTED && frame->payload[0] < USB_CHANNEL_COUNT)
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
    case USB_CLOSE:
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
    struct usb_frame frame = {0};

    for (size_t i = 0; i < length; i++) {
        usb_decoder_put(&receiver->decoder, octets[i]);
        while (usb_decoder_next(&receiver->decoder, &frame))
            if (receiver->failure == NULL)
                on_frame(receiver, t_ms, &frame);
    }
}

/* Which sensor was heard can be done without, but a load is for no trainer but one; all else must
 * be answered. */
static void unanswered(struct usb_receiver *receiver)
{
    const struct usb_frame *asked = &receiver->asked;

    receiver->is_asking = receiver->is_unsent = false;
    if (asked->message == USB_RESET) {
        receiver->phase = USB_PHASE_KEY;
    } else if (asked->message == USB_REQUEST && asked->payload[1] == USB_CHANNEL_ID &&
               asked->payload[0] != USB_CHANNEL_MACHINE) {
        const unsigned channel = asked->payload[0];
        found(receiver, channel, (struct usb_sensor_id){0, receiver->channels[channel].id.type});
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

static bool next_of_channel(struct usb_receiver *receiver, unsigned channel,
                            struct usb_receiver_event *ret)
{
    struct usb_channel *it = &receiver->channels[channel];

    *ret = (struct usb_receiver_event){.channel = channel};
    if (take_due(&it->found_is_due)) {
        ret->kind = USB_RECEIVER_FOUND;
        ret->id = it->id;
    } else if (take_due(&it->heart_is_due)) {
        ret->kind = USB_RECEIVER_HEART;
        ret->heart_bpm = it->heart_bpm;
    } else if (take_due(&it->effort_is_due)) {
        ret->kind = USB_RECEIVER_EFFORT;
        ret->effort = it->last_effort;
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
    for (unsigned channel = 0; channel < USB_CHANNEL_COUNT; channel++)
        if (next_of_channel(receiver, channel, ret))
            return true;
    if (usb_passage_take(&receiver->passage, ret))
        return true;
    if (receiver->failure == NULL || receiver->failure_is_told)
        return false;
    receiver->failure_is_told = true;
    *ret = (struct usb_receiver_event){.kind = USB_RECEIVER_FAILED, .reason = receiver->failure};
    return true;
}
