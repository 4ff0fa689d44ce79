/*
 * What is said to a receiver, in which order, and what is made of what it says. Messages are
 * written without sync, length and sum: "42 00 00 00" assigns channel 0. Their fields: ANT Message
 * Protocol and Usage, D00000652 Rev 5.1, section 9.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/usb_receiver.h"

static struct usb_receiver receiver;
static uint64_t t_ms;
static char events[512];
static bool answers; /* everything that is asked, right away */

static void note(const char *text)
{
    assert_true(strlen(events) + strlen(text) < sizeof events);
    strcat(events, text);
}

static void note_effort(const struct sensor_effort *effort)
{
    char text[48];

    (void)snprintf(text, sizeof text, "effort %d %d|", effort->has_power ? effort->power_w : -1,
                   effort->has_cadence ? effort->cadence_rpm : -1);
    note(text);
}

static void note_frame(const struct usb_frame *frame)
{
    char text[8];

    (void)snprintf(text, sizeof text, "%02X", frame->message);
    note(text);
    for (size_t i = 0; i < frame->length; i++) {
        (void)snprintf(text, sizeof text, " %02X", frame->payload[i]);
        note(text);
    }
    note("|");
}

static void drain(void)
{
    struct usb_receiver_event event;
    char text[48];

    while (usb_receiver_next_event(&receiver, &event)) {
        switch (event.kind) {
        case USB_RECEIVER_READY: note("ready|"); break;
        case USB_RECEIVER_FOUND:
            (void)snprintf(text, sizeof text, "found %d %u %u|", event.channel, event.id.number,
                           event.id.type);
            note(text);
            break;
        case USB_RECEIVER_HEART:
            (void)snprintf(text, sizeof text, "heart %u|", event.heart_bpm);
            note(text);
            break;
        case USB_RECEIVER_EFFORT: note_effort(&event.effort); break;
        case USB_RECEIVER_MESSAGE: note_frame(&event.frame); break;
        case USB_RECEIVER_LOST: note("lost|"); break;
        case USB_RECEIVER_FAILED:
            note("failed: ");
            note(event.reason);
            break;
        }
    }
}

/* It says so, in two chunks. */
static void hears(const char *text)
{
    uint8_t octets[USB_FRAME_MAX];
    const size_t whole = octets_of_frame(text, octets);

    usb_receiver_receive(&receiver, t_ms, octets, whole / 2);
    usb_receiver_receive(&receiver, t_ms, octets + whole / 2, whole - whole / 2);
    drain();
}

static void answer(const struct usb_frame *asked)
{
    char text[32];

    if (asked->message == USB_RESET)
        hears("6F 20");
    else if (asked->message != USB_REQUEST) {
        (void)snprintf(text, sizeof text, "40 %02X %02X 00", asked->payload[0], asked->message);
        hears(text);
    }
}

/* The next message that was said, as text; "" when there is none. */
static const char *said(void)
{
    static char text[128];
    struct usb_decoder decoder = {0};
    struct usb_frame frame;
    uint8_t octets[USB_FRAME_MAX];
    const size_t length = usb_receiver_next_octets(&receiver, octets);

    text[0] = '\0';
    for (size_t i = 0; i < length; i++)
        usb_decoder_put(&decoder, octets[i]);
    if (!usb_decoder_next(&decoder, &frame))
        return text;
    (void)snprintf(text, sizeof text, "%02X", frame.message);
    for (size_t i = 0; i < frame.length; i++)
        (void)snprintf(text + strlen(text), sizeof text - strlen(text), " %02X", frame.payload[i]);
    if (answers)
        answer(&frame);
    return text;
}

static void assert_says(const char *const *lines)
{
    for (; *lines != NULL; lines++)
        assert_string_equal(said(), *lines);
    assert_string_equal(said(), "");
}

#define ASSERT_SAYS(...) assert_says((const char *const[]){__VA_ARGS__, NULL})

static void after(uint64_t ms)
{
    t_ms += ms;
    usb_receiver_tick(&receiver, t_ms);
    drain();
}

