/*
 * A trainer in air that loses pages and acknowledgements, told chance loads: whenever a load is
 * said to be taken, it is the one on the brake; and once the air is good the newest is soon there.
 *
 * The model: a page is in the air until the trainer's next turn, 250 ms later. Heard or not, its
 * acknowledgement may be lost as well, and then the receiver says that it was not (ANT Message
 * Protocol and Usage, D00000652 Rev 5.1, section 9.5.6).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "wire/usb_trainer.h"

#define CHANNEL  3u
#define TURN_MS  250u
#define BAD_MS   60000u
#define GOOD_MS  6000u
#define RUNS     500u
#define REFUSALS 16u /* one load of so many */

static struct model {
    struct usb_trainer client;
    bool has_page;
    uint8_t page[USB_PAGE_SIZE];
    struct usb_command on_brake; /* or refused last */
    uint8_t sequence, result;
    bool has_reply;
    uint8_t reply[1 + USB_PAGE_SIZE]; /* with its channel */
    bool tells_status, counts, has_status;
    struct usb_command newest; /* that was told */
    bool is_answered;
    uint64_t t_ms;
    unsigned loses; /* one of so many; 0: none */
    uint32_t noise;
    unsigned taken, refused;
} model;

static uint32_t chance(uint32_t of)
{
    model.noise = model.noise * 1664525u + 1013904223u;
    return (model.noise >> 8) % of;
}

static bool is_lost(void)
{
    return model.loses != 0 && chance(model.loses) == 0;
}

static bool is_same(const struct usb_command *a, const struct usb_command *b)
{
    return a->page == b->page && a->value == b->value;
}

static void on_answer(const struct usb_trainer_event *event)
{
    assert_true(is_same(&event->command, &model.on_brake));
    model.is_answered = model.is_answered || is_same(&event->command, &model.newest);
    model.taken += event->is_taken;
    model.refused += !event->is_taken;
}

static void drain(void)
{
    struct usb_trainer_event event;
    struct usb_decoder decoder = {0};
    struct usb_frame frame;
    uint8_t octets[USB_FRAME_MAX];
    size_t length;

    while (usb_trainer_next_event(&model.client, &event))
        if (event.kind == USB_TRAINER_ANSWER)
            on_answer(&event);
    while ((length = usb_trainer_next_octets(&model.client, octets)) > 0) {
        for (size_t i = 0; i < length; i++)
            usb_decoder_put(&decoder, octets[i]);
        assert_true(usb_decoder_next(&decoder, &frame));
        assert_false(model.has_page); /* there is room for one */
        model.has_page = true;
        memcpy(model.page, frame.payload + 1, USB_PAGE_SIZE);
    }
}

static void says(uint8_t message, const uint8_t *payload, uint8_t length)
{
    struct usb_frame frame = {.message = message, .length = length};
    uint8_t octets[USB_FRAME_MAX];

    memcpy(frame.payload, payload, length);
    const size_t whole = usb_frame_encode(&frame, octets);
    usb_trainer_receive(&model.client, model.t_ms, octets, whole);
    drain();
}

static void prepare_reply(uint8_t wanted)
{
    static const uint8_t able[] = {CHANNEL, 0x36, 255, 255, 255, 255, 0xF4, 1, 3};
    const struct usb_command *load = &model.on_brake;
    const bool is_power = load->page == USB_PAGE_TARGET_POWER;
    const uint8_t low = (uint8_t)load->value, high = (uint8_t)(load->value >> 8);
    const uint8_t status[] = {
        CHANNEL, 0x47, load->page,           model.sequence,       model.result,
        255,     255,  is_power ? low : 255, is_power ? high : low};

    if (wanted == USB_PAGE_COMMAND_STATUS && (!model.tells_status || !model.has_status))
        return;
    model.has_reply = true;
    memcpy(model.reply, wanted == USB_PAGE_COMMAND_STATUS ? status : able, sizeof status);
}

