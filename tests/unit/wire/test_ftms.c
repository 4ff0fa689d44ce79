/*
 * Check values. "sig-python": the test files of the public repository bluetooth-sig-python
 * (test_indoor_bike_data.py, test_fitness_machine_feature.py, …), commit 27bdb3d. "derived by
 * hand": put together from the tables of Fitness Machine Service 1.0.1 (FTMS).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "wire/ftms.h"

#define FRAME(...) {__VA_ARGS__}, sizeof((uint8_t[]){__VA_ARGS__})

/* ---- Indoor Bike Data ---- */

struct bike_row {
    const char *source;
    uint8_t frame[40];
    size_t length;
    struct ftms_bike_data expected;
};

#define EVERY_FIELD 0x1FFFu

static struct bike_row bike_rows[] = {
    {"sig-python: speed, cadence, heart rate",
     FRAME(0x04, 0x02, 0xC4, 0x09, 0xB4, 0x00, 0x9B),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_HEART_RATE,
      .speed_ckmh = 2500,
      .cadence_half_rpm = 180,
      .heart_bpm = 155}},
    {"sig-python: every field, resistance in one octet",
     FRAME(0xFE, 0x1F, 0xB8, 0x0B, 0xF0, 0x0A, 0xA0, 0x00, 0x96, 0x00, 0x10, 0x27, 0x00, 0x07, 0xC8,
           0x00, 0xB9, 0x00, 0x20, 0x03, 0x90, 0x01, 0x07, 0x91, 0x50, 0x18, 0x15, 0x58, 0x02),
     {.has = EVERY_FIELD,
      .speed_ckmh = 3000,
      .average_speed_ckmh = 2800,
      .cadence_half_rpm = 160,
      .average_cadence_half_rpm = 150,
      .distance_m = 10000,
      .resistance = 7,
      .resistance_octets = 1,
      .power_w = 200,
      .average_power_w = 185,
      .energy_kcal = 800,
      .energy_kcal_per_hour = 400,
      .energy_kcal_per_minute = 7,
      .heart_bpm = 145,
      .metabolic_equivalent_tenths = 80,
      .elapsed_s = 5400,
      .remaining_s = 600}},
    {"sig-python: negative power",
     FRAME(0xC1, 0x00, 0xCE, 0xFF, 0xE7, 0xFF),
     {.has = FTMS_BIKE_POWER | FTMS_BIKE_AVERAGE_POWER,
      .more_data = true,
      .power_w = -50,
      .average_power_w = -25}},
    {"sig-python: cadence alone",
     FRAME(0x05, 0x00, 0x91, 0x00),
     {.has = FTMS_BIKE_CADENCE, .more_data = true, .cadence_half_rpm = 145}},
    {"derived by hand: speed, cadence, power",
     FRAME(0x44, 0x00, 0xA8, 0x0C, 0xB4, 0x00, 0xC8, 0x00),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_POWER,
      .speed_ckmh = 3240,
      .cadence_half_rpm = 180,
      .power_w = 200}},
    {"derived by hand: resistance in two octets",
     FRAME(0x64, 0x00, 0xA8, 0x0C, 0xB4, 0x00, 0x05, 0x00, 0xC8, 0x00),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_RESISTANCE | FTMS_BIKE_POWER,
      .speed_ckmh = 3240,
      .cadence_half_rpm = 180,
      .resistance = 5,
      .resistance_octets = 2,
      .power_w = 200}},
    {"derived by hand: same flags, resistance in one octet",
     FRAME(0x64, 0x00, 0xA8, 0x0C, 0xB4, 0x00, 0x05, 0xC8, 0x00),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_RESISTANCE | FTMS_BIKE_POWER,
      .speed_ckmh = 3240,
      .cadence_half_rpm = 180,
      .resistance = 5,
      .resistance_octets = 1,
      .power_w = 200}},
    {"derived by hand: first part of a record",
     FRAME(0x55, 0x00, 0xB4, 0x00, 0x10, 0x27, 0x00, 0xC8, 0x00),
     {.has = FTMS_BIKE_CADENCE | FTMS_BIKE_DISTANCE | FTMS_BIKE_POWER,
      .more_data = true,
      .cadence_half_rpm = 180,
      .distance_m = 10000,
      .power_w = 200}},
    {"derived by hand: last part, energy not known (FTMS 1.0, 4.9.1.10 to 12)",
     FRAME(0x00, 0x0B, 0xA8, 0x0C, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x00, 0x58, 0x02),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_ENERGY | FTMS_BIKE_HEART_RATE | FTMS_BIKE_ELAPSED,
      .speed_ckmh = 3240,
      .energy_kcal = 0xFFFF,
      .energy_kcal_per_hour = 0xFFFF,
      .energy_kcal_per_minute = 0xFF,
      .elapsed_s = 600}},
    {"derived by hand: distance of three octets",
     FRAME(0x11, 0x00, 0x03, 0x02, 0x01),
     {.has = FTMS_BIKE_DISTANCE, .more_data = true, .distance_m = 66051}},
    {"FTMS table 4.10: no flags is speed alone",
     FRAME(0x00, 0x00, 0x10, 0x27),
     {.has = FTMS_BIKE_SPEED, .speed_ckmh = 10000}},
    {"FTMS table 4.10: more data and nothing else", FRAME(0x01, 0x00), {.more_data = true}},
    {"Fitness Machine Profile 1.0, 4.4.7: reserved flags and extra octets are ignored",
     FRAME(0x44, 0xE0, 0xA8, 0x0C, 0xB4, 0x00, 0xC8, 0x00, 0xAA, 0xBB),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_POWER,
      .speed_ckmh = 3240,
      .cadence_half_rpm = 180,
      .power_w = 200}},
    {"derived by hand: power is cut in half",
     FRAME(0x44, 0x00, 0xA8, 0x0C, 0xB4, 0x00, 0xC8),
     {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE,
      .is_short = true,
      .speed_ckmh = 3240,
      .cadence_half_rpm = 180}},
    {"derived by hand: power is missing, heart rate would fit in the octet left",
     FRAME(0x41, 0x02, 0x91),
     {.more_data = true, .is_short = true}},
    {"derived by hand: energy is cut, its whole numbers are not kept either",
     FRAME(0x00, 0x01, 0xA8, 0x0C, 0x20, 0x03, 0x90, 0x01),
     {.has = FTMS_BIKE_SPEED, .is_short = true, .speed_ckmh = 3240}},
    {"derived by hand: flags without anything",
     FRAME(0xFE, 0x1F),
     {.is_short = true, .resistance_octets = 2}},
};