static void start(struct usb_receiver_setup setup)
{
    static const uint8_t key[USB_KEY_SIZE] = {0, 0xC0, 0xFF, 0xEE, 0xC0, 0xFF, 0xEE, 0x99};

    memcpy(setup.key, key, sizeof key); /* invented */
    t_ms = 5000;
    events[0] = '\0';
    answers = true;
    usb_receiver_start(&receiver, &setup, t_ms);
}

static void start_strap(uint16_t number)
{
    start((struct usb_receiver_setup){.is_wanted = {[SENSOR_STRAP] = true},
                                      .ids = {[SENSOR_STRAP] = {.number = number}}});
}

static void start_listening(void)
{
    start_strap(0);
    while (*said() != '\0') {
    }
    assert_string_equal(events, "ready|");
    events[0] = '\0';
}

/* ---- the way to readings ---- */

static void configures_and_opens_a_channel(void **state)
{
    (void)state;
    start_strap(0);
    ASSERT_SAYS("4A 00", "46 00 00 C0 FF EE C0 FF EE 99", "42 00 00 00", "51 00 00 00 78 00",
                "43 00 86 1F", "45 00 39", "44 00 04", "4B 00");
    assert_string_equal(events, "ready|");
}

static void keeps_to_the_sensor_that_was_found(void **state)
{
    (void)state;
    start_listening();
    hears("4E 00 00 FF FF FF 00 00 05 78");
    ASSERT_SAYS("4D 00 51");
    assert_string_equal(events, "");
    hears("51 00 67 12 78 01");
    assert_string_equal(events, "found 0 4711 120|");
    t_ms += 250;
    hears("4E 00 00 FF FF FF 00 02 06 78");
    assert_string_equal(events, "found 0 4711 120|heart 120|");
    /* Searched for in vain: anew, for that one. */
    hears("40 00 01 02");
    hears("40 00 01 08");
    hears("40 00 01 01");
    assert_string_equal(said(), "");
    hears("40 00 01 07");
    ASSERT_SAYS("51 00 67 12 78 00", "43 00 86 1F", "45 00 39", "44 00 04", "4B 00");
}

static void asks_for_the_number_that_is_wished(void **state)
{
    (void)state;
    start_strap(4711);
    ASSERT_SAYS("4A 00", "46 00 00 C0 FF EE C0 FF EE 99", "42 00 00 00", "51 00 67 12 78 00",
                "43 00 86 1F", "45 00 39", "44 00 04", "4B 00");
    hears("4E 00 00 FF FF FF 00 00 05 78");
    assert_string_equal(events, "ready|found 0 4711 120|");
}

static void searches_for_every_type_in_turn(void **state)
{
    (void)state;
    start(
        (struct usb_receiver_setup){.is_wanted = {[SENSOR_POWER] = true, [SENSOR_CADENCE] = true}});
    ASSERT_SAYS("4A 00", "46 00 00 C0 FF EE C0 FF EE 99",                      /* */
                "42 01 00 00", "51 01 00 00 0B 00", "43 01 F6 1F", "45 01 39", /* power */
                "44 01 02", "4B 01",                                           /* */
                "42 02 00 00", "51 02 00 00 7A 00", "43 02 A6 1F", "45 02 39", /* cadence */
                "44 02 02", "4B 02");
    hears("40 01 01 07");
    ASSERT_SAYS("51 01 00 00 11 00", "43 01 00 20", "45 01 39", "44 01 02", "4B 01");
    hears("40 02 01 07");
    ASSERT_SAYS("51 02 00 00 79 00", "43 02 96 1F", "45 02 39", "44 02 02", "4B 02");
    events[0] = '\0';
    hears("4E 01 19 01 55 64 00 64 60 30");
    ASSERT_SAYS("4D 01 51");
    hears("51 01 01 00 11 05");
    assert_string_equal(events, "effort 100 85|found 1 1 17|");
    hears("40 01 01 07"); /* it stays with the one that was found */
    assert_string_equal(said(), "51 01 01 00 11 00");
}