static void hear(const uint8_t page[USB_PAGE_SIZE])
{
    if (page[0] == USB_PAGE_REQUEST) {
        prepare_reply(page[6]);
        return;
    }
    model.on_brake.page = page[0];
    model.on_brake.value =
        (uint16_t)(page[0] == USB_PAGE_RESISTANCE ? page[7] : page[6] | page[7] << 8);
    model.has_status = true;
    model.sequence = (uint8_t)(model.sequence + model.counts);
    model.result = chance(REFUSALS) == 0 ? USB_COMMAND_REJECTED : USB_COMMAND_PASSED;
}

/* A page that was asked for is made at once, and may be sent turns later. */
static void send_page(void)
{
    const uint8_t power[] = {CHANNEL, 0x19, 1, 85, 0, 0, 200, 0, 0x30};
    const bool is_reply = model.has_reply && chance(2) == 0;

    if (is_reply)
        model.has_reply = false;
    if (!is_lost())
        says(USB_BROADCAST, is_reply ? model.reply : power, sizeof power);
}

static void turn(void)
{
    const bool was_sent = model.has_page;
    bool is_acknowledged = false;

    send_page();
    if (!was_sent)
        return;
    model.has_page = false;
    if (!is_lost()) {
        hear(model.page);
        is_acknowledged = !is_lost();
    }
    const uint8_t event[] = {CHANNEL, USB_ABOUT_EVENT,
                             is_acknowledged ? USB_CODE_TRANSFERRED : USB_CODE_NOT_TRANSFERRED};
    says(USB_RESPONSE, event, sizeof event);
}

static void tell_something(void)
{
    const bool is_release = chance(3) == 0;

    model.newest =
        is_release ? (struct usb_command){USB_PAGE_RESISTANCE, 0}
                   : (struct usb_command){USB_PAGE_TARGET_POWER, (uint16_t)(400 + 100 * chance(4))};
    model.is_answered = false;
    usb_trainer_command(&model.client, model.t_ms, &model.newest);
    drain();
}

static void pass(uint64_t ms, bool with_loads)
{
    for (const uint64_t end = model.t_ms + ms; model.t_ms < end; model.t_ms += TURN_MS) {
        if (with_loads && chance(6) == 0)
            tell_something();
        turn();
        usb_trainer_tick(&model.client, model.t_ms);
        drain();
    }
}

static void meet(uint32_t seed, bool tells_status, bool counts)
{
    model = (struct model){.t_ms = 1000, .noise = seed, .loses = 2 + seed % 9};
    model.tells_status = tells_status;
    model.counts = counts;
    usb_trainer_start(&model.client, CHANNEL, model.t_ms);
    drain();
}

static void run_all(bool tells_status, bool counts)
{
    unsigned taken = 0, refused = 0;

    for (uint32_t seed = 1; seed <= RUNS; seed++) {
        meet(seed, tells_status, counts);
        pass(BAD_MS, true);
        model.loses = 0;
        tell_something();
        pass(GOOD_MS, false);
        assert_true(model.is_answered);
        taken += model.taken;
        refused += model.refused;
    }
    assert_true(taken > 10 * RUNS);
    assert_int_equal(refused > 0, tells_status);
}

static void one_that_counts_its_commands(void **state)
{
    (void)state;
    run_all(true, true);
}

static void one_that_tells_no_status(void **state)
{
    (void)state;
    run_all(false, false);
}

/* It counts in one octet, and a machine that is none may say anything in any haste: what is added
 * up stays a number of metres, and short of what an int holds. */
static void distance_does_not_overflow(void **state)
{
    uint8_t payload[1 + USB_PAGE_SIZE] = {CHANNEL, 0x10, 0x19, 0, 0, 0, 0, 0, 0x04};
    const struct usb_trainer *client = &model.client;

    (void)state;
    model = (struct model){0};
    usb_trainer_start(&model.client, CHANNEL, 0);
    for (unsigned i = 0; i < 50000; i++) {
        const int32_t before_m = client->distance_m;
        payload[4] = (uint8_t)(UINT8_MAX * i); /* as far as a page can tell */
        says(USB_BROADCAST, payload, sizeof payload);
        assert_true(client->distance_m >= before_m);
    }
    assert_in_range(client->distance_m, 10000000, 10000000 + UINT8_MAX);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_that_counts_its_commands),
        cmocka_unit_test(one_that_tells_no_status),
        cmocka_unit_test(distance_does_not_overflow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
