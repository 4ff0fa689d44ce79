/*
 * Check values. "by hand": composed after BlueZ 5.66, src/shared/btsnoop.c; Wireshark 4.0.17 shows
 * the same. "format": the time that the format's description gives for the year 2000.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/btsnoop.h"

#define MAGIC "62 74 73 6e 6f 6f 70 00 "
#define V1    "00 00 00 01 "

struct open_row {
    const char *name, *octets;
    enum result result;
};

static struct open_row open_rows[] = {
    {"packets", MAGIC V1 "00 00 03 e9", RESULT_OK},
    {"with an octet before each", MAGIC V1 "00 00 03 ea", RESULT_OK},
    {"of a monitor", MAGIC V1 "00 00 07 d1", RESULT_OK},
    {"another datalink", MAGIC V1 "00 00 03 eb", RESULT_UNSUPPORTED},
    {"another version", MAGIC "00 00 00 02 00 00 03 ea", RESULT_UNSUPPORTED},
    {"another kind of file", "62 74 73 6e 6f 6f 70 21 " V1 "00 00 03 ea", RESULT_INVALID},
    {"too short", MAGIC V1 "00 00 03", RESULT_INVALID},
    {"nothing", "", RESULT_INVALID},
};

static void test_open(void **state)
{
    const struct open_row *row = *state;
    uint8_t octets[64];
    struct btsnoop_reader reader;
    const size_t length = octets_from_text(row->octets, octets, sizeof octets);

    assert_int_equal(btsnoop_open(octets, length, &reader), row->result);
}

#define TIME_2000 "00 e0 3a b4 4a 67 60 00 "
#define US_2000   946684800000000 /* format */

struct record_row {
    const char *name, *octets; /* behind the header */
    const char *datalink;
    struct btsnoop_record expected; /* packet left out */
    const char *packet;
};

static struct record_row record_rows[] = {
    {"by hand: data sent, 1001",
     "00 00 00 03 00 00 00 03 00 00 00 00 00 00 00 00 " TIME_2000 "40 00 01",
     "00 00 03 e9",
     {BTSNOOP_ACL, 0, false, US_2000, NULL, 0},
     "40 00 01"},
    {"by hand: event, 1001",
     "00 00 00 02 00 00 00 02 00 00 00 03 00 00 00 00 " TIME_2000 "05 04",
     "00 00 03 e9",
     {BTSNOOP_EVENT, 0, true, US_2000, NULL, 0},
     "05 04"},
    {"by hand: command, 1001",
     "00 00 00 02 00 00 00 02 00 00 00 02 00 00 00 00 " TIME_2000 "05 04",
     "00 00 03 e9",
     {BTSNOOP_OTHER, 0, false, US_2000, NULL, 0},
     "05 04"},
    {"by hand: data received, 1002",
     "00 00 00 03 00 00 00 03 00 00 00 01 00 00 00 00 " TIME_2000 "02 40 00",
     "00 00 03 ea",
     {BTSNOOP_ACL, 0, true, US_2000, NULL, 0},
     "40 00"},
    {"by hand: event, 1002",
     "00 00 00 03 00 00 00 03 00 00 00 03 00 00 00 00 " TIME_2000 "04 05 04",
     "00 00 03 ea",
     {BTSNOOP_EVENT, 0, true, US_2000, NULL, 0},
     "05 04"},
    {"by hand: sound, 1002",
     "00 00 00 03 00 00 00 03 00 00 00 01 00 00 00 00 " TIME_2000 "03 05 04",
     "00 00 03 ea",
     {BTSNOOP_OTHER, 0, true, US_2000, NULL, 0},
     "05 04"},
    {"by hand: an empty packet, 1002",
     "00 00 00 00 00 00 00 00 00 00 00 01 00 00 00 00 " TIME_2000,
     "00 00 03 ea",
     {BTSNOOP_OTHER, 0, true, US_2000, NULL, 0},
     ""},
    {"by hand: data sent by hci2, 2001",
     "00 00 00 02 00 00 00 02 00 02 00 04 00 00 00 00 " TIME_2000 "40 00",
     "00 00 07 d1",
     {BTSNOOP_ACL, 2, false, US_2000, NULL, 0},
     "40 00"},
    {"by hand: data received by hci1, 2001",
     "00 00 00 02 00 00 00 02 00 01 00 05 00 00 00 00 " TIME_2000 "40 00",
     "00 00 07 d1",
     {BTSNOOP_ACL, 1, true, US_2000, NULL, 0},
     "40 00"},
    {"by hand: event, 2001",
     "00 00 00 02 00 00 00 02 00 00 00 03 00 00 00 00 " TIME_2000 "05 04",
     "00 00 07 d1",
     {BTSNOOP_EVENT, 0, true, US_2000, NULL, 0},
     "05 04"},
    {"by hand: a note, 2001",
     "00 00 00 02 00 00 00 02 ff ff 00 0c 00 00 00 00 " TIME_2000 "41 00",
     "00 00 07 d1",
     {BTSNOOP_OTHER, 0xFFFF, true, US_2000, NULL, 0},
     "41 00"},
    {"by hand: kept in part",
     "00 00 00 09 00 00 00 03 00 00 00 01 00 00 00 00 " TIME_2000 "02 40 00",
     "00 00 03 ea",
     {BTSNOOP_OTHER, 0, true, US_2000, NULL, 0},
     "40 00"},
    {"by hand: a time before 1970",
     "00 00 00 02 00 00 00 02 00 00 00 03 00 00 00 00 "
     "80 00 00 00 00 00 00 00 05 04",
     "00 00 07 d1",
     {BTSNOOP_EVENT, 0, true, 0, NULL, 0},
     "05 04"},
};

