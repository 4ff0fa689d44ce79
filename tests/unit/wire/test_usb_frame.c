/*
 * Check values. "in public use": octets that public libraries and questions about receivers show;
 * each also follows from ANT Message Protocol and Usage, D00000652 Rev 5.1, section 7.1.
 * "recorded": of a strap, as a question in the forum of the protocol's owner shows it ("Identifying
 * the data page", thread 7385); behind the page stands which sensor it is.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/usb_frame.h"

static const struct {
    const char *source, *octets;
    struct usb_frame frame;
} rows[] = {
    {"in public use: reset", "A4 01 4A 00 EF", {USB_RESET, 1, {0}}},
    {"in public use: it started, as it was told to", "A4 01 6F 20 EA", {USB_STARTED, 1, {0x20}}},
    {"in public use: capabilities wanted", "A4 02 4D 00 54 BF", {USB_REQUEST, 2, {0, 0x54}}},
    {"in public use: channel 0 opens", "A4 01 4B 00 EE", {USB_OPEN, 1, {0}}},
    {"derived by hand: channel 1 listens for straps",
     "A4 05 51 01 00 00 78 00 89",
     {USB_CHANNEL_ID, 5, {1, 0, 0, 120, 0}}},
    {"derived by hand: a page",
     "A4 09 4E 00 04 00 11 22 33 44 A4 48 4F",
     {USB_BROADCAST, 9, {0, 4, 0, 0x11, 0x22, 0x33, 0x44, 0xA4, 0x48}}},
    {"recorded: a page of a strap",
     "A4 0E 4E 02 84 FF A5 E2 A5 E6 CA 3C 80 52 62 78 71 D6",
     {USB_BROADCAST,
      14,
      {2, 0x84, 0xFF, 0xA5, 0xE2, 0xA5, 0xE6, 0xCA, 60, 0x80, 0x52, 0x62, 120, 0x71}}},
    {"recorded: two channels collided", "A4 03 40 02 01 09 ED", {USB_RESPONSE, 3, {2, 1, 9}}},
    {"derived by hand: without a payload", "A4 00 6F CB", {USB_STARTED, 0, {0}}},
};
#define ROWS (sizeof rows / sizeof rows[0])

static void assert_frame(const struct usb_frame *frame, const struct usb_frame *expected)
{
    assert_int_equal(frame->message, expected->message);
    assert_int_equal(frame->length, expected->length);
    assert_memory_equal(frame->payload, expected->payload, expected->length);
}

static void encodes_and_decodes(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS; i++) {
        struct usb_decoder decoder = {0};
        struct usb_frame frame;
        uint8_t octets[USB_FRAME_MAX];
        print_message("%s\n", rows[i].source);
        const size_t length = usb_frame_encode(&rows[i].frame, octets);
        assert_octets(octets, length, rows[i].octets);
        for (size_t at = 0; at + 1 < length; at++) {
            usb_decoder_put(&decoder, octets[at]);
            assert_false(usb_decoder_next(&decoder, &frame));
        }
        usb_decoder_put(&decoder, octets[length - 1]);
        assert_true(usb_decoder_next(&decoder, &frame));
        assert_frame(&frame, &rows[i].frame);
        assert_false(usb_decoder_next(&decoder, &frame));
        assert_int_equal(decoder.dropped, 0);
    }
}

/* How many of `frames` come out of the octets, whatever else is in them. */
static size_t count_frames(const char *text, uint32_t *ret_dropped)
{
    struct usb_decoder decoder = {0};
    struct usb_frame frame;
    uint8_t octets[128];
    size_t found = 0;
    const size_t length = octets_from_text(text, octets, sizeof octets);

    for (size_t at = 0; at < length; at++) {
        usb_decoder_put(&decoder, octets[at]);
        while (usb_decoder_next(&decoder, &frame))
            found++;
    }
    *ret_dropped = decoder.dropped;
    return found;
}

/* Each by hand: where the next frame is found again. */
static void finds_the_next_frame_behind_what_is_none(void **state)
{
    static const struct {
        const char *what, *octets;
        size_t frames;
        uint32_t dropped;
    } cases[] = {
        {"noise before it", "00 FF 4A A4 01 4A 00 EF", 1, 3},
        {"a sync that begins nothing", "A4 A4 01 4A 00 EF", 1, 1},
        {"a length that none has", "A4 21 4A A4 01 4A 00 EF", 1, 3},
        {"a wrong sum", "A4 01 4A 00 EE A4 01 4A 00 EF", 1, 5},
        {"cut off, and the next begins", "A4 09 4E 00 A4 01 4A 00 EF A4 01 6F 20 EA", 2, 4},
        {"a long one that was none holds three",
         "A4 0E 4E A4 01 4A 00 EF A4 01 4A 00 EF A4 01 4A 00 EF", 3, 3},
        {"nothing but syncs", "A4 A4 A4 A4 A4 A4 A4 A4", 0, 7},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        uint32_t dropped;
        print_message("%s\n", cases[i].what);
        assert_int_equal(count_frames(cases[i].octets, &dropped), cases[i].frames);
        assert_int_equal(dropped, cases[i].dropped);
    }
}

static uint32_t noise = 20050331;

static uint8_t chance(void)
{
    noise = noise * 1664525u + 1013904223u;
    return (uint8_t)(noise >> 24);
}

/* Noise between frames costs no frame once it is over: what it began is at most as long as a frame
 * may be, and every frame that follows in full is found. */
static void noise_costs_no_frame_that_follows(void **state)
{
    (void)state;
    for (unsigned turn = 0; turn < 2000; turn++) {
        struct usb_decoder decoder = {0};
        struct usb_frame frame;
        size_t found = 0;
        for (unsigned i = chance() % 80u; i > 0; i--)
            usb_decoder_put(&decoder, i % 5 == 0 ? USB_SYNC : chance());
        while (usb_decoder_next(&decoder, &frame)) {
        }
        for (unsigned i = 0; i < 20; i++) {
            uint8_t octets[USB_FRAME_MAX];
            const size_t length = usb_frame_encode(&rows[i % ROWS].frame, octets);
            for (size_t at = 0; at < length; at++) {
                usb_decoder_put(&decoder, octets[at]);
                while (usb_decoder_next(&decoder, &frame))
                    found += frame.message == rows[i % ROWS].frame.message ? 1 : 0;
            }
        }
        assert_true(found >= 20 - USB_FRAME_MAX / 4);
    }
}

static void nobody_needs_to_take_frames(void **state)
{
    struct usb_decoder decoder = {0};

    (void)state;
    for (unsigned i = 0; i < 1000; i++)
        usb_decoder_put(&decoder, USB_SYNC);
    assert_int_equal(decoder.count, USB_FRAME_MAX);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(encodes_and_decodes),
        cmocka_unit_test(finds_the_next_frame_behind_what_is_none),
        cmocka_unit_test(noise_costs_no_frame_that_follows),
        cmocka_unit_test(nobody_needs_to_take_frames),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
