/*
 * Commands of the machine client, in conversation with a scripted peer. Frames are those of Fitness
 * Machine Service 1.0.1, tables 4.15 and 4.24; the order in which they must go out is our own. How
 * machines deviate is taken from public issue threads of general libraries.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "support/bike_talk.h"
#include "wire/gatt.h"

/* ---- one at a time ---- */

static void runs_one_procedure_at_a_time(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_REQUEST_CONTROL, 0);
    command(FTMS_START_OR_RESUME, 0);
    command(FTMS_SET_POWER, 250);
    pump();
    expect_log("2AD9=00|");
    expect_no_event();
    indicate("80 00 01");
    expect_log("confirmed|2AD9=07|");
    expect_answer(FTMS_REQUEST_CONTROL, 0, FTMS_SUCCESS, 0);
    indicate("80 07 04");
    expect_log("confirmed|2AD9=05 FA 00|");
    expect_answer(FTMS_START_OR_RESUME, 0, FTMS_OPERATION_FAILED, 0);
    indicate("80 05 01");
    expect_log("confirmed|");
    expect_answer(FTMS_SET_POWER, 250, FTMS_SUCCESS, 0);
    command(FTMS_STOP_OR_PAUSE, FTMS_PAUSE);
    pump();
    expect_log("2AD9=08 02|");
}

static void newest_target_takes_the_place(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_POWER, 100);
    pump();
    command(FTMS_SET_POWER, 150);
    command(FTMS_START_OR_RESUME, 0);
    command(FTMS_SET_POWER, 200);
    pump();
    expect_log("2AD9=05 64 00|");
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 100, FTMS_SUCCESS, 0);
    indicate("80 07 01");
    expect_answer(FTMS_START_OR_RESUME, 0, FTMS_SUCCESS, 0);
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 200, FTMS_SUCCESS, 0);
    expect_log("confirmed|2AD9=07|confirmed|2AD9=05 C8 00|confirmed|");

    /* A load is a load, whatever it is counted in. */
    command(FTMS_REQUEST_CONTROL, 0);
    pump();
    command(FTMS_SET_POWER, 300);
    command(FTMS_SET_RESISTANCE, 123);
    indicate("80 00 01");
    expect_log("2AD9=00|confirmed|2AD9=04 7B 00|");
}

static void refuses_other_opcodes(void **state)
{
    (void)state;
    (void)meet_ready();
    static const uint8_t others[] = {FTMS_RESET, FTMS_SET_SPEED, FTMS_SET_SIMULATION, 0x80, 0xFF};
    for (size_t i = 0; i < sizeof others; i++) {
        struct ftms_command other = {.opcode = others[i]};
        assert_int_equal(ftms_client_command(&client, &other), RESULT_INVALID);
    }
    pump();
    expect_log("");
}

/* ---- now ---- */

static void now_goes_out_while_an_answer_is_due(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_POWER, 300);
    pump();
    command(FTMS_SET_POWER, 310);
    command(FTMS_START_OR_RESUME, 0);
    expect_log("2AD9=05 2C 01|");
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    expect_log("2AD9=08 01|");
    indicate("80 08 01");
    expect_answer(FTMS_STOP_OR_PAUSE, FTMS_STOP, FTMS_SUCCESS, 0);
    /* The answer that comes after all is that to what was overtaken, and what waited is gone. */
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 300, FTMS_SUCCESS, 0);
    wait_ms(1000);
    expect_log("confirmed|confirmed|");
    expect_no_event();
}

static void now_overtakes_what_was_not_yet_sent(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_POWER, 300);
    command_now(FTMS_SET_POWER, 0);
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    command(FTMS_SET_POWER, 320); /* given later, so it is meant */
    pump();
    expect_log("2AD9=05 00 00|2AD9=08 01|");
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 0, FTMS_SUCCESS, 0);
    expect_log("confirmed|");
    indicate("80 08 01");
    expect_answer(FTMS_STOP_OR_PAUSE, FTMS_STOP, FTMS_SUCCESS, 0);
    expect_log("confirmed|2AD9=05 40 01|");
}

static void now_replaces_its_own_kind_that_waits(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_POWER, 300);
    pump();
    command(FTMS_STOP_OR_PAUSE, FTMS_PAUSE);
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    indicate("80 08 01");
    expect_log("2AD9=05 2C 01|2AD9=08 01|confirmed|");
}

static void now_waits_only_for_the_write_response(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.is_silent = true;
    command(FTMS_SET_POWER, 300);
    pump();
    command_now(FTMS_SET_POWER, 50);
    command_now(FTMS_SET_POWER, 0);
    pump();
    expect_log("2AD9=05 2C 01|");
    peer.is_silent = false;
    receive("13");
    pump();
    expect_log("2AD9=05 00 00|");
    /* Both have the same opcode: answers come in the order of the commands. */
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 300, FTMS_SUCCESS, 0);
    expect_no_event();
    indicate("80 05 04");
    expect_answer(FTMS_SET_POWER, 0, FTMS_OPERATION_FAILED, 0);
}

