/*
 * Check values. "sig-python": test_cycling_power_measurement.py of the public repository
 * bluetooth-sig-python. "derived by hand": from the fields of Cycling Power Service 1.1,
 * characteristic 0x2A63.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/cycling_power.h"

struct row {
    const char *source, *frame;
    struct cycling_power expected;
};

static const struct row rows[] = {
    {"sig-python: 300 W, balance", "01 00 2C 01 64", {.power_w = 300}},
    {"sig-python: 331 W, wheel", "10 00 4B 01 39 30 00 00 00 08", {.power_w = 331}},
    {"sig-python: 368 W, 400 turns, 1 s", "20 00 70 01 90 01 00 04", {368, true, {400, 1024}}},
    {"sig-python: 404 W, balance, wheel, 400 turns at 2 s, energy",
     "31 08 94 01 6E 39 30 00 00 00 10 90 01 00 08 15 00",
     {404, true, {400, 2048}}},
    {"derived by hand: everything before the turns, everything behind them",
     "F5 0F 2C 01 64 00 20 39 30 00 00 00 10 02 00 03 04 "
     "01 00 02 00 03 00 04 00 05 60 00 07 00 08 00 09 00",
     {300, true, {2, 0x0403}}},
    {"derived by hand: torque alone before them",
     "24 00 2C 01 00 20 02 00 03 04",
     {300, true, {2, 0x0403}}},
    {"derived by hand: below zero", "00 00 F6 FF", {.power_w = -10}},
    {"derived by hand: what the flags announce is not there",
     "20 00 2C 01 90 01 00",
     {.power_w = 300}},
    {"derived by hand: cut in what comes before the turns", "31 00 2C 01 64 39", {.power_w = 300}},
    {"derived by hand: octets nobody announced, reserved flags",
     "00 F0 2C 01 90 01 00 04",
     {.power_w = 300}},
};

static void decodes_measurements(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t frame[64];
        struct cycling_power power = {0};
        const size_t length = octets_from_text(rows[i].frame, frame, sizeof frame);
        print_message("%s\n", rows[i].source);
        assert_int_equal(cycling_power_decode(frame, length, &power), RESULT_OK);
        assert_int_equal(power.power_w, rows[i].expected.power_w);
        assert_int_equal(power.has_crank, rows[i].expected.has_crank);
        assert_int_equal(power.crank.turns, rows[i].expected.crank.turns);
        assert_int_equal(power.crank.t_1024, rows[i].expected.crank.t_1024);
    }
}

static void needs_the_power(void **state)
{
    static const uint8_t frame[] = {0x00, 0x00, 0x2C};
    struct cycling_power power = {.power_w = 7};

    (void)state;
    for (size_t length = 0; length <= sizeof frame; length++)
        assert_int_equal(cycling_power_decode(frame, length, &power), RESULT_NEED_MORE);
    assert_int_equal(power.power_w, 7);
}

static void encodes_measurements(void **state)
{
    const struct cycling_power turning = {368, true, {400, 1024}}, plain = {.power_w = -10};
    uint8_t frame[CYCLING_POWER_FRAME_MAX];

    (void)state;
    assert_octets(frame, cycling_power_encode(&turning, frame), "20 00 70 01 90 01 00 04");
    assert_octets(frame, cycling_power_encode(&plain, frame), "00 00 F6 FF");
}

static uint32_t noise = 20131113;

static uint8_t next_octet(void)
{
    noise = noise * 1664525u + 1013904223u; /* Numerical Recipes' generator */
    return (uint8_t)(noise >> 24);
}

/* Copies of exact size, so that the address sanitizer sees one octet read too far. */
static void survives_any_octets(void **state)
{
    (void)state;
    for (size_t length = 0; length <= 40; length++) {
        for (unsigned round = 0; round < 1000; round++) {
            struct cycling_power power;
            uint8_t *value = malloc(length);
            for (size_t i = 0; i < length; i++)
                value[i] = next_octet();
            assert_int_equal(cycling_power_decode(value, length, &power),
                             length < 4 ? RESULT_NEED_MORE : RESULT_OK);
            assert_false(length >= 4 && power.has_crank && length < 8);
            free(value);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decodes_measurements),
        cmocka_unit_test(needs_the_power),
        cmocka_unit_test(encodes_measurements),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