static size_t file_of(const struct record_row *row, uint8_t *ret, size_t capacity)
{
    size_t length = octets_from_text(MAGIC V1, ret, capacity);
    length += octets_from_text(row->datalink, ret + length, capacity - length);
    return length + octets_from_text(row->octets, ret + length, capacity - length);
}

static void test_record(void **state)
{
    const struct record_row *row = *state;
    uint8_t octets[128];
    struct btsnoop_reader reader;
    struct btsnoop_record record;
    const size_t length = file_of(row, octets, sizeof octets);

    assert_int_equal(btsnoop_open(octets, length, &reader), RESULT_OK);
    assert_int_equal(btsnoop_next(&reader, &record), RESULT_OK);
    assert_int_equal(record.kind, row->expected.kind);
    assert_int_equal(record.adapter, row->expected.adapter);
    assert_int_equal(record.is_received, row->expected.is_received);
    assert_true(record.time_us == row->expected.time_us);
    assert_octets(record.packet, record.length, row->packet);
    assert_int_equal(btsnoop_next(&reader, &record), RESULT_NOT_FOUND);
    assert_int_equal(btsnoop_next(&reader, &record), RESULT_NOT_FOUND);
}

/* In a block of just that size, so that a read past the end is seen. */
static void test_cut_anywhere(void **state)
{
    uint8_t octets[128];
    const size_t length = file_of(*state, octets, sizeof octets);

    for (size_t kept = BTSNOOP_HEADER_OCTETS + 1; kept < length; kept++) {
        uint8_t *block = malloc(kept);
        struct btsnoop_reader reader;
        struct btsnoop_record record;
        assert_non_null(block);
        memcpy(block, octets, kept);
        assert_int_equal(btsnoop_open(block, kept, &reader), RESULT_OK);
        assert_int_equal(btsnoop_next(&reader, &record), RESULT_NEED_MORE);
        assert_int_equal(btsnoop_next(&reader, &record), RESULT_NEED_MORE);
        free(block);
    }
}

static void test_written(void **state)
{
    const uint8_t packet[] = {0x40, 0x00};
    uint8_t octets[128];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);
    struct btsnoop_record record = {BTSNOOP_ACL, 0, true, US_2000 + 1, packet, sizeof packet};

    (void)state;
    btsnoop_put_header(&writer);
    btsnoop_put(&writer, &record);
    record.kind = BTSNOOP_EVENT;
    record.time_us = US_2000;
    btsnoop_put(&writer, &record);
    assert_false(writer.failed);
    assert_octets(octets, writer.length,
                  MAGIC V1 "00 00 03 ea"
                           "00 00 00 03 00 00 00 03 00 00 00 01 00 00 00 00 "
                           "00 e0 3a b4 4a 67 60 01 02 40 00"
                           "00 00 00 03 00 00 00 03 00 00 00 03 00 00 00 00 " TIME_2000 "04 40 00");
}

int main(void)
{
    struct CMUnitTest tests[64];
    size_t count = 0;

    for (size_t i = 0; i < sizeof open_rows / sizeof open_rows[0]; i++)
        tests[count++] =
            (struct CMUnitTest){open_rows[i].name, test_open, NULL, NULL, &open_rows[i]};
    for (size_t i = 0; i < sizeof record_rows / sizeof record_rows[0]; i++)
        tests[count++] =
            (struct CMUnitTest){record_rows[i].name, test_record, NULL, NULL, &record_rows[i]};
    tests[count++] =
        (struct CMUnitTest)cmocka_unit_test_prestate(test_cut_anywhere, &record_rows[0]);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_written);
    return _cmocka_run_group_tests("btsnoop", tests, count, NULL, NULL);
}