static void assert_same_bike_data(const struct ftms_bike_data *a, const struct ftms_bike_data *b)
{
    assert_int_equal(a->has, b->has);
    assert_int_equal(a->more_data, b->more_data);
    assert_int_equal(a->is_short, b->is_short);
    assert_int_equal(a->speed_ckmh, b->speed_ckmh);
    assert_int_equal(a->average_speed_ckmh, b->average_speed_ckmh);
    assert_int_equal(a->cadence_half_rpm, b->cadence_half_rpm);
    assert_int_equal(a->average_cadence_half_rpm, b->average_cadence_half_rpm);
    assert_int_equal(a->distance_m, b->distance_m);
    assert_int_equal(a->resistance, b->resistance);
    assert_int_equal(a->resistance_octets, b->resistance_octets);
    assert_int_equal(a->power_w, b->power_w);
    assert_int_equal(a->average_power_w, b->average_power_w);
    assert_int_equal(a->energy_kcal, b->energy_kcal);
    assert_int_equal(a->energy_kcal_per_hour, b->energy_kcal_per_hour);
    assert_int_equal(a->energy_kcal_per_minute, b->energy_kcal_per_minute);
    assert_int_equal(a->heart_bpm, b->heart_bpm);
    assert_int_equal(a->metabolic_equivalent_tenths, b->metabolic_equivalent_tenths);
    assert_int_equal(a->elapsed_s, b->elapsed_s);
    assert_int_equal(a->remaining_s, b->remaining_s);
}

static void decodes_bike_data(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof bike_rows / sizeof bike_rows[0]; i++) {
        const struct bike_row *row = &bike_rows[i];
        struct ftms_bike_data data;
        print_message("%s\n", row->source);
        assert_int_equal(ftms_decode_bike_data(row->frame, row->length, &data), RESULT_OK);
        assert_same_bike_data(&data, &row->expected);
    }
}

static void needs_the_flags_of_bike_data(void **state)
{
    (void)state;
    struct ftms_bike_data data = {.power_w = 1};
    assert_int_equal(ftms_decode_bike_data((uint8_t[]){0x44}, 1, &data), RESULT_NEED_MORE);
    assert_int_equal(ftms_decode_bike_data(NULL, 0, &data), RESULT_NEED_MORE);
    assert_int_equal(data.power_w, 1);
}

