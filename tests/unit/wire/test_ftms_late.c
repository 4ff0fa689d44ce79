/*
 * Answers of the control point that come when nobody waits for them any more: they name an opcode,
 * and there may be a newer command of that.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/bike_talk.h"
#include "wire/gatt.h"

static void says(int16_t power_w)
{
    command(FTMS_SET_POWER, power_w);
    pump();
}

static void says_now(int16_t power_w)
{
    command_now(FTMS_SET_POWER, power_w);
    pump();
}

/* The machine's next success is told as that of this load. */
static void takes(int16_t power_w)
{
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, power_w, FTMS_SUCCESS, 0);
}

/* A load whose answer was given up, then a release: the late answer is no word about the release,
 * which the machine refuses meanwhile. */
static void a_late_answer_does_not_cover_a_refused_release(void **state)
{
    (void)state;
    static const struct {
        const char *response;
        uint8_t error;
    } rows[] = {{"01 12 13 00 0E", ATT_UNLIKELY_ERROR}, {"01 12 13 00 FE", 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        (void)set_up(state);
        (void)meet_ready();
        says(300);
        wait_ms(3500);
        peer.is_silent = true;
        says_now(0);
        takes(300);
        receive(rows[i].response);
        peer.is_silent = false;
        wait_ms(250);
        if (rows[i].error != 0)
            expect_answer(FTMS_SET_POWER, 0, FTMS_OPERATION_FAILED, rows[i].error);
        else
            expect_log("2AD9=05 2C 01|2AD9=05 00 00|confirmed|2AD9=05 00 00|");
        expect_no_event();
    }
}

/* The same where the machine takes the write of the release, and refuses it in its answer. */
static void a_late_answer_does_not_cover_a_release_refused_later(void **state)
{
    (void)state;
    (void)meet_ready();
    says(300);
    wait_ms(3500);
    says_now(0);
    takes(300);
    indicate("80 05 04");
    expect_answer(FTMS_SET_POWER, 0, FTMS_OPERATION_FAILED, 0);
}

/* Nobody can tell that from the above. Said again, as the ride does after 3 s, it is known. */
static void an_answer_that_was_lost_costs_a_release_one_repeat(void **state)
{
    (void)state;
    (void)meet_ready();
    says(300);
    wait_ms(3500);
    says_now(0);
    takes(300);
    says_now(0);
    takes(0);
}

/* A release of before the loads stays without an answer. What then passes for it is that to a lower
 * load, and is no word about the release that came behind. */
static void an_answer_owed_to_an_earlier_release_does_not_cover_a_newer_one(void **state)
{
    (void)state;
    (void)meet_ready();
    says_now(0);
    says_now(0);
    takes(0);
    wait_ms(3000);
    says(200);
    takes(200);
    says_now(150);
    says_now(0);
    indicate("80 05 01");
    expect_no_event();
    indicate("80 05 04");
    expect_answer(FTMS_SET_POWER, 150, FTMS_OPERATION_FAILED, 0);
    says_now(0);
    takes(0);
}

/* However often the release was said again meanwhile. */
static void a_late_answer_covers_none_of_many_releases(void **state)
{
    (void)state;
    (void)meet_ready();
    says(300);
    for (unsigned i = 0; i < 8; i++) {
        wait_ms(3000);
        command_now(FTMS_SET_POWER, 0);
        command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
        pump();
    }
    takes(300);
}

/* No procedure takes longer than 30 s: what comes after that is no answer to it. */
static void an_answer_is_owed_for_30_s(void **state)
{
    static const struct {
        uint32_t waited_ms;
        int16_t value;
    } rows[] = {{29000, 300}, {31000, 0}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        (void)set_up(state);
        (void)meet_ready();
        says(300);
        for (uint32_t ms = 0; ms < rows[i].waited_ms; ms += 500)
            wait_ms(500);
        says_now(0);
        indicate("80 05 01");
        expect_answer(FTMS_SET_POWER, rows[i].value, FTMS_SUCCESS, 0);
    }
}

/* A load that is being written while the release comes, and is refused by a machine that is busy:
 * it is not written again before the release. */
static void a_load_refused_for_now_gives_way_to_a_release(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.is_silent = true;
    says_now(200);
    command_now(FTMS_SET_POWER, 0);
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    receive("01 12 13 00 FE");
    peer.is_silent = false;
    wait_ms(250);
    expect_log("2AD9=05 C8 00|2AD9=05 00 00|2AD9=08 01|");
    expect_no_event();
}

#define TEST(test) cmocka_unit_test_setup(test, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_load_refused_for_now_gives_way_to_a_release),
        TEST(a_late_answer_does_not_cover_a_refused_release),
        TEST(a_late_answer_does_not_cover_a_release_refused_later),
        TEST(an_answer_that_was_lost_costs_a_release_one_repeat),
        TEST(an_answer_owed_to_an_earlier_release_does_not_cover_a_newer_one),
        TEST(a_late_answer_covers_none_of_many_releases),
        TEST(an_answer_is_owed_for_30_s),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