static void now_is_repeated_while_another_is_in_progress(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.write_errors[1] = ATT_PROCEDURE_IN_PROGRESS;
    peer.write_errors[2] = ATT_PROCEDURE_IN_PROGRESS;
    command(FTMS_SET_POWER, 300);
    pump();
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    expect_log("2AD9=05 2C 01|2AD9=08 01|");
    wait_ms(249);
    expect_log("");
    wait_ms(1);
    expect_log("2AD9=08 01|");
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 300, FTMS_SUCCESS, 0);
    wait_ms(250);
    expect_log("confirmed|2AD9=08 01|");
    wait_ms(1000);
    expect_log("");
    indicate("80 08 01");
    expect_answer(FTMS_STOP_OR_PAUSE, FTMS_STOP, FTMS_SUCCESS, 0);
    expect_no_event();
}

static void a_later_release_takes_the_place_of_a_refused_one(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.write_errors[0] = ATT_PROCEDURE_IN_PROGRESS;
    command_now(FTMS_SET_POWER, 50);
    pump();
    command_now(FTMS_SET_POWER, 0);
    pump();
    expect_log("2AD9=05 32 00|2AD9=05 00 00|");
    expect_no_event();
    wait_ms(1000);
    expect_log("");
}

static void keeps_only_so_many_unanswered(void **state)
{
    (void)state;
    (void)meet_ready();
    for (int16_t i = 0; i < 6; i++) {
        command_now(i % 2 == 0 ? FTMS_SET_POWER : FTMS_STOP_OR_PAUSE, FTMS_STOP);
        pump();
    }
    expect_log("2AD9=05 01 00|2AD9=08 01|2AD9=05 01 00|2AD9=08 01|2AD9=05 01 00|2AD9=08 01|");
    expect_no_event();
}

static void an_answer_that_was_lost_does_not_keep_the_queue_shut(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_POWER, 200);
    pump();
    expect_log("2AD9=05 C8 00|");
    command(FTMS_SET_POWER, 210);
    wait_ms(2500);
    expect_log("");
    wait_ms(1500);
    expect_log("2AD9=05 D2 00|");
    expect_no_event();
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 210, FTMS_SUCCESS, 0);
}

static void a_release_leaves_a_start_in_the_queue(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_REQUEST_CONTROL, 0);
    pump();
    command(FTMS_START_OR_RESUME, 0);
    command_now(FTMS_SET_POWER, 0);
    pump();
    expect_log("2AD9=00|2AD9=05 00 00|");
    indicate("80 00 01");
    expect_answer(FTMS_REQUEST_CONTROL, 0, FTMS_SUCCESS, 0);
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 0, FTMS_SUCCESS, 0);
    pump();
    expect_log("confirmed|confirmed|2AD9=07|");
}

/* ---- refused by ATT ---- */

static void reports_what_att_refused(void **state)
{
    (void)state;
    static const uint8_t errors[] = {ATT_PROCEDURE_IN_PROGRESS, ATT_INSUFFICIENT_ENCRYPTION,
                                     ATT_INVALID_VALUE_LENGTH, ATT_UNLIKELY_ERROR};
    for (size_t i = 0; i < sizeof errors; i++) {
        (void)set_up(state);
        (void)meet_ready();
        peer.write_errors[0] = errors[i];
        command(FTMS_SET_POWER, 100);
        pump();
        wait_ms(1000);
        expect_log("2AD9=05 64 00|");
        expect_answer(FTMS_SET_POWER, 100, FTMS_OPERATION_FAILED, errors[i]);
    }
}

static void repeats_once_what_passes(void **state)
{
    (void)state;
    static const uint8_t errors[] = {ATT_APPLICATION_ERROR, ATT_CCCD_IMPROPERLY_CONFIGURED};
    for (size_t i = 0; i < sizeof errors; i++) {
        (void)set_up(state);
        (void)meet_ready();
        peer.write_errors[0] = errors[i];
        peer.write_errors[2] = peer.write_errors[3] = errors[i];
        command(FTMS_REQUEST_CONTROL, 0);
        pump();
        wait_ms(299);
        expect_log("2AD9=00|");
        wait_ms(1);
        expect_log("2AD9=00|");
        indicate("80 00 01");
        expect_answer(FTMS_REQUEST_CONTROL, 0, FTMS_SUCCESS, 0);
        command(FTMS_REQUEST_CONTROL, 0);
        pump();
        wait_ms(300);
        expect_answer(FTMS_REQUEST_CONTROL, 0, FTMS_OPERATION_FAILED, errors[i]);
        expect_log("confirmed|2AD9=00|2AD9=00|");
    }
}

