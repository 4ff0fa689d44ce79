/*
 * A receiver as it should be, on a line that loses and spoils octets: whatever happened, once the
 * line is good again readings come within half a minute, or the client has said that the receiver
 * is of no use, after which it is called anew.
 *
 * The model: ANT Message Protocol and Usage, D00000652 Rev 5.1, section 9; what it does with a
 * message in the wrong state from there, 9.5.6.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "wire/usb_receiver.h"

#define STEP_MS     50u
#define SPOILT_MS   30000u
#define RECOVERY_MS 30000u

struct model_channel {
    bool is_assigned, is_open, is_tracking;
    uint16_t number;
    uint8_t type;
    uint64_t until_ms, page_ms;
};

/* The strap is number 4711, the trainer, which is the second type that is searched for, 815. */
static struct model {
    struct usb_receiver client;
    struct usb_decoder hears;
    struct model_channel channels[SENSOR_KIND_COUNT];
    uint64_t t_ms;
    uint8_t beats;
    unsigned spoils; /* one octet of so many, either way; 0: none */
    uint32_t noise;
    unsigned hearts, efforts, failures;
} model;

static uint32_t chance(void)
{
    model.noise = model.noise * 1664525u + 1013904223u;
    return model.noise >> 8;
}

/* Gone, or another one, or itself. */
static size_t through_the_line(uint8_t *octets, size_t length)
{
    size_t left = 0;

    for (size_t i = 0; i < length; i++) {
        const bool is_spoilt = model.spoils != 0 && chance() % model.spoils == 0;
        if (is_spoilt && chance() % 2 == 0)
            continue;
        octets[left++] = is_spoilt ? (uint8_t)chance() : octets[i];
    }
    return left;
}

static void drain(void)
{
    struct usb_receiver_event event;

    while (usb_receiver_next_event(&model.client, &event)) {
        model.hearts += event.kind == USB_RECEIVER_HEART ? 1 : 0;
        model.efforts += event.kind == USB_RECEIVER_EFFORT ? 1 : 0;
        model.failures += event.kind == USB_RECEIVER_FAILED ? 1 : 0;
    }
}

static void says(const uint8_t *message, size_t length)
{
    struct usb_frame frame = {.message = message[0], .length = (uint8_t)(length - 1)};
    uint8_t octets[USB_FRAME_MAX];

    memcpy(frame.payload, message + 1, length - 1);
    const size_t whole = through_the_line(octets, usb_frame_encode(&frame, octets));
    usb_receiver_receive(&model.client, model.t_ms, octets, whole);
    drain();
}

#define SAYS(...) says((const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

static uint8_t obey(struct model_channel *channel, const struct usb_frame *asked)
{
    const bool is_assigning = asked->message == USB_ASSIGN;

    if (channel->is_open || channel->is_assigned == is_assigning)
        return USB_CODE_WRONG_STATE;
    channel->is_assigned = true;
    if (asked->message == USB_CHANNEL_ID) {
        channel->number = (uint16_t)(asked->payload[1] | asked->payload[2] << 8);
        channel->type = asked->payload[3];
    } else if (asked->message == USB_OPEN) {
        channel->is_open = true;
        channel->is_tracking = false;
        channel->until_ms = model.t_ms + 5000;
    }
    return USB_CODE_OK;
}

static void on_request(const struct usb_frame *asked)
{
    const uint8_t number = asked->payload[0];
    const struct model_channel *channel = &model.channels[number % SENSOR_KIND_COUNT];
    const uint16_t heard = channel->is_tracking ? channel->number : 0;

    if (asked->payload[1] == USB_CHANNEL_ID)
        SAYS(USB_CHANNEL_ID, number, (uint8_t)heard, (uint8_t)(heard >> 8), channel->type, 1);
    else
        SAYS(USB_CHANNEL_STATUS, number,
             channel->is_tracking   ? USB_TRACKING
             : channel->is_open     ? USB_SEARCHING
             : channel->is_assigned ? USB_ASSIGNED
                                    : USB_UNASSIGNED);
}

