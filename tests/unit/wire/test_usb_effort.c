/*
 * Pages, and what a second of them comes to. Pages are written by hand from the fields that the
 * public library openant reads (devices/power_meter.py, fitness_equipment.py,
 * bike_speed_cadence.py, heart_rate.py); expectations are worked out from them by hand.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/usb_effort.h"

static const uint8_t *page_of(const char *text)
{
    static uint8_t page[USB_PAGE_SIZE];

    assert_int_equal(octets_from_text(text, page, sizeof page), USB_PAGE_SIZE);
    return page;
}

/* ---- pages ---- */

static void decodes_a_heart(void **state)
{
    struct usb_heart heart;

    (void)state;
    /* Page 4 with the bit that changes; the beat before; beat 0x9A at 0x1234, 61 bpm. */
    usb_heart_decode(page_of("84 FF 00 10 34 12 9A 3D"), &heart);
    assert_int_equal(heart.beat_t_1024, 0x1234);
    assert_int_equal(heart.beats, 0x9A);
    assert_int_equal(heart.heart_bpm, 61);
}

static void decodes_turns(void **state)
{
    struct crank_count count;

    (void)state;
    usb_cadence_decode(USB_TYPE_CADENCE, page_of("85 01 FF FF 00 08 41 01"), &count);
    assert_int_equal(count.t_1024, 0x0800);
    assert_int_equal(count.turns, 0x0141);
    usb_cadence_decode(USB_TYPE_SPEED_CADENCE, page_of("00 08 41 01 11 22 33 44"), &count);
    assert_int_equal(count.t_1024, 0x0800);
    assert_int_equal(count.turns, 0x0141);
}

static void decodes_power(void **state)
{
    static const struct {
        const char *what;
        enum usb_device_type type;
        const char *page;
        enum result result;
        struct usb_power power;
    } rows[] = {
        {"power alone: event 7, 90 rpm, sum 0x0A00, 200 W",
         USB_TYPE_POWER,
         "10 07 B2 5A 00 0A C8 00",
         RESULT_OK,
         {7, 0x0A00, 200, true, true, true, 90}},
        {"the same without cadence",
         USB_TYPE_POWER,
         "10 07 FF FF 00 0A C8 00",
         RESULT_OK,
         {7, 0x0A00, 200, true, true, false, 255}},
        {"trainer: status and state beside 301 W, 85 rpm",
         USB_TYPE_EQUIPMENT,
         "19 09 55 00 0A 2D A1 3F",
         RESULT_OK,
         {9, 0x0A00, 301, true, true, true, 85}},
        {"trainer that cannot tell power",
         USB_TYPE_EQUIPMENT,
         "19 09 55 00 0A FF 0F 30",
         RESULT_OK,
         {9, 0x0A00, 0xFFF, false, false, true, 85}},
        {"bike: 70 rpm, 150 W",
         USB_TYPE_EQUIPMENT,
         "15 FF FF FF 46 96 00 30",
         RESULT_OK,
         {0, 0, 150, true, false, true, 70}},
        {"bike that cannot tell",
         USB_TYPE_EQUIPMENT,
         "15 FF FF FF FF FF FF 30",
         RESULT_OK,
         {0, 0, 0xFFFF, false, false, false, 255}},
        {"trainer, general",
         USB_TYPE_EQUIPMENT,
         "10 19 20 00 40 1F FF 30",
         RESULT_UNSUPPORTED,
         {0}},
        {"maker's page", USB_TYPE_POWER, "50 FF FF 01 0F 00 85 83", RESULT_UNSUPPORTED, {0}},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct usb_power power;
        print_message("%s\n", rows[i].what);
        assert_int_equal(usb_power_decode(rows[i].type, page_of(rows[i].page), &power),
                         rows[i].result);
        if (rows[i].result != RESULT_OK)
            continue;
        assert_int_equal(power.events, rows[i].power.events);
        assert_int_equal(power.sum_w, rows[i].power.sum_w);
        assert_int_equal(power.power_w, rows[i].power.power_w);
        assert_int_equal(power.has_power, rows[i].power.has_power);
        assert_int_equal(power.has_sum, rows[i].power.has_sum);
        assert_int_equal(power.has_cadence, rows[i].power.has_cadence);
        assert_int_equal(power.cadence_rpm, rows[i].power.cadence_rpm);
    }
}

