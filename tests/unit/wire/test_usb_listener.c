/*
 * A receiver that hears all sensors at once: what it is told, and what is made of what it says.
 * Messages are written without sync, length and sum, as in test_usb_receiver.c. Their fields: ANT
 * Message Protocol and Usage, D00000652 Rev 5.1, section 9. The key and the sensors are invented.
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
#include "wire/usb_listener.h"

#define ABLE "54 08 08 00 BA 36 00" /* of a common receiver: extended messages and scan */
#define PAGE "01 02 03 04 05 06 07 08"

static struct usb_listener listener;
static uint64_t t_ms;
static char events[512];

static int set_up(void **state)
{
    static const uint8_t key[USB_KEY_SIZE] = {1, 2, 3, 4, 5, 6, 7, 8};

    (void)state;
    t_ms = 1000;
    events[0] = '\0';
    usb_listener_start(&listener, key, t_ms);
    return 0;
}

static void drain(void)
{
    struct usb_listener_event event;

    while (usb_listener_next_event(&listener, &event)) {
        const size_t length = strlen(events);
        char *end = events + length;
        const size_t room = sizeof events - length;
        if (event.kind == USB_LISTENER_HEARD)
            (void)snprintf(end, room, "%u %u|", event.id.number, event.id.type);
        else if (event.kind == USB_LISTENER_UNABLE)
            (void)snprintf(end, room, "unable|");
        else
            (void)snprintf(end, room, "failed: %s|", event.reason);
    }
}

static void hears(const char *text)
{
    uint8_t payload[1 + USB_PAYLOAD_MAX], octets[USB_FRAME_MAX];
    const size_t length = octets_from_text(text, payload, sizeof payload);
    struct usb_frame frame = {.message = payload[0], .length = (uint8_t)(length - 1)};

    memcpy(frame.payload, payload + 1, length - 1);
    const size_t whole = usb_frame_encode(&frame, octets);
    usb_listener_receive(&listener, t_ms, octets, whole / 2);
    usb_listener_receive(&listener, t_ms, octets + whole / 2, whole - whole / 2);
    drain();
}

static void assert_said(const char *expected)
{
    uint8_t octets[USB_FRAME_MAX];
    size_t length = usb_listener_next_octets(&listener, octets);

    if (expected[0] == '\0') {
        assert_int_equal(length, 0);
        return;
    }
    assert_true(length >= 4);
    octets[1] = octets[2]; /* without its length */
    assert_octets(octets + 2, length - 3, expected);
    assert_int_equal(usb_listener_next_octets(&listener, octets), 0);
}

/* What is said, and what is answered to that. */
static const char *const opening[][2] = {
    {"4A 00", "6F 20"},
    {"4D 00 54", ABLE},
    {"46 00 01 02 03 04 05 06 07 08", "40 00 46 00"},
    {"42 00 00 00", "40 00 42 00"},
    {"51 00 00 00 00 00", "40 00 51 00"},
    {"45 00 39", "40 00 45 00"},
    {"66 00 01", "40 00 66 00"},
    {"5B 00", "40 00 5B 00"},
};
#define OPENING (sizeof opening / sizeof opening[0])

static void open_until(size_t count)
{
    for (size_t i = 0; i < count; i++) {
        assert_said(opening[i][0]);
        hears(opening[i][1]);
    }
}

static void it_hears_all(void **state)
{
    (void)state;
    open_until(OPENING);
    assert_said("");
    hears("4E 00 " PAGE " 80 67 12 78 01"); /* a strap */
    hears("4E 00 " PAGE " 80 68 12 F8 01"); /* another, that wants to be paired with */
    hears("4F 00 " PAGE " E0 2F 03 0B 05 10 40 01 02 03"); /* pedals, with strength and time */
    hears("4E 00 " PAGE " 80 67 12 78 01");
    hears("4E 00 " PAGE " 80 00 00 78 01"); /* without a number nobody can be asked for */
    hears("4E 00 " PAGE);                   /* and without an identity it is nobody */
    hears("4E 00 " PAGE " 40 67 12 78 01");
    assert_string_equal(events, "4711 120|4712 120|815 11|4711 120|");
}

static void what_comes_before_it_listens_is_nothing(void **state)
{
    (void)state;
    for (size_t i = 0; i < OPENING; i++) {
        (void)set_up(NULL);
        open_until(i);
        hears("4E 00 " PAGE " 80 67 12 78 01");
        hears("40 00 4A 15"); /* about something else */
        assert_string_equal(events, "");
        assert_said(opening[i][0]);
    }
}