/* The frames of the rows that hold exactly what their flags say come back octet for octet. */
static void encodes_bike_data(void **state)
{
    (void)state;
    static const size_t whole[] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11};
    for (size_t i = 0; i < sizeof whole / sizeof whole[0]; i++) {
        const struct bike_row *row = &bike_rows[whole[i]];
        uint8_t frame[FTMS_BIKE_DATA_MAX];
        print_message("%s\n", row->source);
        assert_int_equal(ftms_encode_bike_data(&row->expected, frame), row->length);
        assert_memory_equal(frame, row->frame, row->length);
    }
}

static void longest_frame_has_thirty_octets(void **state)
{
    (void)state;
    struct ftms_bike_data all = {.has = 0xFFFFFFFFu, .resistance = -1, .resistance_octets = 2};
    uint8_t frame[FTMS_BIKE_DATA_MAX];
    assert_int_equal(ftms_encode_bike_data(&all, frame), 30);
    assert_int_equal(frame[0], 0xFE);
    assert_int_equal(frame[1], 0x1F);
    assert_int_equal(frame[13], 0xFF);
    assert_int_equal(frame[14], 0xFF);
}

static void puts_the_parts_of_a_record_together(void **state)
{
    (void)state;
    struct ftms_record record = {0};
    struct ftms_bike_data closed = {0};
    const struct ftms_bike_data *first = &bike_rows[7].expected;
    const struct ftms_bike_data *last = &bike_rows[8].expected;
    struct ftms_bike_data newer = {.has = FTMS_BIKE_POWER, .more_data = true, .power_w = 210};

    assert_false(ftms_record_add(&record, first, &closed));
    assert_false(ftms_record_add(&record, &newer, &closed));
    assert_int_equal(closed.has, 0);
    assert_true(ftms_record_add(&record, last, &closed));
    assert_int_equal(closed.has, FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_DISTANCE |
                                     FTMS_BIKE_POWER | FTMS_BIKE_ENERGY | FTMS_BIKE_HEART_RATE |
                                     FTMS_BIKE_ELAPSED);
    assert_false(closed.more_data);
    assert_int_equal(closed.cadence_half_rpm, 180);
    assert_int_equal(closed.distance_m, 10000);
    assert_int_equal(closed.power_w, 210);
    assert_int_equal(closed.speed_ckmh, 3240);
    assert_int_equal(closed.energy_kcal, 0xFFFF);
    assert_int_equal(closed.elapsed_s, 600);

    /* Nothing of the last record stays for the next one. */
    assert_true(ftms_record_add(&record, &bike_rows[10].expected, &closed));
    assert_int_equal(closed.has, FTMS_BIKE_SPEED);
}

static void record_keeps_every_field_and_its_flaws(void **state)
{
    (void)state;
    struct ftms_record record = {0};
    struct ftms_bike_data closed;
    struct ftms_bike_data cut = {.more_data = true, .is_short = true};
    assert_false(ftms_record_add(&record, &cut, &closed));
    assert_true(ftms_record_add(&record, &bike_rows[1].expected, &closed));
    assert_true(closed.is_short);
    closed.is_short = false;
    assert_same_bike_data(&closed, &bike_rows[1].expected);
}

/* ---- feature, ranges, status ---- */

static void decodes_features(void **state)
{
    (void)state;
    /* sig-python, test_fitness_machine_feature.py; meanings from FTMS tables 4.3 and 4.4. */
    static const uint8_t value[] = {0x80, 0x74, 0, 0, 0x1F, 0x20, 0, 0};
    struct ftms_feature feature;
    assert_int_equal(ftms_decode_feature(value, sizeof value, &feature), RESULT_OK);
    assert_int_equal(feature.machine, FTMS_HAS_RESISTANCE_LEVEL | FTMS_HAS_HEART_RATE |
                                          FTMS_HAS_ELAPSED_TIME | FTMS_HAS_REMAINING_TIME |
                                          FTMS_HAS_POWER);
    assert_int_equal(feature.target, FTMS_TAKES_SPEED | FTMS_TAKES_INCLINATION |
                                         FTMS_TAKES_RESISTANCE | FTMS_TAKES_POWER |
                                         FTMS_TAKES_HEART_RATE | FTMS_TAKES_SIMULATION);
    assert_int_equal(ftms_decode_feature(value, 7, &feature), RESULT_NEED_MORE);
}

