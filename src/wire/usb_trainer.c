#include "wire/usb_trainer.h"

#include <string.h>

/* A page goes out in the trainer's next turn, within 250 ms, and how it went is told then. */
#define FLIGHT_MS 1000u
/* Before a receiver that refused it, as it has another one in the air, is told again. */
#define REFUSED_MS 250u
/* How a page went is told no later: a receiver that says nothing for so long is given up. */
#define END_MS 4000u
/* A page that was asked for is sent in a turn or two, and may get lost. */
#define REPLY_MS 600u
/* So many requests were acknowledged, and nothing came of them: it has no such page. The first must
 * leave time to a load, which the ride waits 3 s for. */
#define STATUS_REQUESTS_MAX 2u
#define ABLE_REQUESTS_MAX   8u
/* Nobody rides further: whatever is heard in whatever haste, the count does not overflow. */
#define DISTANCE_MAX_M 10000000

/* ---- events ---- */

static void add(struct usb_trainer *trainer, const struct usb_trainer_event *event)
{
    if (trainer->event_count == USB_TRAINER_EVENTS_MAX) {
        trainer->lost_events++;
        return;
    }
    trainer->events[(trainer->first_event + trainer->event_count) % USB_TRAINER_EVENTS_MAX] =
        *event;
    trainer->event_count++;
}

static void fail(struct usb_trainer *trainer, const char *reason)
{
    const struct usb_trainer_event event = {.kind = USB_TRAINER_FAILED, .reason = reason};

    trainer->is_failed = true;
    trainer->is_unsent = false;
    add(trainer, &event);
}

static void answer(struct usb_trainer *trainer, bool is_taken)
{
    const struct usb_trainer_event event = {
        .kind = USB_TRAINER_ANSWER, .command = trainer->sent, .is_taken = is_taken};

    trainer->waits_for_status = false;
    add(trainer, &event);
}

/* Once it is known to be a bike, and what it is able to do. */
static void get_ready(struct usb_trainer *trainer)
{
    const struct usb_trainer_event event = {.kind = USB_TRAINER_READY, .able = trainer->able};

    if (trainer->is_ready || !trainer->is_bike || !trainer->is_able_known)
        return;
    trainer->is_ready = true;
    add(trainer, &event);
}

/* ---- saying ---- */

static uint8_t one_more(uint8_t count)
{
    return count < UINT8_MAX ? (uint8_t)(count + 1) : count;
}

static bool is_said_again(const struct usb_trainer *trainer, enum usb_flight flight,
                          const struct usb_command *command)
{
    return flight == trainer->last_flight && command->page == trainer->last_flown.page &&
           command->value == trainer->last_flown.value;
}

/* Of the pages that were said the ends come in their order. */
static void expect_end(struct usb_trainer *trainer, uint64_t t_ms, enum usb_flight flight)
{
    const struct usb_command none = {0}, command = flight == USB_FLIES_LOAD ? trainer->sent : none;

    if (t_ms - trainer->flown_t_ms >= END_MS)
        trainer->ends_before = trainer->ends_of_it = 0;
    if (!is_said_again(trainer, flight, &command)) {
        const unsigned before = (unsigned)trainer->ends_before + trainer->ends_of_it;
        trainer->ends_before = before < UINT8_MAX ? (uint8_t)before : UINT8_MAX;
        trainer->ends_of_it = 0;
    }
    trainer->ends_of_it = one_more(trainer->ends_of_it);
    trainer->last_flight = flight;
    trainer->last_flown = command;
    trainer->flown_t_ms = t_ms;
}

static void fly(struct usb_trainer *trainer, uint64_t t_ms, enum usb_flight flight)
{
    expect_end(trainer, t_ms, flight);
    trainer->flight = flight;
    trainer->flight_until_ms = t_ms + FLIGHT_MS;
    trainer->is_unsent = true;
}

static bool is_reply_overdue(const struct usb_trainer *trainer, uint64_t t_ms)
{
    return trainer->requests == 0 || t_ms - trainer->request_t_ms >= REPLY_MS;
}

static void go_on_with_load(struct usb_trainer *trainer, uint64_t t_ms)
{
    if (!is_reply_overdue(trainer, t_ms))
        return;
    if (trainer->requests >= STATUS_REQUESTS_MAX && !trainer->tells_status) {
        trainer->tells_no_status = true;
        answer(trainer, true);
    } else {
        fly(trainer, t_ms, USB_FLIES_STATUS_REQUEST);
    }
}

/* One that tells nothing of what it takes is given no loads, and measures all the same. */
static void go_on_to_ready(struct usb_trainer *trainer, uint64_t t_ms)
{
    if (trainer->is_able_known || !is_reply_overdue(trainer, t_ms))
        return;
    if (trainer->requests >= ABLE_REQUESTS_MAX) {
        trainer->is_able_known = true;
        get_ready(trainer);
    } else {
        fly(trainer, t_ms, USB_FLIES_REQUEST);
    }
}

