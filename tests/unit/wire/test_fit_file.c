/*
 * Octets of FIT files against published ones.
 */
#include "wire/fit_file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* ---- the check sum ---- */

struct crc_row {
    const char *source;
    size_t length;
    uint8_t octets[12];
    uint16_t crc;
};

static struct crc_row crc_rows[] = {
    {"the check value of CRC-16/ARC in the RevEng catalogue", 9, "123456789", 0xBB3D},
    {"nothing", 0, {0}, 0},
    {"the head of a published workout file, protocol 1.0, profile 21.25",
     12,
     {0x0E, 0x10, 0x4D, 0x08, 0xCE, 0x03, 0x00, 0x00, 0x2E, 0x46, 0x49, 0x54},
     0xB729},
    {"the head of the protocol kit's short test file, protocol 2.0, profile 21.87",
     12,
     {0x0E, 0x20, 0x8B, 0x08, 0x24, 0x00, 0x00, 0x00, 0x2E, 0x46, 0x49, 0x54},
     0xA38E},
};

static void test_crc(void **state)
{
    const struct crc_row *row = *state;
    assert_int_equal(fit_file_crc(0, row->octets, row->length), row->crc);
    /* in two parts */
    const uint16_t first = fit_file_crc(0, row->octets, row->length / 2);
    assert_int_equal(
        fit_file_crc(first, row->octets + row->length / 2, row->length - row->length / 2),
        row->crc);
}

/* ---- a file ---- */

/* The short file of the protocol kit's own tests: one file_id with type, manufacturer, time_created
 * and product_name. */
static const uint8_t short_file[] = {
    0x0E, 0x20, 0x8B, 0x08, 0x24, 0x00, 0x00, 0x00, 0x2E, 0x46, 0x49, 0x54, 0x8E, 0xA3, /* head */
    0x40, 0x00, 0x00, 0x00, 0x00, 0x04, 0x00, 0x01, 0x00, 0x01, 0x02, 0x84, 0x04, 0x04,
    0x86, 0x08, 0x0A, 0x07, /* definition */
    0x00, 0x04, 0x01, 0x00, 0x00, 0xCA, 0x9A, 0x3B, 0x61, 0x62, 0x63, 0x64, 0x65, 0x66,
    0x67, 0x68, 0x69, 0x00, /* message */
    0x5D, 0xF2};

static const struct fit_field short_fields[] = {
    {0, FIT_ENUM, 0}, {1, FIT_UINT16, 0}, {4, FIT_UINT32, 0}, {8, FIT_STRING, 10}};
static const struct fit_message short_message = {.global = 0, .count = 4, .fields = short_fields};

static void write_short(struct bytes_writer *writer)
{
    const struct fit_value values[] = {{.known = true, .number = 4},
                                       {.known = true, .number = 1},
                                       {.known = true, .number = 1000000000},
                                       {.known = true, .text = "abcdefghi"}};

    fit_file_begin(writer);
    fit_file_define(writer, &short_message);
    fit_file_put(writer, &short_message, values);
    fit_file_end(writer);
}

static void test_published_file(void **state)
{
    uint8_t octets[sizeof short_file];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);
    (void)state;
    write_short(&writer);
    assert_false(writer.failed);
    assert_int_equal(writer.length, sizeof short_file);
    assert_memory_equal(octets, short_file, sizeof short_file);
}

static void test_any_smaller_room_fails(void **state)
{
    (void)state;
    for (size_t room = 0; room < sizeof short_file; room++) {
        uint8_t *octets = malloc(room + 1);
        assert_non_null(octets);
        struct bytes_writer writer = bytes_writer(octets, room);
        write_short(&writer);
        assert_true(writer.failed);
        free(octets);
    }
}

/* ---- values: "base types" of the protocol, with what each has for "invalid" ---- */

struct value_row {
    const char *name;
    struct fit_field field;
    struct fit_value value;
    size_t length;
    uint8_t octets[4];
};

static struct value_row value_rows[] = {
    {"enum", {9, FIT_ENUM, 0}, {true, 7, NULL}, 1, {7}},
    {"enum, not known", {9, FIT_ENUM, 0}, {false, 7, NULL}, 1, {0xFF}},
    {"uint8", {9, FIT_UINT8, 0}, {true, 254, NULL}, 1, {0xFE}},
    {"uint8, too large", {9, FIT_UINT8, 0}, {true, 256, NULL}, 1, {0xFF}},
    {"uint16", {9, FIT_UINT16, 0}, {true, 0x1234, NULL}, 2, {0x34, 0x12}},
    {"uint16, not known", {9, FIT_UINT16, 0}, {false, 0, NULL}, 2, {0xFF, 0xFF}},
    {"uint16, too large", {9, FIT_UINT16, 0}, {true, 70000, NULL}, 2, {0xFF, 0xFF}},
    {"uint32", {9, FIT_UINT32, 0}, {true, 0x12345678, NULL}, 4, {0x78, 0x56, 0x34, 0x12}},
    {"uint32, not known", {9, FIT_UINT32, 0}, {false, 1, NULL}, 4, {0xFF, 0xFF, 0xFF, 0xFF}},
    {"string", {9, FIT_STRING, 4}, {true, 0, "ab"}, 4, {'a', 'b', 0, 0}},
    {"string, cut", {9, FIT_STRING, 4}, {true, 0, "abcdef"}, 4, {'a', 'b', 'c', 0}},
    {"string, not known", {9, FIT_STRING, 4}, {false, 0, NULL}, 4, {0, 0, 0, 0}},
};

static void test_value(void **state)
{
    const struct value_row *row = *state;
    const struct fit_message message = {
        .global = 20, .local = 3, .count = 1, .fields = &row->field};
    uint8_t octets[8];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);

    fit_file_put(&writer, &message, &row->value);
    assert_int_equal(writer.length, row->length + 1);
    assert_int_equal(octets[0], 3); /* a normal header of local message 3 */
    assert_memory_equal(octets + 1, row->octets, row->length);
}

int main(void)
{
    enum {
        CRCS = sizeof crc_rows / sizeof crc_rows[0],
        VALUES = sizeof value_rows / sizeof value_rows[0]
    };
    static const struct CMUnitTest files[] = {
        cmocka_unit_test(test_published_file),
        cmocka_unit_test(test_any_smaller_room_fails),
    };
    struct CMUnitTest crcs[CRCS] = {{0}}, values[VALUES] = {{0}};
    for (size_t i = 0; i < CRCS; i++)
        crcs[i] = (struct CMUnitTest){
            .name = crc_rows[i].source, .test_func = test_crc, .initial_state = &crc_rows[i]};
    for (size_t i = 0; i < VALUES; i++)
        values[i] = (struct CMUnitTest){
            .name = value_rows[i].name, .test_func = test_value, .initial_state = &value_rows[i]};
    int failed = cmocka_run_group_tests_name("fit_file", files, NULL, NULL);
    failed += cmocka_run_group_tests_name("fit_file: crc", crcs, NULL, NULL);
    return failed + cmocka_run_group_tests_name("fit_file: values", values, NULL, NULL);
}