static void decodes_torque(void **state)
{
    struct usb_torque torque;

    (void)state;
    assert_int_equal(usb_torque_decode(page_of("12 03 04 FF 00 10 20 30"), &torque), RESULT_OK);
    assert_int_equal(torque.events, 3);
    assert_int_equal(torque.turns, 4);
    assert_int_equal(torque.period_2048, 0x1000);
    assert_int_equal(torque.torque_32, 0x3020);
    assert_true(torque.is_crank);
    assert_false(torque.has_cadence);
    assert_int_equal(usb_torque_decode(page_of("11 03 04 5A 00 10 20 30"), &torque), RESULT_OK);
    assert_false(torque.is_crank);
    assert_int_equal(torque.cadence_rpm, 90);
    assert_int_equal(usb_torque_decode(page_of("10 03 04 5A 00 10 20 30"), &torque),
                     RESULT_UNSUPPORTED);
}

/* ---- readings ---- */

struct told {
    const char *page;
    uint64_t t_ms;
    bool is_told;
    int32_t power_w, cadence_rpm; /* -1: none */
};

static void assert_told(enum usb_device_type type, const struct told *rows, size_t count)
{
    struct usb_effort effort = {0};

    for (size_t i = 0; i < count; i++) {
        struct sensor_effort told;
        print_message("%s at %u ms\n", rows[i].page, (unsigned)rows[i].t_ms);
        assert_int_equal(usb_effort_take(&effort, type, rows[i].t_ms, page_of(rows[i].page), &told),
                         rows[i].is_told);
        if (!rows[i].is_told)
            continue;
        assert_int_equal(told.has_power, rows[i].power_w >= 0);
        assert_int_equal(told.has_cadence, rows[i].cadence_rpm >= 0);
        if (told.has_power)
            assert_int_equal(told.power_w, rows[i].power_w);
        if (told.has_cadence)
            assert_int_equal(told.cadence_rpm, rows[i].cadence_rpm);
    }
}

#define ASSERT_TOLD(type, rows) assert_told((type), (rows), sizeof(rows) / sizeof(rows)[0])

/* 200, then 300 W four times, of which the pages of three are lost; then both counters go round. */
static void power_is_the_mean_of_what_was_measured(void **state)
{
    static const struct told rows[] = {
        {"10 FD FF 5A 00 FE C8 00", 1000, true, 200, 90},
        {"10 FE FF 5A 2C FF 2C 01", 1246, false, 0, 0},
        {"10 01 FF 5A B0 02 2C 01", 1984, true, 300, 90},
        /* 400 and 401 W make 400.5 */
        {"10 03 FF 5B D1 05 91 01", 2884, true, 401, 91},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_POWER, rows);
}

/* After 6 s the sum may have gone round. */
static void a_long_gap_begins_anew(void **state)
{
    static const struct told rows[] = {
        {"10 10 FF 5A 00 10 C8 00", 1000, true, 200, 90},
        {"10 20 FF 5A 00 00 2C 01", 7000, true, 300, 90},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_POWER, rows);
}

/* The same event again and again: held while the next may come, with a cadence of 60/1.9 s and less
 * as it does not, then the crank stands. */
static void a_crank_that_counts_nothing_slows_down_and_stands(void **state)
{
    static const struct told rows[] = {
        {"10 10 FF 5A 00 10 C8 00", 1000, true, 200, 90},
        {"10 10 FF 5A 00 10 C8 00", 2250, false, 0, 0},
        {"50 FF FF 01 0F 00 85 83", 2499, false, 0, 0},
        {"10 10 FF 5A 00 10 C8 00", 2500, true, 200, 90},
        {"10 10 FF 5A 00 10 C8 00", 3399, false, 0, 0},
        {"10 10 FF 5A 00 10 C8 00", 3900, true, 200, 31},
        {"10 10 FF 5A 00 10 C8 00", 4800, true, 0, 0},
        {"50 FF FF 01 0F 00 85 83", 5700, true, 0, 0},
        {"10 11 FF 50 96 10 96 00", 6600, true, 150, 80},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_POWER, rows);
}

static void still_legs_have_no_power(void **state)
{
    static const struct told rows[] = {
        {"10 10 FF 00 00 10 C8 00", 1000, true, 0, 0},
        {"10 14 FF FF 20 13 C8 00", 2000, true, 200, -1},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_POWER, rows);
}

/* One turn a second (2048/2048 s) at 20 Nm (640/32): 2 pi x 20 = 125.7 W at 60 rpm. The sums go
 * round. Without time there is no power. */
static void torque_and_time_make_power(void **state)
{
    static const struct told rows[] = {
        {"12 FF FF FF 00 F8 80 FD", 1000, false, 0, 0},
        {"12 00 00 FF 00 00 00 00", 2000, true, 126, 60},
        {"12 02 02 FF 00 10 00 05", 4000, true, 126, 60},
        {"12 03 03 FF 00 10 80 07", 5000, false, 0, 0},
    };
    static const struct told wheel[] = {
        {"11 01 01 5A 00 00 00 00", 1000, false, 0, 0},
        {"11 02 05 5A 00 08 80 02", 2000, true, 126, 90},
        {"11 03 09 FF 00 10 00 05", 3000, true, 126, -1},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_POWER, rows);
    ASSERT_TOLD(USB_TYPE_POWER, wheel);
}