static void go_on(struct usb_trainer *trainer, uint64_t t_ms)
{
    if (trainer->is_failed || trainer->flight != USB_FLIES_NOTHING)
        return;
    if (trainer->next.page != 0) {
        trainer->sent = trainer->next;
        trainer->next = (struct usb_command){0};
        trainer->waits_for_status = false;
        fly(trainer, t_ms, USB_FLIES_LOAD);
    } else if (trainer->waits_for_status) {
        go_on_with_load(trainer, t_ms);
    } else if (trainer->asks_all_the_same) {
        trainer->asks_all_the_same = false;
        fly(trainer, t_ms, USB_FLIES_STATUS_REQUEST);
    } else {
        go_on_to_ready(trainer, t_ms);
    }
}

/* ---- hearing ---- */

/* A release is never taken at the first word: it waits for a status, as long as one may come. */
static void load_landed(struct usb_trainer *trainer, bool is_acknowledged)
{
    const bool by_its_word = trainer->tells_no_status && trainer->sent.value != 0;

    if (!is_acknowledged) {
        if (trainer->next.page == 0)
            trainer->next = trainer->sent;
        return;
    }
    trainer->waits_for_status = true;
    trainer->requests = 0;
    trainer->asks_all_the_same = by_its_word;
    if (by_its_word)
        answer(trainer, true);
}

static void landed(struct usb_trainer *trainer, uint64_t t_ms, bool is_acknowledged)
{
    const enum usb_flight flight = trainer->flight;

    trainer->flight = USB_FLIES_NOTHING;
    trainer->is_unsent = false;
    if (flight == USB_FLIES_LOAD)
        load_landed(trainer, is_acknowledged);
    else if (flight != USB_FLIES_NOTHING && is_acknowledged) {
        trainer->requests++;
        trainer->request_t_ms = t_ms;
    }
}

/* A receiver that was silent about a page, or refuses one as another is in the air, may yet tell
 * how those went. Taken for the newer page, a load that was heard would pass for a release. */
static void on_end(struct usb_trainer *trainer, uint64_t t_ms, bool is_heard)
{
    const bool is_of_it = trainer->ends_before == 0;

    if (!is_of_it)
        trainer->ends_before--;
    else if (trainer->ends_of_it > trainer->is_unsent)
        trainer->ends_of_it--;
    if (trainer->flight != USB_FLIES_NOTHING && !trainer->is_unsent)
        landed(trainer, t_ms, is_heard && is_of_it);
}

/* Of this page there will be no end. Of the one in the air there will, be it unknown to us. */
static void on_refusal(struct usb_trainer *trainer, uint64_t t_ms)
{
    if (trainer->ends_of_it > 0)
        trainer->ends_of_it--;
    if (trainer->ends_before == 0 && trainer->ends_of_it == 0)
        trainer->ends_before = 1;
    trainer->flight_until_ms = t_ms + REFUSED_MS;
}

static void on_response(struct usb_trainer *trainer, uint64_t t_ms, uint8_t about, uint8_t code)
{
    if (about == USB_ABOUT_EVENT &&
        (code == USB_CODE_TRANSFERRED || code == USB_CODE_NOT_TRANSFERRED))
        on_end(trainer, t_ms, code == USB_CODE_TRANSFERRED);
    else if (about == USB_ACKNOWLEDGED && code != USB_CODE_OK &&
             trainer->flight != USB_FLIES_NOTHING && !trainer->is_unsent)
        on_refusal(trainer, t_ms);
}

/* An older status of an equal load is no answer to the newer one: where it is seen to count its
 * commands, the number must have moved. */
static void on_status(struct usb_trainer *trainer, const struct usb_command_status *status)
{
    trainer->tells_status = true;
    trainer->tells_no_status = false;
    if (trainer->has_answered && status->sequence != trainer->sequence)
        trainer->is_counting = true;
    if (!trainer->waits_for_status || status->result == USB_COMMAND_PENDING ||
        status->result == USB_COMMAND_NONE || status->command.page != trainer->sent.page ||
        status->command.value != trainer->sent.value ||
        (trainer->is_counting && status->sequence == trainer->sequence))
        return;
    trainer->has_answered = true;
    trainer->sequence = status->sequence;
    answer(trainer, status->result == USB_COMMAND_PASSED);
}

static void on_able(struct usb_trainer *trainer, const struct usb_capabilities *able)
{
    if (trainer->is_able_known)
        return;
    trainer->able = *able;
    trainer->is_able_known = true;
}

static void on_general(struct usb_trainer *trainer, const struct usb_general *general)
{
    struct usb_trainer_event event = {.kind = USB_TRAINER_DATA};

    /* Once it was told a load it must stay within reach, whatever it calls itself. */
    if (!general->is_bike) {
        if (trainer->sent.page == 0)
            fail(trainer,
                 "what the receiver hears is no bike and no trainer; name the number of yours");
        return;
    }
    trainer->is_bike = true;
    if (general->has_distance) {
        if (trainer->has_distance && trainer->distance_m < DISTANCE_MAX_M)
            trainer->distance_m += (uint8_t)(general->distance_m - trainer->distance_at);
        trainer->has_distance = true;
        trainer->distance_at = general->distance_m;
    }
    event.data.has_distance = general->has_distance;
    event.data.distance_m = trainer->distance_m;
    event.data.has_heart = general->has_heart;
    event.data.heart_bpm = general->heart_bpm;
    if (event.data.has_distance || event.data.has_heart)
        add(trainer, &event);
}