struct range_row {
    const char *source;
    uint16_t characteristic;
    uint8_t value[8];
    size_t length;
    enum result result;
    struct ftms_range expected;
};

static void decodes_ranges(void **state)
{
    (void)state;
    static const struct range_row rows[] = {
        {"sig-python, test_supported_power_range.py",
         FTMS_POWER_RANGE,
         FRAME(0x01, 0x00, 0xE8, 0x03, 0x05, 0x00),
         RESULT_OK,
         {1, 1000, 5}},
        {"derived by hand: -30.0 to 30.0 % by 1.0",
         FTMS_INCLINATION_RANGE,
         FRAME(0xD4, 0xFE, 0x2C, 0x01, 0x0A, 0x00),
         RESULT_OK,
         {-300, 300, 10}},
        {"derived by hand: 1.0 to 100.0 by 1.0",
         FTMS_RESISTANCE_RANGE,
         FRAME(0x0A, 0x00, 0xE8, 0x03, 0x0A, 0x00),
         RESULT_OK,
         {10, 1000, 10}},
        {"derived by hand: three octets, GATT Specification Supplement",
         FTMS_RESISTANCE_RANGE,
         FRAME(0x0A, 0xC8, 0x05),
         RESULT_OK,
         {10, 200, 5}},
        {"derived by hand: speed has no sign",
         FTMS_SPEED_RANGE,
         FRAME(0x00, 0x00, 0xFF, 0xFF, 0x0A, 0x00),
         RESULT_OK,
         {0, 65535, 10}},
        {"derived by hand: heart rate in octets",
         FTMS_HEART_RATE_RANGE,
         FRAME(0x3C, 0xDC, 0x01),
         RESULT_OK,
         {60, 220, 1}},
        {"common practice: increment 0 counts as 1",
         FTMS_POWER_RANGE,
         FRAME(0x00, 0x00, 0x90, 0x01, 0x00, 0x00),
         RESULT_OK,
         {0, 400, 1}},
        {"common practice: an inverted range is none",
         FTMS_POWER_RANGE,
         FRAME(0xE8, 0x03, 0x01, 0x00, 0x05, 0x00),
         RESULT_RANGE,
         {0}},
        {"common practice: an empty range is none",
         FTMS_POWER_RANGE,
         FRAME(0, 0, 0, 0, 0, 0),
         RESULT_RANGE,
         {0}},
        {"too short", FTMS_POWER_RANGE, FRAME(0x01, 0x00, 0xE8, 0x03, 0x05), RESULT_NEED_MORE, {0}},
        {"too short", FTMS_RESISTANCE_RANGE, FRAME(0x01, 0xE8), RESULT_NEED_MORE, {0}},
        {"no range at all", FTMS_FEATURE, FRAME(1, 2, 3, 4, 5, 6), RESULT_UNSUPPORTED, {0}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct range_row *row = &rows[i];
        struct ftms_range range = {0};
        print_message("%s\n", row->source);
        assert_int_equal(ftms_decode_range(row->characteristic, row->value, row->length, &range),
                         row->result);
        assert_int_equal(range.minimum, row->expected.minimum);
        assert_int_equal(range.maximum, row->expected.maximum);
        assert_int_equal(range.increment, row->expected.increment);
    }
    assert_int_equal(ftms_resistance_octets(3), 1);
    assert_int_equal(ftms_resistance_octets(6), 2);
    assert_int_equal(ftms_resistance_octets(0), 2);
}

struct status_row {
    uint8_t value[6];
    size_t length;
    struct ftms_status expected;
};

static void decodes_status(void **state)
{
    (void)state;
    static const struct status_row rows[] = {
        /* sig-python, test_fitness_machine_status.py */
        {FRAME(0x01), {FTMS_STATUS_RESET, false, 0}},
        {FRAME(0x02, 0x01), {FTMS_STATUS_STOPPED_BY_USER, true, 1}},
        {FRAME(0x04), {FTMS_STATUS_STARTED_BY_USER, false, 0}},
        {FRAME(0xFF), {FTMS_STATUS_CONTROL_LOST, false, 0}},
        /* derived by hand from FTMS table 4.27; 07 in both widths (erratum 10194) */
        {FRAME(0x02, 0x02), {FTMS_STATUS_STOPPED_BY_USER, true, 2}},
        {FRAME(0x03), {FTMS_STATUS_SAFETY_KEY, false, 0}},
        {FRAME(0x07, 0x7B), {FTMS_STATUS_RESISTANCE_CHANGED, true, 123}},
        {FRAME(0x07, 0x7B, 0x01), {FTMS_STATUS_RESISTANCE_CHANGED, true, 379}},
        {FRAME(0x08, 0xFF, 0xFF), {FTMS_STATUS_POWER_CHANGED, true, -1}},
        {FRAME(0x08, 0xFA, 0x00, 0x99), {FTMS_STATUS_POWER_CHANGED, true, 250}},
        /* cut short, or not ours to read */
        {FRAME(0x02), {FTMS_STATUS_STOPPED_BY_USER, false, 0}},
        {FRAME(0x08, 0xFA), {FTMS_STATUS_POWER_CHANGED, false, 0}},
        {FRAME(0x05, 0xE8, 0x03), {0x05, false, 0}},
    };
    struct ftms_status status;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(ftms_decode_status(rows[i].value, rows[i].length, &status), RESULT_OK);
        assert_int_equal(status.opcode, rows[i].expected.opcode);
        assert_int_equal(status.has_parameter, rows[i].expected.has_parameter);
        assert_int_equal(status.parameter, rows[i].expected.parameter);
    }
    assert_int_equal(ftms_decode_status(NULL, 0, &status), RESULT_NEED_MORE);
}

