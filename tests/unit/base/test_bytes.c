/* Bounds, the sticky failure, and little-endian order, lowest octet first. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/bytes.h"
#include "support/octets.h"

static const uint8_t octets[] = {0x01, 0x34, 0x12, 0x56, 0x34, 0x12, 0xEF, 0xCD, 0xAB, 0x89, 0xFF};

static void reads_little_endian(void **state)
{
    (void)state;
    struct bytes_reader reader = bytes_reader(octets, sizeof octets);
    assert_int_equal(bytes_u8(&reader), 0x01);
    assert_int_equal(bytes_u16(&reader), 0x1234);
    assert_int_equal(bytes_u24(&reader), 0x123456);
    assert_int_equal(bytes_u32(&reader), 0x89ABCDEF);
    assert_int_equal(bytes_left(&reader), 1);
    assert_int_equal(bytes_s8(&reader), -1);
    assert_int_equal(bytes_left(&reader), 0);
    assert_false(reader.failed);
}

struct signed_row {
    uint8_t octets[2];
    int value;
};

static struct signed_row signed_rows[] = {
    {{0x00, 0x00}, 0},     {{0x01, 0x00}, 1},      {{0xFF, 0xFF}, -1},
    {{0xFF, 0x7F}, 32767}, {{0x00, 0x80}, -32768}, {{0xCE, 0xFF}, -50},
};

static void reads_and_writes_twos_complement(void **state)
{
    const struct signed_row *row = *state;
    uint8_t written[2];
    struct bytes_reader reader = bytes_reader(row->octets, 2);
    struct bytes_writer writer = bytes_writer(written, sizeof written);
    assert_int_equal(bytes_s16(&reader), row->value);
    bytes_put_s16(&writer, (int16_t)row->value);
    assert_memory_equal(written, row->octets, 2);
}

static void failed_read_gives_zero_and_sticks(void **state)
{
    (void)state;
    struct bytes_reader reader = bytes_reader(octets, 3);
    assert_int_equal(bytes_u16(&reader), 0x3401);
    assert_int_equal(bytes_u16(&reader), 0); /* one octet is left: not half of it either */
    assert_true(reader.failed);
    assert_int_equal(bytes_left(&reader), 0);
    assert_int_equal(bytes_u8(&reader), 0); /* which would have fitted */
    assert_null(bytes_take(&reader, 0));
    assert_true(reader.failed);
}

static void every_read_stops_at_the_end(void **state)
{
    (void)state;
    for (size_t length = 0; length < 4; length++) {
        struct bytes_reader one = bytes_reader(octets, length), two = one, three = one, four = one;
        bytes_u8(&one);
        bytes_u16(&two);
        bytes_u24(&three);
        bytes_u32(&four);
        assert_int_equal(one.failed, length < 1);
        assert_int_equal(two.failed, length < 2);
        assert_int_equal(three.failed, length < 3);
        assert_int_equal(four.failed, length < 4);
    }
}

static void takes_what_is_there(void **state)
{
    (void)state;
    struct bytes_reader reader = bytes_reader(octets, sizeof octets);
    assert_ptr_equal(bytes_take(&reader, 4), octets);
    assert_ptr_equal(bytes_take(&reader, 7), octets + 4);
    assert_non_null(bytes_take(&reader, 0));
    assert_false(reader.failed);
    assert_null(bytes_take(&reader, SIZE_MAX));
    assert_true(reader.failed);
}

static void reader_of_nothing(void **state)
{
    (void)state;
    struct bytes_reader reader = bytes_reader(NULL, 0), zeroed = {0};
    assert_int_equal(bytes_left(&reader), 0);
    assert_int_equal(bytes_u32(&reader), 0);
    assert_true(reader.failed);
    assert_int_equal(bytes_u8(&zeroed), 0);
    assert_true(zeroed.failed);
}