static void repeats_no_target_after_a_stop(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.write_errors[0] = ATT_APPLICATION_ERROR;
    command(FTMS_SET_POWER, 300);
    pump();
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    wait_ms(1000);
    expect_log("2AD9=05 2C 01|2AD9=08 01|");
    expect_no_event();

    /* The same when the refusal arrives after the stop was asked for. */
    (void)set_up(state);
    (void)meet_ready();
    peer.is_silent = true;
    command(FTMS_SET_POWER, 300);
    pump();
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    receive("01 12 13 00 80");
    peer.is_silent = false;
    pump();
    wait_ms(1000);
    expect_log("2AD9=05 2C 01|2AD9=08 01|");
    expect_answer(FTMS_SET_POWER, 300, FTMS_OPERATION_FAILED, ATT_APPLICATION_ERROR);
}

/* ---- answers that deviate ---- */

static void ignores_answers_to_something_else(void **state)
{
    (void)state;
    static const char *const foreign[] = {"80 00 01", "80 04 01", "05 01",    "81 05 01",
                                          "80",       "",         "00 05 01", "80 11 03"};
    (void)meet_ready();
    command(FTMS_SET_POWER, 100);
    pump();
    for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++)
        indicate(foreign[i]);
    expect_no_event();
    indicate("80 05 01 77 88");
    expect_answer(FTMS_SET_POWER, 100, FTMS_SUCCESS, 0);
    indicate("80 05 01");
    expect_no_event();
}

static void late_answer_is_not_one_to_a_newer_opcode(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_REQUEST_CONTROL, 0);
    pump();
    indicate("80 00 01");
    command(FTMS_SET_POWER, 100);
    pump();
    expect_answer(FTMS_REQUEST_CONTROL, 0, FTMS_SUCCESS, 0);
    indicate("80 00 01"); /* once more */
    expect_no_event();
    indicate("80 05 03");
    expect_answer(FTMS_SET_POWER, 100, FTMS_INVALID_PARAMETER, 0);
}

static void answers_nothing_that_was_refused(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.write_errors[0] = ATT_APPLICATION_ERROR;
    command(FTMS_SET_POWER, 100);
    pump();
    indicate("80 05 01"); /* for one before our time */
    expect_no_event();
    wait_ms(300);
    expect_log("2AD9=05 64 00|confirmed|2AD9=05 64 00|");
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 100, FTMS_SUCCESS, 0);
}

static void takes_answers_cut_short(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_POWER, 100);
    pump();
    indicate("02");
    expect_answer(FTMS_SET_POWER, 100, FTMS_NOT_SUPPORTED, 0);
    command(FTMS_SET_POWER, 100);
    pump();
    indicate("80 05");
    expect_answer(FTMS_SET_POWER, 100, FTMS_OPERATION_FAILED, 0);
    indicate("01"); /* nothing is open */
    expect_no_event();
    command(FTMS_SET_POWER, 100);
    pump();
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    indicate("01"); /* which one? */
    expect_no_event();
}

static void takes_an_answer_before_the_write_response(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.is_silent = true;
    command(FTMS_SET_POWER, 100);
    pump();
    command(FTMS_SET_POWER, 110);
    indicate("80 05 01");
    expect_no_event(); /* it may be about another one */
    expect_log("2AD9=05 64 00|confirmed|");
    receive("13");
    expect_answer(FTMS_SET_POWER, 100, FTMS_SUCCESS, 0);
    pump();
    expect_log("2AD9=05 6E 00|");
    receive("13");
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 110, FTMS_SUCCESS, 0);
}

static void writes_by_command_where_nothing_else_is_offered(void **state)
{
    (void)state;
    peer.characteristics[CONTROL].properties = GATT_WRITE_NO_RESPONSE | GATT_INDICATE;
    (void)meet_ready();
    command(FTMS_SET_POWER, 100);
    command(FTMS_START_OR_RESUME, 0);
    pump();
    expect_log("2AD9!05 64 00|");
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    pump();
    expect_log("2AD9!08 01|");
    indicate("80 05 01");
    expect_answer(FTMS_SET_POWER, 100, FTMS_SUCCESS, 0);
    indicate("80 08 01");
    expect_answer(FTMS_STOP_OR_PAUSE, FTMS_STOP, FTMS_SUCCESS, 0);

    /* With both ways the service's own is taken. */
    (void)set_up(state);
    peer.characteristics[CONTROL].properties |= GATT_WRITE_NO_RESPONSE;
    (void)meet_ready();
    command(FTMS_START_OR_RESUME, 0);
    pump();
    expect_log("2AD9=07|");
}

