/*
 * Check values. "sig-python": test_heart_rate_measurement.py of the public repository
 * bluetooth-sig-python, commit 27bdb3d. "derived by hand": from the fields of Heart Rate Service
 * 1.0 (characteristic 0x2A37).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "wire/heart_rate.h"

#define FRAME(...) {__VA_ARGS__}, sizeof((uint8_t[]){__VA_ARGS__})

struct heart_row {
    const char *source;
    uint8_t frame[24];
    size_t length;
    struct heart_rate expected;
    bool is_canonical; /* encodes to the same octets */
};

static const struct heart_row rows[] = {
    {"sig-python: two octets of value", FRAME(0x01, 0xC8, 0x00), {.heart_bpm = 200}, false},
    {"sig-python: contact and energy",
     FRAME(0x0E, 0x4B, 0x80, 0x00),
     {.heart_bpm = 75, .contact = HEART_CONTACT_GOOD, .has_energy = true, .energy_kj = 128},
     true},
    {"sig-python: two intervals",
     FRAME(0x10, 0x5A, 0x00, 0x08, 0x00, 0x10),
     {.heart_bpm = 90, .rr_count = 2, .rr_1024 = {2048, 4096}},
     true},
    {"sig-python: able to tell contact, has none",
     FRAME(0x04, 0x50),
     {.heart_bpm = 80, .contact = HEART_CONTACT_NONE},
     true},
    {"sig-python: not able to tell, whatever bit 1 says",
     FRAME(0x02, 0x50),
     {.heart_bpm = 80, .contact = HEART_CONTACT_UNKNOWN},
     false},
    {"derived by hand: contact and intervals",
     FRAME(0x16, 0x3C, 0x00, 0x04, 0xE8, 0x03),
     {.heart_bpm = 60, .contact = HEART_CONTACT_GOOD, .rr_count = 2, .rr_1024 = {1024, 1000}},
     true},
    {"derived by hand: a value beyond one octet",
     FRAME(0x01, 0x2C, 0x01),
     {.heart_bpm = 300},
     true},
    {"derived by hand: an odd octet at the end is ignored",
     FRAME(0x10, 0x3C, 0x00, 0x04, 0xE8),
     {.heart_bpm = 60, .rr_count = 1, .rr_1024 = {1024}},
     false},
    {"derived by hand: interval flag without intervals",
     FRAME(0x10, 0x3C),
     {.heart_bpm = 60},
     false},
    {"derived by hand: energy cut short takes no interval's octet",
     FRAME(0x18, 0x3C, 0x80),
     {.heart_bpm = 60},
     false},
    {"derived by hand: octets nobody announced, reserved flags",
     FRAME(0xE0, 0x3C, 0x80, 0x81),
     {.heart_bpm = 60},
     false},
};

static void assert_same_heart(const struct heart_rate *a, const struct heart_rate *b)
{
    assert_int_equal(a->heart_bpm, b->heart_bpm);
    assert_int_equal(a->contact, b->contact);
    assert_int_equal(a->has_energy, b->has_energy);
    assert_int_equal(a->rr_count, b->rr_count);
    assert_memory_equal(a->rr_1024, b->rr_1024, sizeof a->rr_1024);
    if (a->has_energy)
        assert_int_equal(a->energy_kj, b->energy_kj);
}

static void decodes_measurements(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct heart_rate heart;
        print_message("%s\n", rows[i].source);
        assert_int_equal(heart_rate_decode(rows[i].frame, rows[i].length, &heart), RESULT_OK);
        assert_same_heart(&heart, &rows[i].expected);
    }
}

static void needs_the_heart_rate(void **state)
{
    (void)state;
    struct heart_rate heart = {.heart_bpm = 7};
    assert_int_equal(heart_rate_decode(NULL, 0, &heart), RESULT_NEED_MORE);
    assert_int_equal(heart_rate_decode((uint8_t[]){0x00}, 1, &heart), RESULT_NEED_MORE);
    assert_int_equal(heart_rate_decode((uint8_t[]){0x01, 0x50}, 2, &heart), RESULT_NEED_MORE);
    assert_int_equal(heart.heart_bpm, 7);
}

static void encodes_measurements(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t frame[HEART_FRAME_MAX];
        if (!rows[i].is_canonical)
            continue;
        print_message("%s\n", rows[i].source);
        assert_int_equal(heart_rate_encode(&rows[i].expected, frame), rows[i].length);
        assert_memory_equal(frame, rows[i].frame, rows[i].length);
    }
}

/* Heart Rate Service 1.0: at the smallest MTU nine intervals fit, eight beside the energy. */
static void leaves_out_what_does_not_fit(void **state)
{
    (void)state;
    uint8_t frame[HEART_FRAME_MAX];
    struct heart_rate heart = {.heart_bpm = 60, .rr_count = 20}, back;
    assert_int_equal(heart_rate_encode(&heart, frame), 20);
    assert_int_equal(heart_rate_decode(frame, 20, &back), RESULT_OK);
    assert_int_equal(back.rr_count, 9);
    heart.has_energy = true;
    assert_int_equal(heart_rate_encode(&heart, frame), 20);
    assert_int_equal(heart_rate_decode(frame, 20, &back), RESULT_OK);
    assert_int_equal(back.rr_count, 8);
}

static void longest_frame_holds_255_intervals(void **state)
{
    (void)state;
    uint8_t frame[512] = {0x10, 0x3C};
    struct heart_rate heart;
    frame[511] = 0x04;
    assert_int_equal(heart_rate_decode(frame, sizeof frame, &heart), RESULT_OK);
    assert_int_equal(heart.rr_count, 255);
    assert_int_equal(heart.rr_1024[254], 1024);
}

static uint32_t noise = 20110101;

static uint8_t next_octet(void)
{
    noise = noise * 1664525u + 1013904223u; /* Numerical Recipes' generator */
    return (uint8_t)(noise >> 24);
}

/* Copies of exact size, so that the address sanitizer sees one octet read too far. */
static void survives_any_octets(void **state)
{
    (void)state;
    for (size_t length = 0; length <= 31; length++) {
        for (unsigned round = 0; round < 2000; round++) {
            struct heart_rate heart;
            uint8_t *value = malloc(length);
            for (size_t i = 0; i < length; i++)
                value[i] = next_octet();
            if (heart_rate_decode(value, length, &heart) == RESULT_OK)
                assert_true(heart.rr_count * 2u + 2u <= length);
            free(value);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decodes_measurements),
        cmocka_unit_test(needs_the_heart_rate),
        cmocka_unit_test(encodes_measurements),
        cmocka_unit_test(leaves_out_what_does_not_fit),
        cmocka_unit_test(longest_frame_holds_255_intervals),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