static void writes_little_endian(void **state)
{
    (void)state;
    uint8_t written[16];
    struct bytes_writer writer = bytes_writer(written, sizeof written);
    bytes_put_u8(&writer, 0x01);
    bytes_put_u16(&writer, 0x1234);
    bytes_put_u24(&writer, 0xFF123456); /* only the low 24 bits */
    bytes_put_u32(&writer, 0x89ABCDEF);
    bytes_put(&writer, (const uint8_t *)"ab", 2);
    bytes_put(&writer, NULL, 0);
    assert_false(writer.failed);
    assert_octets(written, writer.length, "01 34 12 56 34 12 EF CD AB 89 61 62");
}

static void failed_write_does_nothing_and_sticks(void **state)
{
    (void)state;
    uint8_t written[4] = {0xEE, 0xEE, 0xEE, 0xEE};
    struct bytes_writer writer = bytes_writer(written, 3);
    bytes_put_u16(&writer, 0x1234);
    bytes_put_u16(&writer, 0x5678);
    assert_true(writer.failed);
    bytes_put_u8(&writer, 0x99); /* which would have fitted */
    assert_int_equal(writer.length, 2);
    assert_octets(written, sizeof written, "34 12 EE EE");
}

static void puts_what_a_reader_has_left(void **state)
{
    (void)state;
    uint8_t written[4] = {0xEE, 0xEE, 0xEE, 0xEE};
    const uint8_t given[] = {0x01, 0x02, 0x03, 0x04};
    struct bytes_writer writer = bytes_writer(written, 3);
    struct bytes_reader reader = bytes_reader(given, sizeof given), failed = reader;
    bytes_put_rest(&writer, &reader);
    assert_true(writer.failed); /* one more than there is room for */
    assert_octets(written, sizeof written, "EE EE EE EE");
    writer.failed = false;
    bytes_u8(&reader);
    bytes_put_rest(&writer, &reader);
    assert_false(writer.failed);
    assert_octets(written, sizeof written, "02 03 04 EE");
    assert_int_equal(bytes_left(&reader), 3);
    bytes_take(&failed, SIZE_MAX);
    bytes_put_rest(&writer, &failed);
    assert_false(writer.failed);
    assert_int_equal(writer.length, 3);
}

static void writer_fills_to_the_last_octet(void **state)
{
    (void)state;
    uint8_t written[5] = {0xEE, 0xEE, 0xEE, 0xEE, 0xEE};
    struct bytes_writer writer = bytes_writer(written, 4), none = {0};
    bytes_put_u32(&writer, 0);
    assert_false(writer.failed);
    assert_octets(written, sizeof written, "00 00 00 00 EE");
    bytes_put_u8(&none, 1);
    assert_true(none.failed);
}

int main(void)
{
    struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_little_endian),
        cmocka_unit_test(failed_read_gives_zero_and_sticks),
        cmocka_unit_test(every_read_stops_at_the_end),
        cmocka_unit_test(takes_what_is_there),
        cmocka_unit_test(reader_of_nothing),
        cmocka_unit_test(writes_little_endian),
        cmocka_unit_test(failed_write_does_nothing_and_sticks),
        cmocka_unit_test(puts_what_a_reader_has_left),
        cmocka_unit_test(writer_fills_to_the_last_octet),
        cmocka_unit_test_prestate(reads_and_writes_twos_complement, &signed_rows[0]),
        cmocka_unit_test_prestate(reads_and_writes_twos_complement, &signed_rows[1]),
        cmocka_unit_test_prestate(reads_and_writes_twos_complement, &signed_rows[2]),
        cmocka_unit_test_prestate(reads_and_writes_twos_complement, &signed_rows[3]),
        cmocka_unit_test_prestate(reads_and_writes_twos_complement, &signed_rows[4]),
        cmocka_unit_test_prestate(reads_and_writes_twos_complement, &signed_rows[5]),
    };
    return cmocka_run_group_tests_name("bytes", tests, NULL, NULL);
}