/* As on a link that comes after another. */
static void goes_on_with_what_was_found_before(void **state)
{
    (void)state;
    start((struct usb_receiver_setup){.is_wanted = {[SENSOR_CADENCE] = true},
                                      .ids = {[SENSOR_CADENCE] = {7, USB_TYPE_SPEED_CADENCE}}});
    ASSERT_SAYS("4A 00", "46 00 00 C0 FF EE C0 FF EE 99", "42 02 00 00", "51 02 07 00 79 00",
                "43 02 96 1F", "45 02 39", "44 02 04", "4B 02");
    hears("4E 02 00 00 01 00 00 00 00 00");
    t_ms += 706;
    hears("4E 02 D3 02 02 00 00 00 00 00");
    assert_string_equal(events, "ready|found 2 7 121|effort -1 85|");
}

/* ---- what goes wrong ---- */

static void says_it_again_and_gives_up(void **state)
{
    (void)state;
    start_strap(0);
    answers = false;
    /* Some say nothing when they have started. */
    for (unsigned i = 0; i < 3; i++) {
        ASSERT_SAYS("4A 00");
        after(1000);
    }
    for (unsigned i = 0; i < 3; i++) {
        ASSERT_SAYS("46 00 00 C0 FF EE C0 FF EE 99");
        after(999);
        assert_string_equal(said(), "");
        assert_string_equal(events, "");
        after(1);
    }
    assert_string_equal(events,
                        "failed: the receiver does not answer; unplug it and plug it in again");
    after(5000);
    hears("6F 20");
    assert_string_equal(said(), "");
}

static void tells_that_the_key_is_refused(void **state)
{
    (void)state;
    start_strap(0);
    assert_string_equal(said(), "4A 00");
    answers = false;
    assert_string_equal(said(), "46 00 00 C0 FF EE C0 FF EE 99");
    hears("40 00 46 33");
    assert_string_equal(events, "failed: the receiver refuses the network key");
}

static void begins_again_where_it_is_refused(void **state)
{
    (void)state;
    start_strap(0);
    for (unsigned i = 0; i < 5; i++) {
        answers = true;
        assert_string_equal(said(), "4A 00");
        assert_string_equal(said(), "46 00 00 C0 FF EE C0 FF EE 99");
        answers = false;
        assert_string_equal(said(), "42 00 00 00");
        events[0] = '\0';
        hears("40 00 42 15");
    }
    assert_string_equal(events, "");
    assert_string_equal(said(), "4A 00");
    hears("6F 20");
    assert_string_equal(said(), "46 00 00 C0 FF EE C0 FF EE 99");
    hears("40 00 46 00");
    assert_string_equal(said(), "42 00 00 00");
    hears("40 00 42 15");
    assert_string_equal(events, "ready|failed: the receiver refuses to listen; unplug it and plug "
                                "it in again");
}

static void goes_on_where_it_started_by_itself(void **state)
{
    (void)state;
    start_listening();
    hears("6F 00");
    ASSERT_SAYS("46 00 00 C0 FF EE C0 FF EE 99", "42 00 00 00", "51 00 00 00 78 00", "43 00 86 1F",
                "45 00 39", "44 00 04", "4B 00");
    for (unsigned i = 0; i < 5; i++)
        hears("6F 00");
    assert_string_equal(events, "ready|failed: the receiver starts anew again and again");
}

/* Answers to what nobody asked, to another channel, to another message; channels there are not;
 * pages of channels that are not open; too short. */
static void does_not_take_what_is_not_its_answer(void **state)
{
    static const char *const strange[] = {
        "40 00 42 00",
        "40 01 4B 00",
        "40 00 51 00",
        "40 00",
        "40",
        "51 00 67 12 78 01",
        "52 00 01",
        "4E 03 00 FF FF FF 00 00 05 78",
        "4E FF 00 FF FF FF 00 00 05 78",
        "4E 00 00 FF FF FF 00 00 05",
        "40 07 01 07",
        "40 00 01 07",
        "4A 00",
        "4D 00 51",
        "99",
        "40 00 4D 28",
        "40 00 4A 28",
    };
    (void)state;
    start_strap(0);
    while (strcmp(said(), "44 00 04") != 0) {
    }
    answers = false;
    assert_string_equal(said(), "4B 00");
    for (size_t i = 0; i < sizeof strange / sizeof strange[0]; i++) {
        hears(strange[i]);
        assert_string_equal(said(), "");
    }
    hears("40 00 4B 00");
    assert_string_equal(events, "ready|");
    hears("4E 00 00 FF FF FF 00 00 05 78");
    assert_string_equal(said(), "4D 00 51");
}

