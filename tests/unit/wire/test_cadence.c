/*
 * Check values. "sig-python": the values of test_csc_measurement.py of the public repository
 * bluetooth-sig-python. "derived by hand": from the fields of Cycling Speed and Cadence Service
 * 1.0, characteristics 0x2A5B and 0x2A5C.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/cadence.h"

static const struct {
    const char *source, *frame;
    struct cadence_frame expected;
} rows[] = {
    {"sig-python: wheel, and 321 turns at 2 s",
     "03 40 E2 01 00 00 28 41 01 00 08",
     {true, {321, 2048}}},
    {"derived by hand: turns alone", "02 41 01 00 08", {true, {321, 2048}}},
    {"derived by hand: wheel alone", "01 40 E2 01 00 00 28", {false, {0, 0}}},
    {"derived by hand: nothing", "00", {false, {0, 0}}},
    {"derived by hand: octets nobody announced, reserved flags",
     "FE 41 01 00 08 09",
     {true, {321, 2048}}},
};

static void decodes_measurements(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t octets[16];
        struct cadence_frame frame;
        const size_t length = octets_from_text(rows[i].frame, octets, sizeof octets);
        print_message("%s\n", rows[i].source);
        assert_int_equal(cadence_decode(octets, length, &frame), RESULT_OK);
        assert_int_equal(frame.has_crank, rows[i].expected.has_crank);
        assert_int_equal(frame.crank.turns, rows[i].expected.crank.turns);
        assert_int_equal(frame.crank.t_1024, rows[i].expected.crank.t_1024);
    }
}

static void needs_what_it_announces(void **state)
{
    static const uint8_t octets[] = {0x03, 0x40, 0xE2, 1, 0, 0, 0x28, 0x41, 1, 0};
    struct cadence_frame frame;

    (void)state;
    for (size_t length = 0; length <= sizeof octets; length++)
        assert_int_equal(cadence_decode(octets, length, &frame), RESULT_NEED_MORE);
}

static void tells_crank_from_wheel_by_the_feature(void **state)
{
    static const uint8_t wheel[] = {0x01, 0x00}, crank[] = {0x06, 0x00};
    bool counts_crank;

    (void)state;
    assert_int_equal(cadence_feature_decode(wheel, 2, &counts_crank), RESULT_OK);
    assert_false(counts_crank);
    assert_int_equal(cadence_feature_decode(crank, 2, &counts_crank), RESULT_OK);
    assert_true(counts_crank);
    assert_int_equal(cadence_feature_decode(crank, 1, &counts_crank), RESULT_NEED_MORE);
}

static void encodes_turns(void **state)
{
    uint8_t octets[CADENCE_FRAME_MAX];

    (void)state;
    assert_octets(octets, cadence_encode((struct crank_count){321, 2048}, octets),
                  "02 41 01 00 08");
}

static uint32_t noise = 20120821;

static uint8_t next_octet(void)
{
    noise = noise * 1664525u + 1013904223u; /* Numerical Recipes' generator */
    return (uint8_t)(noise >> 24);
}

/* Copies of exact size, so that the address sanitizer sees one octet read too far. */
static void survives_any_octets(void **state)
{
    (void)state;
    for (size_t length = 0; length <= 16; length++) {
        for (unsigned round = 0; round < 1000; round++) {
            struct cadence_frame frame;
            bool counts_crank;
            uint8_t *value = malloc(length);
            for (size_t i = 0; i < length; i++)
                value[i] = next_octet();
            if (cadence_decode(value, length, &frame) == RESULT_OK)
                assert_true(length >= (frame.has_crank ? 5u : 1u));
            assert_int_equal(cadence_feature_decode(value, length, &counts_crank) == RESULT_OK,
                             length >= 2);
            free(value);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decodes_measurements),
        cmocka_unit_test(needs_what_it_announces),
        cmocka_unit_test(tells_crank_from_wheel_by_the_feature),
        cmocka_unit_test(encodes_turns),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