static void equipment_tells_power_between_other_pages(void **state)
{
    static const struct told rows[] = {
        {"10 19 20 00 40 1F FF 30", 1000, false, 0, 0},
        {"19 01 55 64 00 64 60 30", 1250, true, 100, 85},
        {"10 19 24 00 40 1F FF 30", 2250, false, 0, 0},
        {"19 03 55 F4 01 F4 60 30", 2500, true, 200, 85},
        {"15 FF FF FF 46 96 00 30", 3500, true, 150, 70},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_EQUIPMENT, rows);
}

/* 85 turns a minute are 723/1024 s each (wire/test_crank.c has the rest). */
static void turns_make_cadence(void **state)
{
    static const struct told rows[] = {
        {"00 00 00 00 00 00 01 00", 1000, false, 0, 0},
        {"00 00 00 00 D3 02 02 00", 1706, true, -1, 85},
        {"00 00 00 00 A6 05 03 00", 2412, false, 0, 0},
        {"00 00 00 00 A6 05 03 00", 2650, true, -1, 85},
        {"00 00 00 00 A6 05 03 00", 5412, true, -1, 0},
    };
    (void)state;
    ASSERT_TOLD(USB_TYPE_CADENCE, rows);
}

/* Recorded of a strap: see test_usb_frame.c. 10 beats, 60 and then 59 bpm; two pages are missing.
 */
static void a_recorded_heart_is_told(void **state)
{
    static const struct {
        const char *page;
        uint16_t bpm;
    } rows[] = {
        {"84 FF A5 E2 A5 E6 CA 3C", 0},  {"04 FF A5 E6 A5 EA CB 3C", 60},
        {"84 FF A5 EA A5 EE CC 3C", 60}, {"04 FF A5 EE A5 F2 CD 3C", 60},
        {"84 FF B6 FA C7 FE D0 3B", 59}, {"04 FF C7 FE D8 02 D1 3B", 59},
        {"84 FF D8 02 E9 06 D2 3B", 59}, {"04 FF E9 06 FA 0A D3 3B", 59},
    };
    struct usb_pulse pulse = {0};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct usb_heart heart;
        uint16_t bpm = 0;
        /* The time of its beats is that of its clock: 1024 a second. */
        usb_heart_decode(page_of(rows[i].page), &heart);
        const uint64_t t_ms = 1000u + (uint16_t)(heart.beat_t_1024 - 0xE6A5u) * 1000u / 1024u;
        assert_int_equal(usb_pulse_take(&pulse, t_ms, page_of(rows[i].page), &bpm),
                         rows[i].bpm != 0);
        assert_int_equal(bpm, rows[i].bpm);
    }
}

static void a_heart_is_told_once_a_second_while_it_beats(void **state)
{
    static const struct {
        uint64_t t_ms;
        const char *page;
        uint16_t bpm; /* 0: nothing is told */
    } rows[] = {
        {1000, "00 FF FF FF 00 00 05 78", 0}, /* may be an old beat */
        {1246, "00 FF FF FF 00 02 06 78", 120},
        {1746, "00 FF FF FF 00 04 07 78", 0}, /* too soon */
        {2146, "80 FF FF FF 00 06 08 79", 121},
        {3400, "80 FF FF FF 00 06 08 79", 0}, /* no beat since */
        {9000, "80 FF FF FF 00 08 09 00", 0}, /* it cannot tell */
        {9246, "80 FF FF FF 00 08 09 50", 0},
        {9500, "80 FF FF FF 00 0A 0A 50", 80},
    };
    struct usb_pulse pulse = {0};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint16_t bpm = 0;
        print_message("%u ms\n", (unsigned)rows[i].t_ms);
        assert_int_equal(usb_pulse_take(&pulse, rows[i].t_ms, page_of(rows[i].page), &bpm),
                         rows[i].bpm != 0);
        assert_int_equal(bpm, rows[i].bpm);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decodes_a_heart),
        cmocka_unit_test(decodes_turns),
        cmocka_unit_test(decodes_power),
        cmocka_unit_test(decodes_torque),
        cmocka_unit_test(power_is_the_mean_of_what_was_measured),
        cmocka_unit_test(a_long_gap_begins_anew),
        cmocka_unit_test(a_crank_that_counts_nothing_slows_down_and_stands),
        cmocka_unit_test(still_legs_have_no_power),
        cmocka_unit_test(torque_and_time_make_power),
        cmocka_unit_test(equipment_tells_power_between_other_pages),
        cmocka_unit_test(turns_make_cadence),
        cmocka_unit_test(a_recorded_heart_is_told),
        cmocka_unit_test(a_heart_is_told_once_a_second_while_it_beats),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