/* It may not tell which sensor it hears: the first of that type, then. */
static void goes_on_without_a_number(void **state)
{
    (void)state;
    start_listening();
    answers = false;
    hears("4E 00 00 FF FF FF 00 00 05 78");
    for (unsigned i = 0; i < 3; i++) {
        ASSERT_SAYS("4D 00 51");
        after(1000);
        hears("4E 00 00 FF FF FF 00 00 06 78");
    }
    assert_string_equal(events, "heart 120|found 0 0 120|");
    assert_string_equal(said(), "");
}

static void asks_whether_a_silent_receiver_is_there(void **state)
{
    (void)state;
    start_listening();
    after(14999);
    assert_string_equal(said(), "");
    after(1);
    ASSERT_SAYS("4D 00 52");
    hears("52 00 02"); /* searching */
    assert_string_equal(said(), "");
    after(15000);
    ASSERT_SAYS("4D 00 52");
    hears("52 00 01"); /* closed, and nobody said so */
    ASSERT_SAYS("51 00 00 00 78 00", "43 00 86 1F", "45 00 39", "44 00 04", "4B 00");
    after(15000);
    for (unsigned i = 0; i < 3; i++) {
        ASSERT_SAYS("4D 00 52");
        after(1000);
    }
    assert_string_equal(events,
                        "failed: the receiver does not answer; unplug it and plug it in again");
}

static void keeps_the_newest_reading_that_nobody_took(void **state)
{
    struct usb_receiver_event event;
    static const uint8_t pages[] = {0xA4, 9, 0x4E, 0, 0, 255, 255, 255, 0, 0, 5, 60, 0x25};

    (void)state;
    start_listening();
    for (uint8_t i = 0; i < 20; i++) {
        uint8_t octets[sizeof pages];
        memcpy(octets, pages, sizeof pages);
        octets[10] = i;
        octets[11] = (uint8_t)(60 + i);
        octets[12] = 0;
        for (size_t at = 0; at + 1 < sizeof octets; at++)
            octets[12] ^= octets[at];
        t_ms += 1000;
        usb_receiver_receive(&receiver, t_ms, octets, sizeof octets);
    }
    assert_true(usb_receiver_next_event(&receiver, &event));
    assert_int_equal(event.kind, USB_RECEIVER_HEART);
    assert_int_equal(event.heart_bpm, 79);
    assert_false(usb_receiver_next_event(&receiver, &event));
}

/* ---- the machine ---- */

static void start_machine(uint16_t number)
{
    start((struct usb_receiver_setup){.is_wanted = {[USB_CHANNEL_MACHINE] = true},
                                      .ids = {[USB_CHANNEL_MACHINE] = {.number = number}}});
    ASSERT_SAYS("4A 00", "46 00 00 C0 FF EE C0 FF EE 99", "42 03 00 00",
                number != 0 ? "51 03 2F 03 11 00" : "51 03 00 00 11 00", "43 03 00 20", "45 03 39",
                "44 03 04", "4B 03");
    events[0] = '\0';
}

#define PAGE "4E 03 19 01 5A 2C 01 FA 20 30"

static void hands_on_what_is_said_by_the_machine(void **state)
{
    (void)state;
    start_machine(815);
    hears(PAGE);
    assert_string_equal(events, "found 3 815 17|" PAGE "|");
    events[0] = '\0';
    answers = false;
    hears("40 03 4F 1F"); /* still busy with another */
    hears("40 03 01 06");
    hears("40 03 01 05");
    hears("40 03 01 02"); /* missed */
    hears("40 00 01 05"); /* of another channel */
    assert_string_equal(events, "40 03 4F 1F|40 03 01 06|40 03 01 05|");
}

/* A load is for one trainer, and for no other. */
static void hands_on_nothing_before_it_knows_which(void **state)
{
    (void)state;
    start_machine(0);
    hears(PAGE);
    ASSERT_SAYS("4D 03 51");
    assert_string_equal(events, "");
    after(1000);
    ASSERT_SAYS("4D 03 51");
    after(1000);
    ASSERT_SAYS("4D 03 51");
    after(1000);
    assert_non_null(strstr(events, "failed: the receiver does not answer"));
}

