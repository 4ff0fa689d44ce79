/*
 * Captures of a receiver on USB. Composed by hand after Linux Documentation/usb/usbmon.rst; that
 * Wireshark reads the same out of it shows e2e/test_usb_sensors.py. The key is invented.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/usb_trace.h"

#define HEADER   "d4 c3 b2 a1 02 00 04 00 00 00 00 00 00 00 00 00 00 00 04 00 dc 00 00 00 "
#define ZEROS_8  "00 00 00 00 00 00 00 00 "
#define ZEROS_24 ZEROS_8 ZEROS_8 ZEROS_8
/* 2000-01-01 00:00:01.5 UTC: 946684801 s. */
#define TIME_US 946684801500000
#define TIME    "81 43 6d 38 20 a1 07 00 "
#define TIME_64 "81 43 6d 38 00 00 00 00 20 a1 07 00 "

#define RESET     "a4 01 4a 00 ef "
#define SUBMITTED "53 03 01 01 01 00 2d 00 "
#define COMPLETED "43 03 81 01 01 00 2d 00 "

static const char sent[] = TIME "45 00 00 00 45 00 00 00 " ZEROS_8 SUBMITTED TIME_64
                                "8d ff ff ff 05 00 00 00 05 00 00 00 " ZEROS_24 RESET;
static const char received[] = TIME "45 00 00 00 45 00 00 00 " ZEROS_8 COMPLETED TIME_64
                                    "00 00 00 00 05 00 00 00 05 00 00 00 " ZEROS_24 RESET;

static void put(struct bytes_writer *writer, bool by_receiver, const char *text)
{
    uint8_t octets[USB_TRACE_DATA_MAX];
    const size_t length = octets_from_text(text, octets, sizeof octets);

    usb_trace_put(writer, TIME_US, by_receiver, octets, length);
    assert_false(writer->failed);
}

static void test_written(void **state)
{
    uint8_t octets[USB_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);

    (void)state;
    usb_trace_put_header(&writer);
    assert_octets(octets, writer.length, HEADER);
    writer = bytes_writer(octets, sizeof octets);
    put(&writer, false, RESET);
    assert_octets(octets, writer.length, sent);
    writer = bytes_writer(octets, sizeof octets);
    put(&writer, true, RESET);
    assert_octets(octets, writer.length, received);
}

/* That a network has a key stays, and which; its octets and what tells them do not. */
static void test_no_key(void **state)
{
    uint8_t octets[USB_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);

    (void)state;
    put(&writer, false, "a4 09 46 01 00 c0 ff ee c0 ff ee 99 8e");
    assert_octets(octets + 80, writer.length - 80, "a4 09 46 01 00 00 00 00 00 00 00 00 ea");
}

static void assert_next(struct usb_trace_reader *reader, bool is_transfer, bool by_receiver)
{
    struct usb_trace_record record;

    assert_int_equal(usb_trace_next(reader, &record), RESULT_OK);
    assert_int_equal(record.is_transfer, is_transfer);
    if (!is_transfer)
        return;
    assert_int_equal(record.by_receiver, by_receiver);
    assert_true(record.time_us == TIME_US);
    assert_octets(record.octets, record.length, RESET);
}

/* What else usbmon has: the other half of each transfer, other kinds, other devices. */
static void test_read(void **state)
{
    static const struct {
        size_t at;
        uint8_t octet;
    } other[] = {
        {24, 'C'}, {24, 'E'}, {25, 2}, {27, 9}, {28, 2}, {31, '<'},
    };
    uint8_t octets[2048];
    size_t length = octets_from_text(HEADER, octets, sizeof octets);
    struct usb_trace_reader reader;
    struct usb_trace_record record;

    (void)state;
    length += octets_from_text(sent, octets + length, sizeof octets - length);
    for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
        const size_t taken = octets_from_text(sent, octets + length, sizeof octets - length);
        octets[length + other[i].at] = other[i].octet;
        length += taken;
    }
    length += octets_from_text(received, octets + length, sizeof octets - length);
    assert_int_equal(usb_trace_open(octets, length, &reader), RESULT_OK);
    assert_next(&reader, true, false);
    for (size_t i = 0; i < sizeof other / sizeof other[0]; i++)
        assert_next(&reader, false, false);
    assert_next(&reader, true, true);
    assert_int_equal(usb_trace_next(&reader, &record), RESULT_NOT_FOUND);
}

static void test_other_files(void **state)
{
    static const struct {
        const char *octets;
        enum result result;
    } rows[] = {
        {HEADER, RESULT_OK},
        {"a1 b2 c3 d4 00 02 00 04 " ZEROS_8 "00 04 00 00 00 00 00 dc", RESULT_UNSUPPORTED},
        {"4d 3c b2 a1 02 00 04 00 " ZEROS_8 "00 00 04 00 dc 00 00 00", RESULT_UNSUPPORTED},
        {"d4 c3 b2 a1 02 00 04 00 " ZEROS_8 "00 00 04 00 bd 00 00 00", RESULT_UNSUPPORTED},
        {"62 74 73 6e 6f 6f 70 00 00 00 00 01 00 00 03 ea " ZEROS_8, RESULT_INVALID},
        {"", RESULT_INVALID},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t octets[64];
        struct usb_trace_reader reader;
        const size_t length = octets_from_text(rows[i].octets, octets, sizeof octets);
        assert_int_equal(usb_trace_open(octets, length, &reader), rows[i].result);
    }
}

/* In a block of just that size, so that a read past the end is seen. */
static void test_cut_anywhere(void **state)
{
    uint8_t octets[256];
    size_t length = octets_from_text(HEADER, octets, sizeof octets);

    (void)state;
    length += octets_from_text(sent, octets + length, sizeof octets - length);
    for (size_t kept = 0; kept < length; kept++) {
        uint8_t *block = malloc(kept + 1);
        struct usb_trace_reader reader;
        struct usb_trace_record record;
        assert_non_null(block);
        memcpy(block + 1, octets, kept);
        const enum result opened = usb_trace_open(block + 1, kept, &reader);
        assert_int_equal(opened, kept < USB_TRACE_HEADER_OCTETS ? RESULT_INVALID : RESULT_OK);
        if (kept > USB_TRACE_HEADER_OCTETS)
            assert_int_equal(usb_trace_next(&reader, &record), RESULT_NEED_MORE);
        free(block);
    }
}

/* Records shorter than their head, and times that are none, are read without harm. */
static void test_chance(void **state)
{
    uint32_t random = 1;

    (void)state;
    for (int round = 0; round < 20000; round++) {
        uint8_t octets[400];
        struct usb_trace_reader reader;
        struct usb_trace_record record;
        size_t length = octets_from_text(HEADER, octets, sizeof octets), taken = 0;
        length += octets_from_text(sent, octets + length, sizeof octets - length);
        length += octets_from_text(received, octets + length, sizeof octets - length);
        for (int i = 0; i < 4; i++) {
            random = random * 1664525u + 1013904223u;
            octets[24 + (random >> 8) % (length - 24)] = (uint8_t)(random >> 24);
        }
        assert_int_equal(usb_trace_open(octets, length, &reader), RESULT_OK);
        while (usb_trace_next(&reader, &record) == RESULT_OK) {
            assert_true(!record.is_transfer || record.length > 0);
            taken += record.length;
        }
        assert_true(taken < length);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_written),      cmocka_unit_test(test_no_key),
        cmocka_unit_test(test_read),         cmocka_unit_test(test_other_files),
        cmocka_unit_test(test_cut_anywhere), cmocka_unit_test(test_chance),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