/* ---- the width of a resistance ---- */

static void width_follows_the_range(void **state)
{
    (void)state;
    static const struct {
        const char *range;
        const char *log;
    } rows[] = {
        {"0A 00 E8 03 0A 00", "2AD9=04 7B 00|"},
        {"0A C8 05", "2AD9=04 7B|"},
        {"00 00 00", "2AD9=04 7B|"}, /* no usable range, but its width is one */
        {NULL, "2AD9=04 7B 00|"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        (void)set_up(state);
        peer.characteristics[LEVEL_RANGE].value = rows[i].range;
        (void)meet_ready();
        command(FTMS_SET_RESISTANCE, 123);
        pump();
        expect_log(rows[i].log);
    }
}

static void tries_the_other_width_once_and_keeps_it(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_RESISTANCE, 123);
    pump();
    indicate("80 04 03");
    expect_no_event();
    indicate("80 04 01");
    expect_answer(FTMS_SET_RESISTANCE, 123, FTMS_SUCCESS, 0);
    expect_log("2AD9=04 7B 00|confirmed|2AD9=04 7B|confirmed|");
    /* From here on a refusal is about the level. */
    command(FTMS_SET_RESISTANCE, 124);
    pump();
    indicate("80 04 03");
    expect_answer(FTMS_SET_RESISTANCE, 124, FTMS_INVALID_PARAMETER, 0);
    expect_log("2AD9=04 7C|confirmed|");
}

static void tries_the_other_width_after_an_early_answer(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.is_silent = true;
    command(FTMS_SET_RESISTANCE, 123);
    pump();
    indicate("80 04 03"); /* before the Write Response */
    expect_log("2AD9=04 7B 00|confirmed|");
    receive("13");
    pump();
    expect_log("2AD9=04 7B|");
}

static void goes_back_when_the_other_width_is_no_better(void **state)
{
    (void)state;
    (void)meet_ready();
    peer.write_errors[0] = ATT_INVALID_VALUE_LENGTH;
    command(FTMS_SET_RESISTANCE, 123);
    pump();
    expect_log("2AD9=04 7B 00|2AD9=04 7B|");
    indicate("80 04 03");
    expect_answer(FTMS_SET_RESISTANCE, 123, FTMS_INVALID_PARAMETER, 0);
    command(FTMS_SET_RESISTANCE, 125);
    pump();
    expect_log("confirmed|2AD9=04 7D 00|");
}

static void never_squeezes_a_level_into_an_octet(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_RESISTANCE, 256);
    pump();
    indicate("80 04 03");
    expect_answer(FTMS_SET_RESISTANCE, 256, FTMS_INVALID_PARAMETER, 0);
    expect_log("2AD9=04 00 01|confirmed|");
}

static void other_width_gives_way_to_a_stop(void **state)
{
    (void)state;
    (void)meet_ready();
    command(FTMS_SET_RESISTANCE, 123);
    pump();
    command_now(FTMS_STOP_OR_PAUSE, FTMS_STOP);
    indicate("80 04 03");
    expect_answer(FTMS_SET_RESISTANCE, 123, FTMS_INVALID_PARAMETER, 0);
    expect_log("2AD9=04 7B 00|confirmed|2AD9=08 01|");
}

#define TEST(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(runs_one_procedure_at_a_time),
        TEST(newest_target_takes_the_place),
        TEST(refuses_other_opcodes),
        TEST(now_goes_out_while_an_answer_is_due),
        TEST(now_overtakes_what_was_not_yet_sent),
        TEST(now_replaces_its_own_kind_that_waits),
        TEST(now_waits_only_for_the_write_response),
        TEST(now_is_repeated_while_another_is_in_progress),
        TEST(a_later_release_takes_the_place_of_a_refused_one),
        TEST(keeps_only_so_many_unanswered),
        TEST(an_answer_that_was_lost_does_not_keep_the_queue_shut),
        TEST(a_release_leaves_a_start_in_the_queue),
        TEST(reports_what_att_refused),
        TEST(repeats_once_what_passes),
        TEST(repeats_no_target_after_a_stop),
        TEST(ignores_answers_to_something_else),
        TEST(late_answer_is_not_one_to_a_newer_opcode),
        TEST(answers_nothing_that_was_refused),
        TEST(takes_answers_cut_short),
        TEST(takes_an_answer_before_the_write_response),
        TEST(writes_by_command_where_nothing_else_is_offered),
        TEST(width_follows_the_range),
        TEST(tries_the_other_width_once_and_keeps_it),
        TEST(tries_the_other_width_after_an_early_answer),
        TEST(goes_back_when_the_other_width_is_no_better),
        TEST(never_squeezes_a_level_into_an_octet),
        TEST(other_width_gives_way_to_a_stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
