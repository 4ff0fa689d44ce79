/*
 * Messages of an activity, octet by octet. Field numbers, types and units are those of the FIT
 * profile 21.87, tables record, event, lap, session and activity.
 */
#include "wire/fit_activity.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* 1000000000 s after FIT's first second, 1989-12-31T00:00:00Z. */
#define UNIX_S (INT64_C(631065600) + 1000000000)
#define STAMP  0x00, 0xCA, 0x9A, 0x3B

static uint8_t octets[1024];

static struct bytes_writer fresh(void)
{
    memset(octets, 0xEE, sizeof octets);
    return bytes_writer(octets, sizeof octets);
}

static void expect(const struct bytes_writer *writer, const uint8_t *expected, size_t length)
{
    assert_false(writer->failed);
    assert_int_equal(writer->length, length);
    assert_memory_equal(octets, expected, length);
}

static void test_record(void **state)
{
    static const uint8_t expected[] = {3,    STAMP, 0xF0, 0x4F, 0x01, 0x00, /* 860 m in cm */
                                       0xE7, 0x00,  92,   148};
    struct bytes_writer writer = fresh();
    (void)state;
    fit_activity_record(&writer, &(struct fit_record){.unix_s = UNIX_S,
                                                      .distance_m = 860,
                                                      .power_w = 231,
                                                      .cadence_rpm = 92,
                                                      .heart_bpm = 148});
    expect(&writer, expected, sizeof expected);
}

