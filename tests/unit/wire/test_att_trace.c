/*
 * Packets by hand, after Bluetooth Core 5.4 Vol 4 Part E 5.4.2 and 7.7, Vol 3 Part A 3.1. What is
 * written is decoded by Wireshark and btmon in tests/e2e/test_captures.py.
 */
#include "wire/att_trace.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"

/* What was told, a line a thing: "up 0 1 C0:…", "pdu 0 < 1b 03", "down 0 peer". */
struct story {
    char text[2048];
    size_t length, told;
};

static void add(struct story *story, const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    const int length = vsnprintf(story->text + story->length, sizeof story->text - story->length,
                                 format, arguments);
    va_end(arguments);
    assert_true(length >= 0 && story->length + (size_t)length < sizeof story->text);
    story->length += (size_t)length;
}

static void tell(void *user, const struct att_trace_item *item)
{
    struct story *story = user;

    story->told++;
    assert_true(item->slot < ATT_TRACE_LINKS_MAX);
    if (item->kind == ATT_TRACE_UP) {
        add(story, "up %u %u %02x%02x %d\n", item->slot, item->adapter, item->peer.octets[5],
            item->peer.octets[0], (int)item->peer.type);
    } else if (item->kind == ATT_TRACE_DOWN) {
        add(story, "down %u %s\n", item->slot, item->by_peer ? "peer" : "host");
    } else {
        add(story, "pdu %u %s", item->slot, item->by_peer ? "<" : ">");
        for (size_t i = 0; i < item->length && i < 8; i++)
            add(story, " %02x", item->pdu[i]);
        add(story, item->length > 8 ? " of %zu\n" : "\n", item->length);
    }
}

#define UP_40   "E 3e 13 01 00 40 00 00 01 11 00 00 00 00 c0 18 00 00 00 90 01 00"
#define DOWN_40 "E 05 04 00 40 00 08"

struct row {
    const char *name;
    const char *packets[6]; /* "E": event, "S": data sent, "R": received; a digit: the adapter */
    const char *story;
};

static struct row rows[] = {
    {"a link, from its beginning to its end",
     {UP_40, "S 40 00 07 00 03 00 04 00 02 05 02", "R 40 20 07 00 03 00 04 00 03 40 00", DOWN_40},
     "up 0 0 c011 2\npdu 0 > 02 05 02\npdu 0 < 03 40 00\ndown 0 peer\n"},
    {"ended by the host", {UP_40, "E 05 04 00 40 00 16"}, "up 0 0 c011 2\ndown 0 host\n"},
    {"the enhanced event of later controllers, a public address",
     {"E 3e 1f 0a 00 41 00 00 00 12 00 00 00 00 a0 00 00 00 00 00 00 00 00 00 00 00 00 18 00 00 00 "
      "90 "
      "01 00"},
     "up 0 0 a012 1\n"},
    {"a connection that failed, and a disconnection that did",
     {"E 3e 13 01 3e 40 00 00 01 11 00 00 00 00 c0 18 00 00 00 90 01 00", UP_40,
      "E 05 04 0c 40 00 16"},
     "up 0 0 c011 2\n"},
    {"a capture that begins in the middle",
     {"R 40 20 06 00 02 00 04 00 1b 03", "R 40 20 06 00 02 00 04 00 1b 04"},
     "up 0 0 0000 0\npdu 0 < 1b 03\npdu 0 < 1b 04\n"},
    {"parts, and the other direction between them",
     {UP_40, "R 40 20 06 00 05 00 04 00 1b 03", "S 40 00 05 00 01 00 04 00 1e",
      "R 40 10 02 00 aa bb", "R 40 10 01 00 cc", "R 40 10 01 00 dd"},
     "up 0 0 c011 2\npdu 0 > 1e\npdu 0 < 1b 03 aa bb cc\n"},
    {"a part too many octets long, and one of nothing",
     {UP_40, "R 40 20 06 00 03 00 04 00 1b 03", "R 40 10 02 00 aa bb", "R 40 10 01 00 cc",
      "R 40 20 05 00 01 00 04 00 0b"},
     "up 0 0 c011 2\npdu 0 < 0b\n"},
    {"other channels, also in parts",
     {UP_40, "R 40 20 06 00 02 00 05 00 12 01", "R 40 20 05 00 02 00 06 00 12", "R 40 10 01 00 1b",
      "R 39 20 08 00 04 00 40 00 01 02 03 04"},
     "up 0 0 c011 2\n"},
    {"lengths that lie",
     {UP_40, "R 40 20 09 00 02 00 04 00 1b 03", "R 40 20 06 00 01 00 04 00 1b 03",
      "R 40 20 02 00 05", "R 40", "E 3e 13 01 00"},
     "up 0 0 c011 2\n"},
    {"the same handle at two adapters",
     {"0E 3e 13 01 00 40 00 00 01 11 00 00 00 00 c0 18 00 00 00 90 01 00",
      "1E 3e 13 01 00 40 00 01 01 12 00 00 00 00 c0 18 00 00 00 90 01 00",
      "0S 40 00 05 00 01 00 04 00 0a", "1R 40 20 05 00 01 00 04 00 0a", "1E 05 04 00 40 00 13",
      "0E 05 04 00 40 00 16"},
     "up 0 0 c011 2\nup 1 1 c012 2\npdu 0 > 0a\npdu 1 < 0a\ndown 1 peer\ndown 0 host\n"},
    {"a handle that comes up again, its end unseen",
     {UP_40, UP_40},
     "up 0 0 c011 2\nup 0 0 c011 2\n"},
    {"events that are none of ours", {"E 0f 04 00 01 00 00", "E 3e 02 02 01", "E", "E 3e"}, ""},
    {"nothing in it", {"R 40 20 04 00 00 00 04 00"}, "up 0 0 0000 0\n"},
};