static void on_power(struct usb_trainer *trainer, const struct usb_power *power)
{
    const struct usb_trainer_event event = {.kind = USB_TRAINER_DATA,
                                            .data = {.has_power = power->has_power,
                                                     .power_w = power->power_w,
                                                     .has_cadence = power->has_cadence,
                                                     .cadence_rpm = power->cadence_rpm}};

    trainer->is_bike = true;
    if (power->has_power || power->has_cadence)
        add(trainer, &event);
}

static void on_page(struct usb_trainer *trainer, const uint8_t page[USB_PAGE_SIZE])
{
    struct usb_command_status status;
    struct usb_capabilities able;
    struct usb_general general;
    struct usb_power power;

    if (usb_power_decode(USB_TYPE_EQUIPMENT, page, &power) == RESULT_OK)
        on_power(trainer, &power);
    else if (usb_general_decode(page, &general) == RESULT_OK)
        on_general(trainer, &general);
    else if (usb_command_status_decode(page, &status) == RESULT_OK)
        on_status(trainer, &status);
    else if (usb_capabilities_decode(page, &able) == RESULT_OK)
        on_able(trainer, &able);
    get_ready(trainer);
}

/* ---- for the user ---- */

void usb_trainer_start(struct usb_trainer *trainer, uint8_t channel, uint64_t t_ms)
{
    *trainer = (struct usb_trainer){.channel = channel};
    go_on(trainer, t_ms);
}

static void on_frame(struct usb_trainer *trainer, uint64_t t_ms, const struct usb_frame *frame)
{
    if (trainer->is_failed || frame->payload[0] != trainer->channel)
        return;
    if (frame->message == USB_RESPONSE && frame->length >= 3)
        on_response(trainer, t_ms, frame->payload[1], frame->payload[2]);
    else if ((frame->message == USB_BROADCAST || frame->message == USB_ACKNOWLEDGED) &&
             frame->length >= 1 + USB_PAGE_SIZE)
        on_page(trainer, frame->payload + 1);
    go_on(trainer, t_ms);
}

void usb_trainer_receive(struct usb_trainer *trainer, uint64_t t_ms, const uint8_t *octets,
                         size_t length)
{
    struct usb_decoder decoder = {0};
    struct usb_frame frame = {0};

    for (size_t i = 0; i < length; i++) {
        usb_decoder_put(&decoder, octets[i]);
        while (usb_decoder_next(&decoder, &frame))
            on_frame(trainer, t_ms, &frame);
    }
}

void usb_trainer_tick(struct usb_trainer *trainer, uint64_t t_ms)
{
    if (trainer->flight != USB_FLIES_NOTHING && t_ms >= trainer->flight_until_ms)
        landed(trainer, t_ms, false);
    go_on(trainer, t_ms);
}

void usb_trainer_command(struct usb_trainer *trainer, uint64_t t_ms,
                         const struct usb_command *command)
{
    trainer->next = *command;
    go_on(trainer, t_ms);
}

static size_t encode(const struct usb_trainer *trainer, const uint8_t page[USB_PAGE_SIZE],
                     uint8_t *ret)
{
    struct usb_frame frame = {.message = USB_ACKNOWLEDGED, .length = 1 + USB_PAGE_SIZE};

    frame.payload[0] = trainer->channel;
    memcpy(frame.payload + 1, page, USB_PAGE_SIZE);
    return usb_frame_encode(&frame, ret);
}

size_t usb_trainer_encode(const struct usb_trainer *trainer, const struct usb_command *command,
                          uint8_t *ret)
{
    uint8_t page[USB_PAGE_SIZE];

    usb_command_encode(command, page);
    return encode(trainer, page, ret);
}

size_t usb_trainer_next_octets(struct usb_trainer *trainer, uint8_t *ret)
{
    uint8_t page[USB_PAGE_SIZE];

    if (!trainer->is_unsent)
        return 0;
    trainer->is_unsent = false;
    if (trainer->flight == USB_FLIES_LOAD)
        return usb_trainer_encode(trainer, &trainer->sent, ret);
    usb_request_encode(trainer->flight == USB_FLIES_STATUS_REQUEST ? USB_PAGE_COMMAND_STATUS
                                                                   : USB_PAGE_CAPABILITIES,
                       page);
    return encode(trainer, page, ret);
}

bool usb_trainer_next_event(struct usb_trainer *trainer, struct usb_trainer_event *ret)
{
    if (trainer->event_count == 0)
        return false;
    *ret = trainer->events[trainer->first_event];
    trainer->first_event = (trainer->first_event + 1) % USB_TRAINER_EVENTS_MAX;
    trainer->event_count--;
    return true;
}