/* It searches again, it closed, it started anew. */
static void tells_when_the_machine_is_lost(void **state)
{
    static const char *const ends[] = {"40 03 01 08", "40 03 01 07", "6F 00"};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        start_machine(815);
        hears(PAGE);
        events[0] = '\0';
        answers = false;
        hears(ends[i]);
        assert_string_equal(events, "lost|");
        hears(ends[i]);
        hears("40 03 01 07");
        assert_null(strstr(events + 5, "lost"));
    }
    start_machine(815);
    hears(PAGE);
    events[0] = '\0';
    hears("40 03 01 08");
    hears(PAGE);
    assert_string_equal(events, "lost|" PAGE "|");
}

static void asks_soon_whether_a_silent_machine_is_there(void **state)
{
    (void)state;
    start_machine(815);
    hears(PAGE);
    events[0] = '\0';
    after(999);
    assert_string_equal(said(), "");
    after(1);
    ASSERT_SAYS("4D 03 52");
    hears("52 03 03"); /* heard, if not now */
    after(1000);
    ASSERT_SAYS("4D 03 52");
    hears("52 03 02"); /* searching, and nobody said so */
    assert_string_equal(events, "lost|");
    after(14999);
    assert_string_equal(said(), "");
    hears(PAGE);
    for (unsigned i = 0; i < 3; i++) {
        after(1000);
        ASSERT_SAYS("4D 03 52");
    }
    after(1000);
    assert_non_null(strstr(events, "failed: the receiver does not answer"));
}

/* Of what nobody took the newest is kept, and the loss comes last. */
static void keeps_the_newest_messages_of_the_machine(void **state)
{
    struct usb_receiver_event event;
    unsigned count = 0;

    (void)state;
    start_machine(815);
    for (uint8_t i = 1; i <= 12; i++) {
        struct usb_frame frame = {.message = USB_BROADCAST, .length = 9, .payload = {3, 0x19, i}};
        uint8_t octets[USB_FRAME_MAX];
        usb_receiver_receive(&receiver, t_ms, octets, usb_frame_encode(&frame, octets));
    }
    usb_receiver_receive(&receiver, t_ms, (const uint8_t[]){0xA4, 3, 0x40, 3, 1, 8, 0xED}, 7);
    assert_true(usb_receiver_next_event(&receiver, &event));
    assert_int_equal(event.kind, USB_RECEIVER_FOUND);
    while (usb_receiver_next_event(&receiver, &event) && event.kind == USB_RECEIVER_MESSAGE)
        assert_int_equal(event.frame.payload[2], 5 + count++);
    assert_int_equal(count, USB_MESSAGES_MAX);
    assert_int_equal(event.kind, USB_RECEIVER_LOST);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(configures_and_opens_a_channel),
        cmocka_unit_test(keeps_to_the_sensor_that_was_found),
        cmocka_unit_test(asks_for_the_number_that_is_wished),
        cmocka_unit_test(searches_for_every_type_in_turn),
        cmocka_unit_test(goes_on_with_what_was_found_before),
        cmocka_unit_test(says_it_again_and_gives_up),
        cmocka_unit_test(tells_that_the_key_is_refused),
        cmocka_unit_test(begins_again_where_it_is_refused),
        cmocka_unit_test(goes_on_where_it_started_by_itself),
        cmocka_unit_test(does_not_take_what_is_not_its_answer),
        cmocka_unit_test(goes_on_without_a_number),
        cmocka_unit_test(asks_whether_a_silent_receiver_is_there),
        cmocka_unit_test(keeps_the_newest_reading_that_nobody_took),
        cmocka_unit_test(hands_on_what_is_said_by_the_machine),
        cmocka_unit_test(hands_on_nothing_before_it_knows_which),
        cmocka_unit_test(tells_when_the_machine_is_lost),
        cmocka_unit_test(asks_soon_whether_a_silent_machine_is_there),
        cmocka_unit_test(keeps_the_newest_messages_of_the_machine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