static void one_that_cannot_says_so_once(void **state)
{
    static const char *const cannot[] = {"54 08 08 00 BA 34 00", "54 08 08 00 BA 32 00",
                                         "54 08 08 00 BA", "54 04 03 00"};
    (void)state;
    for (size_t i = 0; i < sizeof cannot / sizeof cannot[0]; i++) {
        (void)set_up(NULL);
        open_until(1);
        assert_said(opening[1][0]);
        hears(cannot[i]);
        assert_string_equal(events, "unable|");
        assert_said("");
        drain();
        assert_string_equal(events, "unable|");
    }
    for (size_t i = 3; i < OPENING; i++) {
        char refusal[] = "40 00 00 28";
        (void)set_up(NULL);
        open_until(i);
        assert_said(opening[i][0]);
        memcpy(refusal + 6, opening[i][0], 2);
        hears(refusal);
        assert_string_equal(events, "unable|");
    }
}

static void a_key_that_is_refused_ends_it(void **state)
{
    (void)state;
    open_until(2);
    assert_said(opening[2][0]);
    hears("40 00 46 28");
    assert_string_equal(events, "failed: the receiver refuses the network key|");
    hears("6F 20");
    assert_said("");
}

/* A second for each answer, three times. */
static void what_is_not_answered_is_said_again(void **state)
{
    (void)state;
    for (size_t i = 0; i < OPENING; i++) {
        (void)set_up(NULL);
        open_until(i);
        for (int tries = 0; tries < 3; tries++) {
            assert_said(opening[i][0]);
            t_ms += 999;
            usb_listener_tick(&listener, t_ms);
            assert_said("");
            t_ms++;
            usb_listener_tick(&listener, t_ms);
        }
        drain();
        assert_string_equal(events, i == 0 ? ""
                                    : i == 1
                                        ? "unable|"
                                        : "failed: the receiver does not answer; unplug it and "
                                          "plug it in again|");
        assert_said(i == 0 ? opening[1][0] : "");
    }
}

/* It has forgotten all then. */
static void one_that_starts_anew_is_told_again(void **state)
{
    (void)state;
    open_until(OPENING);
    for (int i = 0; i < 5; i++) {
        hears("6F 00");
        for (size_t step = 1; step < OPENING; step++) {
            assert_said(opening[step][0]);
            hears(opening[step][1]);
        }
    }
    hears("6F 00");
    assert_string_equal(events, "failed: the receiver starts anew again and again|");
}

/* More than anybody takes: the newest are dropped, and come again a moment later. */
static void a_crowd_is_no_harm(void **state)
{
    uint8_t octets[USB_FRAME_MAX];
    struct usb_frame frame = {.message = USB_BROADCAST, .length = 13};
    struct usb_listener_event event;
    unsigned taken = 0;

    (void)state;
    open_until(OPENING);
    frame.payload[9] = 0x80;
    frame.payload[12] = 120;
    for (unsigned number = 1; number <= 100; number++) {
        frame.payload[10] = (uint8_t)number;
        frame.payload[11] = 0;
        frame.payload[12] = 120;
        usb_listener_receive(&listener, t_ms, octets, usb_frame_encode(&frame, octets));
    }
    while (usb_listener_next_event(&listener, &event))
        assert_int_equal(event.id.number, ++taken);
    assert_int_equal(taken, USB_LISTENER_IDS);
}

static void chance_octets_do_no_harm(void **state)
{
    uint32_t random = 7;

    (void)state;
    for (int round = 0; round < 2000; round++) {
        (void)set_up(NULL);
        open_until((size_t)round % (OPENING + 1));
        for (int i = 0; i < 200; i++) {
            const uint8_t *octet;
            struct usb_frame frame = {0};
            uint8_t octets[USB_FRAME_MAX];
            random = random * 1664525u + 1013904223u;
            frame.message = (uint8_t[]){0x40, 0x4E, 0x54, 0x6F, 0x66}[(random >> 20) % 5];
            frame.length = (uint8_t)((random >> 8) % 16);
            for (octet = (const uint8_t *)&random; octet < (const uint8_t *)(&random + 1); octet++)
                frame.payload[(size_t)*octet % 16] = *octet;
            usb_listener_receive(&listener, t_ms, octets, usb_frame_encode(&frame, octets));
            assert_true(listener.count <= USB_LISTENER_IDS);
        }
    }
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(it_hears_all),
        TEST(what_comes_before_it_listens_is_nothing),
        TEST(one_that_cannot_says_so_once),
        TEST(a_key_that_is_refused_ends_it),
        TEST(what_is_not_answered_is_said_again),
        TEST(one_that_starts_anew_is_told_again),
        TEST(a_crowd_is_no_harm),
        TEST(chance_octets_do_no_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