static struct btsnoop_record record_of(const char *text, uint8_t *octets, size_t capacity)
{
    struct btsnoop_record record = {.time_us = 1};

    if (*text >= '0' && *text <= '9')
        record.adapter = (uint16_t)(*text++ - '0');
    record.kind = *text == 'E' ? BTSNOOP_EVENT : BTSNOOP_ACL;
    record.is_received = *text != 'S';
    record.length = octets_from_text(text + 1, octets, capacity);
    record.packet = octets;
    return record;
}

static void test_row(void **state)
{
    const struct row *row = *state;
    struct att_trace *trace = calloc(1, sizeof *trace);
    struct story story = {.text = ""};
    uint8_t octets[64];

    assert_non_null(trace);
    for (size_t i = 0; i < 6 && row->packets[i] != NULL; i++) {
        const struct btsnoop_record record = record_of(row->packets[i], octets, sizeof octets);
        att_trace_read(trace, &record, tell, &story);
    }
    free(trace);
    assert_string_equal(story.text, row->story);
}

/* More links than there is room for, then fewer: the rest is left out, and nothing is mixed up. */
static void test_many_links(void **state)
{
    struct att_trace *trace = calloc(1, sizeof *trace);
    struct story story = {.text = ""};
    uint8_t octets[16];

    (void)state;
    assert_non_null(trace);
    for (unsigned handle = 1; handle <= ATT_TRACE_LINKS_MAX + 1; handle++) {
        struct btsnoop_record record =
            record_of("R 40 20 05 00 01 00 04 00 0a", octets, sizeof octets);
        octets[0] = (uint8_t)handle;
        att_trace_read(trace, &record, tell, &story);
    }
    assert_int_equal(story.told, 2 * ATT_TRACE_LINKS_MAX);
    story = (struct story){.text = ""};
    struct btsnoop_record down = record_of("E 05 04 00 03 00 08", octets, sizeof octets);
    att_trace_read(trace, &down, tell, &story);
    struct btsnoop_record more = record_of("R 77 20 05 00 01 00 04 00 0a", octets, sizeof octets);
    att_trace_read(trace, &more, tell, &story);
    assert_string_equal(story.text, "down 2 peer\nup 2 0 0000 0\npdu 2 < 0a\n");
    free(trace);
}

static void test_what_is_written_reads_back(void **state)
{
    static uint8_t pdu[ATT_TRACE_PDU_MAX], octets[3 * ATT_TRACE_RECORD_MAX + BTSNOOP_HEADER_OCTETS];
    const struct device_address peer = {{1, 0, 0, 0, 0, 2}, ADDRESS_RANDOM};
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);
    struct att_trace *trace = calloc(1, sizeof *trace);
    struct story story = {.text = ""};
    struct btsnoop_reader reader;
    struct btsnoop_record record;

    (void)state;
    assert_non_null(trace);
    btsnoop_put_header(&writer);
    att_trace_put_up(&writer, 5, 0x41, &peer);
    att_trace_put_pdu(&writer, 6, 0x41, false, (const uint8_t *)"\x0a\x03", 3);
    att_trace_put_pdu(&writer, 7, 0x41, true, pdu, sizeof pdu);
    att_trace_put_down(&writer, 8, 0x41, false);
    assert_false(writer.failed);
    assert_int_equal(btsnoop_open(octets, writer.length, &reader), RESULT_OK);
    for (int64_t time_us = 5; btsnoop_next(&reader, &record) == RESULT_OK; time_us++) {
        assert_true(record.time_us == time_us);
        att_trace_read(trace, &record, tell, &story);
    }
    assert_string_equal(story.text, "up 0 0 0201 2\npdu 0 > 0a 03 00\n"
                                    "pdu 0 < 00 00 00 00 00 00 00 00 of 2048\ndown 0 host\n");
    free(trace);
}

/* Octets by chance, in blocks of their own size: nothing is read past the end. */
static void test_chance(void **state)
{
    struct att_trace *trace = calloc(1, sizeof *trace);
    unsigned seed = 1;

    (void)state;
    assert_non_null(trace);
    for (unsigned i = 0; i < 200000; i++) {
        const size_t length = i % 40;
        uint8_t *block = malloc(length + 1);
        struct story story = {.text = ""};
        assert_non_null(block);
        for (size_t at = 0; at < length; at++) {
            seed = seed * 1103515245u + 12345u;
            /* Small numbers, so that handles meet and lengths fit now and then. */
            block[at] = (uint8_t)((seed >> 16) & (at < 8 ? 0x3u : 0xFFu));
        }
        if (length > 3 && i % 2 == 0)
            block[2] = (uint8_t)(length - 4), block[3] = 0;
        const struct btsnoop_record record = {
            i % 3 == 0 ? BTSNOOP_EVENT : BTSNOOP_ACL, 0, i % 5 == 0, 1, block, length};
        att_trace_read(trace, &record, tell, &story);
        free(block);
    }
    free(trace);
}

int main(void)
{
    struct CMUnitTest tests[32];
    size_t count = 0;

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tests[count++] = (struct CMUnitTest){rows[i].name, test_row, NULL, NULL, &rows[i]};
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_many_links);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_what_is_written_reads_back);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_chance);
    return _cmocka_run_group_tests("att_trace", tests, count, NULL, NULL);
}