static void test_record_of_nothing(void **state)
{
    static const uint8_t expected[] = {3, STAMP, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    struct bytes_writer writer = fresh();
    (void)state;
    fit_activity_record(
        &writer,
        &(struct fit_record){
            .unix_s = UNIX_S, .distance_m = -1, .power_w = -1, .cadence_rpm = -1, .heart_bpm = -1});
    expect(&writer, expected, sizeof expected);
}

/* Whatever is below 0 is not known, down to the last; the same with times that are none. */
static void test_numbers_at_the_ends(void **state)
{
    static const uint8_t expected[] = {3,    0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF,
                                       0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    static const uint8_t not_known[] = {0xFF, 0xFF, 0xFF, 0xFF};
    struct bytes_writer writer = fresh();
    (void)state;
    fit_activity_record(&writer, &(struct fit_record){.unix_s = INT64_MIN,
                                                      .distance_m = INT64_MIN,
                                                      .power_w = INT32_MIN,
                                                      .cadence_rpm = INT32_MIN,
                                                      .heart_bpm = INT32_MIN});
    expect(&writer, expected, sizeof expected);

    writer = fresh();
    fit_activity_begin(&writer, UNIX_S, 100);
    fit_activity_end(
        &writer, &(struct fit_totals){.span = {.end_unix_s = INT64_MAX}, .local_offset_s = 3600});
    assert_false(writer.failed);
    /* The local time stands last, before the sum. */
    assert_memory_equal(octets + writer.length - 2 - sizeof not_known, not_known, sizeof not_known);
}

static void test_timer(void **state)
{
    static const uint8_t expected[] = {2, STAMP, 0, 0, 2, STAMP, 0, 1, 2, STAMP, 0, 4};
    struct bytes_writer writer = fresh();
    (void)state;
    fit_activity_timer(&writer, UNIX_S, FIT_TIMER_RUNS);
    fit_activity_timer(&writer, UNIX_S, FIT_TIMER_STANDS);
    fit_activity_timer(&writer, UNIX_S, FIT_TIMER_IS_OVER);
    expect(&writer, expected, sizeof expected);
}

static const struct fit_span span = {
    .begin_unix_s = UNIX_S - 40,
    .end_unix_s = UNIX_S,
    .elapsed_ms = 50000,
    .timer_ms = 40000,
    .work_j = 9002,
    .distance_m = 350,
    .average_power_w = 225,
    .max_power_w = 273,
    .average_heart_bpm = 134,
    .max_heart_bpm = 153,
    .average_cadence_rpm = 88,
};

static void test_lap(void **state)
{
    static const uint8_t expected[] = {4,    1,    0,  STAMP, 0xD8, 0xC9, 0x9A, 0x3B, /* begin */
                                       0x50, 0xC3, 0,  0,     0x40, 0x9C, 0,    0,    /* times */
                                       0xB8, 0x88, 0,  0,     0x2A, 0x23, 0,    0, /* 35000, 9002 */
                                       225,  0,    17, 1,     134,  153,  88,   9,
                                       1,    2,    6,  1,     1}; /* rest; by time */
    struct bytes_writer writer = fresh();
    (void)state;
    fit_activity_lap(&writer, 1, FIT_REST, &span);
    expect(&writer, expected, sizeof expected);
}

static void test_end(void **state)
{
    static const uint8_t expected[] =
        {
            5,    0,     0,    STAMP, 0xD8, 0xC9, 0x9A, 0x3B, 0x50, 0xC3, 0, 0,    0x40,
            0x9C, 0,     0,    0xB8,  0x88, 0,    0,    0x2A, 0x23, 0,    0, 225,  0,
            17,   1,     134,  153,   88,   8,    1,    2,    6,    93,   0, 70, /* kcal, effort */
            0,    0,     12,   0,     0,                                         /* laps, trigger */
            6,    STAMP, 0x40, 0x9C,  0,    0,    1,    0,    0,    26,   1, 0x10, 0xD8,
            0x9A, 0x3B}; /* an hour later on the wall */
    struct bytes_writer writer = fresh();
    (void)state;
    bytes_put(&writer, (const uint8_t[FIT_FILE_HEAD_OCTETS]){0}, FIT_FILE_HEAD_OCTETS);
    fit_activity_end(
        &writer,
        &(struct fit_totals){
            .span = span, .calories_kcal = 93, .effort = 7, .laps = 12, .local_offset_s = 3600});
    assert_int_equal(writer.length, FIT_FILE_HEAD_OCTETS + sizeof expected + 2);
    assert_memory_equal(octets + FIT_FILE_HEAD_OCTETS, expected, sizeof expected);
}

struct time_row {
    const char *name;
    int64_t unix_s;
    uint8_t expected[4];
};

/* Below 0x10000000 a date_time counts from a power-on; 0xFFFFFFFF is "invalid". */
static struct time_row time_rows[] = {
    {"the first", FIT_ACTIVITY_FIRST_UNIX_S, {0, 0, 0, 0x10}},
    {"before the first", FIT_ACTIVITY_FIRST_UNIX_S - 1, {0xFF, 0xFF, 0xFF, 0xFF}},
    {"the last", FIT_ACTIVITY_END_UNIX_S - 1, {0xFE, 0xFF, 0xFF, 0xFF}},
    {"after the last", FIT_ACTIVITY_END_UNIX_S, {0xFF, 0xFF, 0xFF, 0xFF}},
    {"long before", INT64_MIN, {0xFF, 0xFF, 0xFF, 0xFF}},
    {"long after", INT64_MAX, {0xFF, 0xFF, 0xFF, 0xFF}},
};

static void test_time(void **state)
{
    const struct time_row *row = *state;
    struct bytes_writer writer = fresh();
    fit_activity_timer(&writer, row->unix_s, FIT_TIMER_RUNS);
    assert_memory_equal(octets + 1, row->expected, sizeof row->expected);
}

/* "The first message is the file_id", says the description of activity files. */
static void test_begin(void **state)
{
    static const uint8_t file_id[] = {0x40, 0, 0, 0,    0, 5, 0, 1, 0, 1,   2, 0x84, 2, 2,
                                      0x84, 4, 4, 0x86, 8, 9, 7, 0, 4, 255, 0, 0,    0, STAMP};
    struct bytes_writer writer = fresh();
    (void)state;
    fit_activity_begin(&writer, UNIX_S, 10);
    assert_false(writer.failed);
    assert_true(writer.length <= FIT_ACTIVITY_CALL_OCTETS);
    assert_memory_equal(octets + FIT_FILE_HEAD_OCTETS, file_id, sizeof file_id);
}

int main(void)
{
    enum { TIMES = sizeof time_rows / sizeof time_rows[0] };
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_begin),
        cmocka_unit_test(test_record),
        cmocka_unit_test(test_record_of_nothing),
        cmocka_unit_test(test_numbers_at_the_ends),
        cmocka_unit_test(test_timer),
        cmocka_unit_test(test_lap),
        cmocka_unit_test(test_end),
    };
    struct CMUnitTest times[TIMES] = {{0}};
    for (size_t i = 0; i < TIMES; i++)
        times[i] = (struct CMUnitTest){
            .name = time_rows[i].name, .test_func = test_time, .initial_state = &time_rows[i]};
    int failed = cmocka_run_group_tests_name("fit_activity", tests, NULL, NULL);
    return failed + cmocka_run_group_tests_name("fit_activity: times", times, NULL, NULL);
}