static void decodes_training_status(void **state)
{
    (void)state;
    /* sig-python, test_training_status.py */
    static const uint8_t warm[] = {0x01, 0x02, 0x57, 0x61, 0x72, 0x6D};
    struct ftms_training_status training;
    assert_int_equal(ftms_decode_training_status(warm, sizeof warm, &training), RESULT_OK);
    assert_int_equal(training.status, 0x02); /* warming up */
    assert_int_equal(training.text_length, 4);
    assert_memory_equal(training.text, "Warm", 4);
    assert_false(training.is_longer);

    /* derived by hand from FTMS 1.0, 4.10: the flag decides, and longer text needs a read */
    static const uint8_t unflagged[] = {0x02, 0x0C, 0x57};
    assert_int_equal(ftms_decode_training_status(unflagged, sizeof unflagged, &training),
                     RESULT_OK);
    assert_int_equal(training.status, 0x0C);
    assert_null(training.text);
    assert_int_equal(training.text_length, 0);
    assert_true(training.is_longer);

    static const uint8_t no_text[] = {0x01, 0x01};
    assert_int_equal(ftms_decode_training_status(no_text, sizeof no_text, &training), RESULT_OK);
    assert_null(training.text);
    assert_int_equal(ftms_decode_training_status(no_text, 1, &training), RESULT_NEED_MORE);
}

/* ---- control point ---- */

struct response_row {
    uint8_t value[8];
    size_t length;
    enum result result;
    struct ftms_response expected;
};

static void decodes_responses(void **state)
{
    (void)state;
    static const struct response_row rows[] = {
        /* sig-python, test_fitness_machine_control_point.py */
        {FRAME(0x80, 0x02, 0x01), RESULT_OK, {FTMS_SET_SPEED, FTMS_SUCCESS}},
        /* derived by hand from FTMS appendix 3: spin down carries two speeds */
        {FRAME(0x80, 0x13, 0x01, 0xD0, 0x07, 0xC4, 0x09), RESULT_OK, {0x13, FTMS_SUCCESS}},
        {FRAME(0x80, 0x00, 0x05), RESULT_OK, {FTMS_REQUEST_CONTROL, FTMS_CONTROL_NOT_PERMITTED}},
        /* seen from machines: the result alone, or no result */
        {FRAME(0x02), RESULT_OK, {FTMS_SET_POWER, FTMS_NOT_SUPPORTED}},
        {FRAME(0x80, 0x05), RESULT_OK, {FTMS_SET_POWER, FTMS_OPERATION_FAILED}},
        {FRAME(0x80), RESULT_NEED_MORE, {0}},
        {FRAME(0x05, 0x01), RESULT_INVALID, {0}},
        {FRAME(0x81, 0x05, 0x01), RESULT_INVALID, {0}},
    };
    struct ftms_response response;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        response = (struct ftms_response){0};
        assert_int_equal(
            ftms_decode_response(rows[i].value, rows[i].length, FTMS_SET_POWER, &response),
            rows[i].result);
        assert_int_equal(response.request, rows[i].expected.request);
        assert_int_equal(response.result, rows[i].expected.result);
    }
    assert_int_equal(ftms_decode_response(NULL, 0, FTMS_SET_POWER, &response), RESULT_NEED_MORE);
}