static void on_message(const struct usb_frame *asked)
{
    const uint8_t number = asked->payload[0];

    if (asked->message == USB_RESET) {
        memset(model.channels, 0, sizeof model.channels);
        SAYS(USB_STARTED, 0x20);
    } else if (asked->message == USB_REQUEST) {
        on_request(asked);
    } else if (asked->message == USB_SET_KEY) {
        SAYS(USB_RESPONSE, 0, USB_SET_KEY, USB_CODE_OK);
    } else if (number < SENSOR_KIND_COUNT) {
        SAYS(USB_RESPONSE, number, asked->message, obey(&model.channels[number], asked));
    }
}

static void listen(void)
{
    uint8_t octets[USB_FRAME_MAX];
    struct usb_frame asked;
    size_t length;

    while ((length = usb_receiver_next_octets(&model.client, octets)) > 0) {
        length = through_the_line(octets, length);
        for (size_t i = 0; i < length; i++) {
            usb_decoder_put(&model.hears, octets[i]);
            while (usb_decoder_next(&model.hears, &asked))
                on_message(&asked);
        }
    }
}

static bool is_there(const struct model_channel *channel, uint16_t number, uint8_t type)
{
    return channel->type == type && (channel->number == 0 || channel->number == number);
}

static void send_page(uint8_t number)
{
    const uint8_t beats = ++model.beats;

    if (number == SENSOR_STRAP)
        SAYS(USB_BROADCAST, 0, 0, 255, 255, 255, 0, 0, beats, 120);
    else
        SAYS(USB_BROADCAST, number, 0x19, beats, 85, 0, beats, 200, 0x60, 0x30);
}

static void radio(uint8_t number)
{
    struct model_channel *channel = &model.channels[number];

    if (!channel->is_open || model.t_ms < channel->page_ms)
        return;
    channel->page_ms = model.t_ms + 250;
    if (channel->is_tracking) {
        send_page(number);
    } else if (is_there(channel, 4711, USB_TYPE_HEART) ||
               is_there(channel, 815, USB_TYPE_EQUIPMENT)) {
        channel->is_tracking = true;
        channel->number = number == SENSOR_STRAP ? 4711 : 815;
    } else if (model.t_ms >= channel->until_ms) {
        channel->is_open = false;
        SAYS(USB_RESPONSE, number, USB_ABOUT_EVENT, USB_CODE_SEARCH_TIMED_OUT);
        SAYS(USB_RESPONSE, number, USB_ABOUT_EVENT, USB_CODE_CLOSED);
    }
}

static void run_for(uint64_t ms)
{
    for (const uint64_t end_ms = model.t_ms + ms; model.t_ms < end_ms; model.t_ms += STEP_MS) {
        usb_receiver_tick(&model.client, model.t_ms);
        drain();
        listen();
        radio(SENSOR_STRAP);
        radio(SENSOR_POWER);
        listen();
    }
}

static void start(uint32_t seed, unsigned spoils)
{
    static const struct usb_receiver_setup setup = {
        .is_wanted = {[SENSOR_STRAP] = true, [SENSOR_POWER] = true}};

    model = (struct model){.noise = seed, .spoils = spoils, .t_ms = 1000};
    usb_receiver_start(&model.client, &setup, model.t_ms);
}

static void hears_both_on_a_good_line(void **state)
{
    (void)state;
    start(1, 0);
    run_for(10000);
    assert_int_equal(model.failures, 0);
    assert_true(model.hearts >= 8);
    assert_true(model.efforts >= 3);
}

static void comes_back_from_any_noise(void **state)
{
    unsigned failed = 0;

    (void)state;
    for (uint32_t seed = 0; seed < 600; seed++) {
        start(seed, 3 + seed % 200);
        run_for(SPOILT_MS);
        if (model.failures > 0) {
            failed++;
            continue;
        }
        model.spoils = 0;
        run_for(RECOVERY_MS);
        if (model.failures > 0) {
            failed++;
            continue;
        }
        model.hearts = model.efforts = 0;
        run_for(3000);
        if (model.hearts < 2 || model.efforts < 2)
            fail_msg("seed %u: %u hearts, %u efforts", seed, model.hearts, model.efforts);
    }
    print_message("%u of 600 were given up\n", failed);
    assert_true(failed < 300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hears_both_on_a_good_line),
        cmocka_unit_test(comes_back_from_any_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