#define assert_frame(length, frame, ...)                         \
    do {                                                         \
        static const uint8_t expected_[] = {__VA_ARGS__};        \
        assert_int_equal(length, sizeof expected_);              \
        assert_memory_equal(frame, expected_, sizeof expected_); \
    } while (0)

static void encodes_commands(void **state)
{
    (void)state;
    uint8_t frame[FTMS_COMMAND_MAX];
    /* sig-python, test_fitness_machine_control_point.py */
    assert_frame(ftms_encode_plain(FTMS_START_OR_RESUME, frame), frame, 0x07);
    assert_frame(ftms_encode_stop(false, frame), frame, 0x08, 0x01);
    assert_frame(ftms_encode_response(FTMS_SET_SPEED, FTMS_SUCCESS, frame), frame, 0x80, 2, 1);
    /* derived by hand from FTMS table 4.15; resistance by the tables and by erratum E8991 */
    assert_frame(ftms_encode_stop(true, frame), frame, 0x08, 0x02);
    assert_frame(ftms_encode_plain(FTMS_REQUEST_CONTROL, frame), frame, 0x00);
    assert_frame(ftms_encode_power(250, frame), frame, 0x05, 0xFA, 0x00);
    assert_frame(ftms_encode_power(-1, frame), frame, 0x05, 0xFF, 0xFF);
    assert_frame(ftms_encode_resistance(123, 2, frame), frame, 0x04, 0x7B, 0x00);
    assert_frame(ftms_encode_resistance(123, 1, frame), frame, 0x04, 0x7B);
    assert_frame(ftms_encode_resistance(-123, 2, frame), frame, 0x04, 0x85, 0xFF);
    assert_frame(ftms_encode_resistance(1000, 1, frame), frame, 0x04, 0xFF);
    assert_frame(ftms_encode_resistance(-1, 1, frame), frame, 0x04, 0x00);
}

/* ---- hostile octets ---- */

static uint32_t noise = 20241001;

static uint8_t next_octet(void)
{
    noise = noise * 1664525u + 1013904223u; /* Numerical Recipes' generator */
    return (uint8_t)(noise >> 24);
}

static void decode_everything(const uint8_t *value, size_t length)
{
    struct ftms_bike_data data = {0};
    struct ftms_feature feature;
    struct ftms_range range;
    struct ftms_response response;
    struct ftms_status status;
    struct ftms_training_status training = {0};
    assert_int_equal(ftms_decode_bike_data(value, length, &data) == RESULT_OK, length >= 2);
    assert_int_equal(ftms_decode_feature(value, length, &feature) == RESULT_OK, length >= 8);
    for (uint16_t number = FTMS_SPEED_RANGE; number <= FTMS_POWER_RANGE; number++)
        if (ftms_decode_range(number, value, length, &range) == RESULT_OK)
            assert_true(range.minimum < range.maximum && range.increment >= 1);
    (void)!ftms_decode_response(value, length, FTMS_SET_POWER, &response);
    assert_int_equal(ftms_decode_status(value, length, &status) == RESULT_OK, length >= 1);
    if (ftms_decode_training_status(value, length, &training) == RESULT_OK)
        assert_true(training.text_length <= length - 2);
    for (size_t i = 0; i < training.text_length; i++)
        assert_int_equal((uint8_t)training.text[i], value[2 + i]);
}

/* Copies of exact size, so that the address sanitizer sees one octet read too far. */
static void survives_any_octets(void **state)
{
    (void)state;
    for (size_t length = 0; length <= 31; length++) {
        for (unsigned round = 0; round < 2000; round++) {
            uint8_t *value = malloc(length);
            for (size_t i = 0; i < length; i++)
                value[i] = next_octet();
            decode_everything(value, length);
            free(value);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decodes_bike_data),
        cmocka_unit_test(needs_the_flags_of_bike_data),
        cmocka_unit_test(encodes_bike_data),
        cmocka_unit_test(longest_frame_has_thirty_octets),
        cmocka_unit_test(puts_the_parts_of_a_record_together),
        cmocka_unit_test(record_keeps_every_field_and_its_flaws),
        cmocka_unit_test(decodes_features),
        cmocka_unit_test(decodes_ranges),
        cmocka_unit_test(decodes_status),
        cmocka_unit_test(decodes_training_status),
        cmocka_unit_test(decodes_responses),
        cmocka_unit_test(encodes_commands),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
