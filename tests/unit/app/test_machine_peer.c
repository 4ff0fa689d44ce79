/*
 * The machine's peer against a scripted machine: what it writes for a load, and what it makes of
 * what it is told. The machine takes power from 1 to 1000 W in steps of 5 and levels from 1.0 to
 * 100.0 in steps of 1.0 (see whole_bike); its octets follow Fitness Machine Service 1.0.1.
 */
#include "app/machine_ftms.h"
#include "app/machine_peer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/bike_talk.h"
#include "support/octets.h"

#define EVENTS_MAX  64u
#define ANSWERS_MAX 256u /* between two calls of settle() */

static struct machine_peer under_test;
static struct machine_ftms spoken;
static struct event events[EVENTS_MAX];
static size_t event_count;

/* The machine's side of the link. */
static struct {
    struct link link; /* first: the port's handle */
    enum result refuses;
    unsigned closed;
    uint8_t answers[ANSWERS_MAX][64];
    size_t lengths[ANSWERS_MAX], first, count;
} machine;

static enum result to_machine(struct link *link, const uint8_t *pdu, size_t length)
{
    (void)link;
    if (machine.refuses != RESULT_OK)
        return machine.refuses;
    assert_true(machine.count < ANSWERS_MAX);
    const size_t answered =
        scripted_peer_answer(&peer, pdu, length, machine.answers[machine.count]);
    machine.lengths[machine.count] = answered;
    machine.count += answered > 0;
    return RESULT_OK;
}

static void on_close(struct link *link)
{
    assert_ptr_equal(link, &machine.link);
    machine.closed++;
}

static const struct link_operations operations = {.send = to_machine, .close = on_close};

static void on_event(void *user, const struct event *event)
{
    assert_ptr_equal(user, &under_test);
    assert_true(event_count < EVENTS_MAX);
    events[event_count++] = *event;
}

static void deliver(const uint8_t *pdu, size_t length)
{
    const struct link_user user = machine_peer_user(&under_test);
    user.received(user.user, pdu, length);
}

/* Lets the machine answer until it has nothing to say. */
static void settle(void)
{
    while (machine.first < machine.count) {
        const size_t i = machine.first++;
        deliver(machine.answers[i], machine.lengths[i]);
    }
    machine.first = machine.count = 0;
}

static void machine_sends(uint8_t opcode, uint16_t number, const char *value)
{
    const uint16_t handle = scripted_value_handle(&peer, number);
    uint8_t pdu[64] = {opcode, (uint8_t)handle, (uint8_t)(handle >> 8)};
    deliver(pdu, 3 + octets_from_text(value, pdu + 3, sizeof pdu - 3));
    settle();
}

static void meet_machine(const struct scripted_peer *script)
{
    memset(&machine, 0, sizeof machine);
    machine.link.operations = &operations;
    peer = *script;
    event_count = 0;
    loop_free(under_test.loop);
    spoken = (struct machine_ftms){0};
    under_test = (struct machine_peer){.loop = loop_new(LOOP_STEPPED, 1e6),
                                       .protocol = &machine_ftms,
                                       .state = &spoken,
                                       .on_event = on_event,
                                       .user = &under_test};
    assert_non_null(under_test.loop);
    under_test.link = &machine.link;
    machine_peer_user(&under_test).opened(&under_test);
    settle();
}

static void meet_ready_machine(const struct scripted_peer *script)
{
    meet_machine(script);
    assert_int_equal(event_count, 2);
    assert_int_equal(events[0].kind, EVENT_LINK);
    assert_true(events[0].link.up);
    assert_int_equal(events[1].kind, EVENT_MACHINE);
    event_count = 0;
    peer.log[0] = '\0';
}

static int tear_down(void **state)
{
    (void)state;
    loop_free(under_test.loop);
    under_test.loop = NULL;
    return 0;
}

static void command_load(enum load_kind kind, int32_t value, bool at_once)
{
    machine_peer_command(&under_test, COMMAND_LOAD, (struct load){kind, value}, at_once);
    settle();
}

/* ---- loads on the machine's grid ---- */

/* The nearest number of the machine that asks no more; below its least there is only its least. */
static void test_loads_come_to_the_machines_numbers(void **state)
{
    static const struct {
        struct load load;
        const char *written;
    } rows[] = {
        {{LOAD_RELEASED, 0}, "2AD9=05 01 00|"},  {{LOAD_POWER, 1}, "2AD9=05 01 00|"},
        {{LOAD_POWER, 5}, "2AD9=05 01 00|"},     {{LOAD_POWER, 6}, "2AD9=05 06 00|"},
        {{LOAD_POWER, 100}, "2AD9=05 60 00|"},  /* 96 */
        {{LOAD_POWER, 101}, "2AD9=05 65 00|"},  /* 101 */
        {{LOAD_POWER, 105}, "2AD9=05 65 00|"},  /* 101 */
        {{LOAD_POWER, 106}, "2AD9=05 6A 00|"},  /* 106 */
        {{LOAD_POWER, 999}, "2AD9=05 E4 03|"},  /* 996: its greatest is not on its own grid */
        {{LOAD_POWER, 5000}, "2AD9=05 E4 03|"}, /* 996 */
        {{LOAD_POWER, -7}, "2AD9=05 01 00|"},    {{LOAD_LEVEL, 0}, "2AD9=04 0A 00|"},
        {{LOAD_LEVEL, 19}, "2AD9=04 0A 00|"},    {{LOAD_LEVEL, 20}, "2AD9=04 14 00|"},
        {{LOAD_LEVEL, 999}, "2AD9=04 DE 03|"},   {{LOAD_LEVEL, 1000}, "2AD9=04 E8 03|"},
        {{LOAD_LEVEL, 30000}, "2AD9=04 E8 03|"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        meet_ready_machine(&whole_bike);
        command_load(rows[i].load.kind, rows[i].load.value, false);
        assert_string_equal(peer.log, rows[i].written);
    }
}

static struct scripted_peer only_levels(void)
{
    struct scripted_peer script = whole_bike;
    script.characteristics[FEATURE].value = "80 74 00 00 04 00 00 00"; /* takes resistance */
    return script;
}

static void test_a_machine_without_power_is_released_by_its_least_level(void **state)
{
    const struct scripted_peer script = only_levels();
    (void)state;
    meet_machine(&script);
    assert_false(events[1].machine.takes_power);
    assert_true(events[1].machine.takes_level);
    peer.log[0] = '\0';
    command_load(LOAD_RELEASED, 0, true);
    assert_string_equal(peer.log, "2AD9=04 0A 00|");
}

static void test_what_the_machine_can_do(void **state)
{
    (void)state;
    meet_machine(&whole_bike);
    assert_int_equal(event_count, 2);
    const struct machine *told = &events[1].machine;
    assert_true(told->takes_power);
    assert_true(told->takes_level);
    assert_int_equal(told->power_min_w, 1);
    assert_int_equal(told->power_max_w, 1000);
    assert_int_equal(told->level_min_tenths, 10);
    assert_int_equal(told->level_max_tenths, 1000);
}

/* ---- answers ---- */

static const struct event *only_event(enum event_kind kind)
{
    assert_int_equal(event_count, 1);
    assert_int_equal(events[0].kind, kind);
    event_count = 0;
    return &events[0];
}

/* The controller asked for 103 W and hears of 103 W, not of the 101 that were written. */
static void test_an_answer_names_the_load_that_was_asked_for(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    command_load(LOAD_POWER, 103, false);
    assert_int_equal(event_count, 0); /* the write was taken, which is no answer yet */
    machine_sends(ATT_INDICATION, 0x2AD9, "80 05 01");
    const struct event *answered = only_event(EVENT_ANSWER);
    assert_int_equal(answered->answer.command, COMMAND_LOAD);
    assert_int_equal(answered->answer.answer, ANSWER_ACCEPTED);
    assert_int_equal(answered->answer.load.kind, LOAD_POWER);
    assert_int_equal(answered->answer.load.value, 103);
}

static void test_answers(void **state)
{
    static const struct {
        const char *told;
        enum machine_command command;
        enum answer answer;
    } rows[] = {
        {"80 00 01", COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED},
        {"80 00 05", COMMAND_REQUEST_CONTROL, ANSWER_NOT_PERMITTED},
        {"80 07 04", COMMAND_START, ANSWER_ALREADY},
        {"80 07 02", COMMAND_START, ANSWER_REFUSED},
        {"80 08 03", COMMAND_STOP, ANSWER_REFUSED},
        {"80 08 01", COMMAND_STOP, ANSWER_ACCEPTED},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        meet_ready_machine(&whole_bike);
        machine_peer_command(&under_test, rows[i].command, (struct load){0}, false);
        settle();
        machine_sends(ATT_INDICATION, 0x2AD9, rows[i].told);
        const struct event *answered = only_event(EVENT_ANSWER);
        assert_int_equal(answered->answer.command, rows[i].command);
        assert_int_equal(answered->answer.answer, rows[i].answer);
    }
}

static void test_a_write_that_is_refused(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    peer.write_errors[0] = ATT_INVALID_VALUE_LENGTH;
    command_load(LOAD_POWER, 100, false);
    assert_int_equal(only_event(EVENT_ANSWER)->answer.answer, ANSWER_ERROR);
}

/* ---- what the machine reports ---- */

static void test_statuses(void **state)
{
    static const struct {
        const char *told;
        enum machine_status status; /* STATUS_NONE: no event */
    } rows[] = {
        {"01", STATUS_RESET},      {"02 01", STATUS_STOPPED},   {"02 02", STATUS_PAUSED},
        {"02", STATUS_STOPPED},    {"03", STATUS_SAFETY_KEY},   {"04", STATUS_STARTED},
        {"08 64 00", STATUS_NONE}, {"FF", STATUS_CONTROL_LOST}, {"77", STATUS_NONE},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        meet_ready_machine(&whole_bike);
        machine_sends(ATT_NOTIFICATION, 0x2ADA, rows[i].told);
        if (rows[i].status == STATUS_NONE)
            assert_int_equal(event_count, 0);
        else
            assert_int_equal(only_event(EVENT_STATUS)->status.status, rows[i].status);
    }
}

/* Table 4.10: speed, cadence in halves, distance in 24 bits, power, heart rate. */
static void test_readings(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    machine_sends(ATT_NOTIFICATION, 0x2AD2, "54 02 10 0E B5 00 39 30 00 E6 00 91");
    const struct telemetry all = only_event(EVENT_TELEMETRY)->telemetry;
    assert_int_equal(all.has, HAS_POWER | HAS_CADENCE | HAS_DISTANCE | HAS_HEART);
    assert_int_equal(all.power_w, 230);
    assert_int_equal(all.cadence_rpm, 91); /* 90.5 */
    assert_int_equal(all.distance_m, 12345);
    assert_int_equal(all.heart_bpm, 145);
    /* A heart rate of 0 is none, and speed alone is nothing that a ride uses. */
    machine_sends(ATT_NOTIFICATION, 0x2AD2, "40 02 10 0E F6 FF 00");
    const struct telemetry some = only_event(EVENT_TELEMETRY)->telemetry;
    assert_int_equal(some.has, HAS_POWER);
    assert_int_equal(some.power_w, -10);
    machine_sends(ATT_NOTIFICATION, 0x2AD2, "00 00 10 0E");
    assert_int_equal(event_count, 0);
}

/* ---- the end of the link ---- */

static void expect_link_down(const char *why)
{
    const struct event *down = only_event(EVENT_LINK);
    assert_false(down->link.up);
    assert_int_equal(down->link.source, LINK_MACHINE);
    assert_string_equal(under_test.failure, why);
    assert_int_equal(machine.closed, 1);
    assert_null(under_test.link);
}

static void test_a_machine_that_is_gone(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    const struct link_user user = machine_peer_user(&under_test);
    user.closed(user.user, "gone");
    expect_link_down("gone");
    command_load(LOAD_POWER, 100, false);
    machine_peer_tick(&under_test);
    machine_peer_close(&under_test);
    assert_int_equal(event_count, 0);
    assert_string_equal(peer.log, "");
    assert_int_equal(machine.closed, 1);
}

static void test_a_machine_that_does_not_read(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    machine.refuses = RESULT_FULL;
    command_load(LOAD_POWER, 100, false);
    expect_link_down("it does not take what is sent to it");
}

/* Nothing of what a woken ride has to say comes behind the guard's release, and its link stays. */
static void test_a_link_that_the_guard_has_taken(void **state)
{
    atomic_uint taken = 0;
    struct guarded guarded = {.is_guarded = true, .taken = &taken, .order.link = 3};
    (void)state;

    guarded.channel = -1;
    meet_ready_machine(&whole_bike);
    under_test.guarded = &guarded;
    taken = 2; /* an earlier one */
    command_load(LOAD_POWER, 101, false);
    assert_string_equal(peer.log, "2AD9=05 65 00|");
    taken = 3;
    peer.log[0] = '\0';
    command_load(LOAD_POWER, 200, true);
    machine_peer_tick(&under_test);
    assert_string_equal(peer.log, "");
    assert_int_equal(machine.closed, 0);
    under_test.guarded = NULL;
}

static void test_a_peer_that_is_no_bike(void **state)
{
    struct scripted_peer script = whole_bike;
    (void)state;
    script.service = 0x180D;
    meet_machine(&script);
    assert_int_equal(event_count, 2);
    assert_int_equal(events[1].kind, EVENT_LINK);
    assert_false(events[1].link.up);
    assert_non_null(under_test.failure);
    assert_int_equal(machine.closed, 1);
}

static void stop_loop(void *user)
{
    loop_stop(user);
}

static void wait_for_ms(uint64_t ms)
{
    struct loop *loop = under_test.loop;

    (void)loop_set_timer(loop, loop_now_ms(loop) + ms, stop_loop, loop);
    loop_run(loop);
    machine_peer_tick(&under_test);
}

/* Under a write that is never answered a release may wait: 4 s, then the link is ended. */
static void test_silence_under_a_write_ends_the_link(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    peer.is_silent = true;
    command_load(LOAD_POWER, 100, false);
    machine_peer_tick(&under_test); /* the wait begins */
    wait_for_ms(3900);
    assert_int_equal(event_count, 0);
    assert_string_equal(peer.log, "2AD9=05 60 00|");
    wait_for_ms(100);
    expect_link_down("the machine has stopped answering");
    /* Not before it was told to let go, though it may not hear that. */
    assert_string_equal(peer.log, "2AD9=05 60 00|2AD9=05 01 00|2AD9=08 01|");
}

/* Nothing to let go of, or nobody there any more: nothing is written. */
static void test_a_link_that_is_given_up_unasked(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    machine_peer_fail(&under_test, "why");
    expect_link_down("why");
    assert_string_equal(peer.log, "");
    meet_ready_machine(&whole_bike);
    command_load(LOAD_POWER, 100, false);
    peer.log[0] = '\0';
    machine.refuses = RESULT_CLOSED;
    machine_peer_fail(&under_test, "why");
    assert_int_equal(machine.closed, 1);
    assert_string_equal(peer.log, "");
}

static void open_again(void)
{
    machine.first = machine.count = 0;
    under_test.link = &machine.link;
    event_count = 0;
    machine_peer_user(&under_test).opened(&under_test);
}

/* One that takes the link and was never met before. */
static void meet_silent_machine(void)
{
    meet_ready_machine(&whole_bike);
    const struct link_user user = machine_peer_user(&under_test);
    user.closed(user.user, "gone");
    under_test.was_ready = false;
    open_again();
    machine_peer_tick(&under_test);
}

/* A radio that is on the air without its program takes the link and says nothing: the machine that
 * was there before is given up after 4 s and may be called again; one never met after 6 s. */
static void test_a_link_to_nobody(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    const struct link_user user = machine_peer_user(&under_test);
    user.closed(user.user, "gone");
    open_again();
    machine_peer_tick(&under_test);
    wait_for_ms(4000);
    assert_null(under_test.link);
    assert_int_equal(events[event_count - 1].kind, EVENT_LINK);
    assert_false(events[event_count - 1].link.up);

    open_again();
    settle();
    assert_int_equal(events[event_count - 1].kind, EVENT_MACHINE);

    meet_silent_machine();
    wait_for_ms(5900);
    assert_non_null(under_test.link);
    wait_for_ms(100);
    assert_null(under_test.link);
}

/* See test_silent_stranger.c for one that never did. */
static void test_a_machine_that_answered_once_is_waited_for(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    under_test.may_have_past = under_test.has_answered = true;
    for (unsigned i = 0; i < 3; i++)
        machine_peer_command(&under_test, COMMAND_REQUEST_CONTROL, (struct load){0}, false);
    assert_int_equal(machine.closed, 0);
}

/* ---- handles that are remembered ---- */

#define HASH       "11 22 33 44 55 66 77 88 99 AA BB CC DD EE FF 01"
#define OTHER_HASH "11 22 33 44 55 66 77 88 99 AA BB CC DD EE FF 02"

/* What an opening takes, in requests up to the first that is in the log. */
static unsigned lose_and_meet_again(void)
{
    const struct link_user user = machine_peer_user(&under_test);
    user.closed(user.user, "gone");
    peer.openings = 0;
    peer.log[0] = '\0';
    open_again();
    settle();
    assert_int_equal(events[event_count - 1].kind, EVENT_MACHINE);
    return peer.openings;
}

static void expect_release_at(uint8_t control_handle)
{
    peer.log[0] = '\0';
    command_load(LOAD_RELEASED, 0, true);
    assert_string_equal(peer.log, "2AD9=05 01 00|");
    assert_int_equal(spoken.client.control.handle, control_handle);
}

static void test_a_known_machine_is_ready_in_fewer_round_trips(void **state)
{
    struct scripted_peer script = whole_bike;
    (void)state;
    script.hash = HASH;
    meet_ready_machine(&script);
    const unsigned at_first = peer.openings;
    const unsigned later = lose_and_meet_again();
    print_message("round trips before the first subscription: %u at first, %u when known\n",
                  at_first, later);
    assert_int_equal(later, 2); /* MTU, hash */
    assert_true(at_first > 10);
    expect_release_at(3 + 3 * CONTROL);
    assert_int_equal(lose_and_meet_again(), 2);
}

/* New firmware, met again: nothing is written to where things were. */
static void test_a_machine_whose_handles_moved(void **state)
{
    struct scripted_peer script = whole_bike;
    (void)state;
    script.hash = HASH;
    meet_ready_machine(&script);
    peer.moved = 30;
    peer.hash = OTHER_HASH;
    assert_true(lose_and_meet_again() > 10);
    expect_release_at(33 + 3 * CONTROL);
    assert_int_equal(lose_and_meet_again(), 2);
    expect_release_at(33 + 3 * CONTROL);
}

/* Without a hash nobody can tell, so it is asked every time, also in the same ride. */
static void test_a_machine_without_a_hash_is_asked_every_time(void **state)
{
    (void)state;
    meet_ready_machine(&whole_bike);
    peer.moved = 30;
    assert_true(lose_and_meet_again() > 10);
    expect_release_at(33 + 3 * CONTROL);
}

/* Something else answers at the address, and what is remembered says so. */
static void test_remembered_handles_do_not_make_a_bike(void **state)
{
    struct scripted_peer script = whole_bike;
    (void)state;
    script.hash = HASH;
    meet_ready_machine(&script);
    spoken.known.services[0].uuid.assigned = 0x180D;
    machine_peer_user(&under_test).closed(&under_test, "gone");
    under_test.failure = NULL;
    open_again();
    settle();
    assert_null(under_test.link);
    assert_string_equal(under_test.failure, "this device is not a fitness machine");
}

static void test_a_machine_that_is_out_of_sync_is_called_anew(void **state)
{
    struct scripted_peer script = whole_bike;
    (void)state;
    script.hash = HASH;
    meet_ready_machine(&script);
    peer.write_errors[0] = ATT_DATABASE_OUT_OF_SYNC;
    command_load(LOAD_POWER, 100, false);
    expect_link_down("the machine has changed what it offers");
    assert_string_equal(peer.log, "2AD9=05 60 00|"); /* nothing more to where it may not be */
    open_again();
    peer.moved = 30;
    peer.hash = OTHER_HASH;
    settle();
    expect_release_at(33 + 3 * CONTROL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_loads_come_to_the_machines_numbers),
        cmocka_unit_test(test_a_machine_without_power_is_released_by_its_least_level),
        cmocka_unit_test(test_what_the_machine_can_do),
        cmocka_unit_test(test_an_answer_names_the_load_that_was_asked_for),
        cmocka_unit_test(test_answers),
        cmocka_unit_test(test_a_write_that_is_refused),
        cmocka_unit_test(test_statuses),
        cmocka_unit_test(test_readings),
        cmocka_unit_test(test_a_machine_that_is_gone),
        cmocka_unit_test(test_a_machine_that_does_not_read),
        cmocka_unit_test(test_a_link_that_the_guard_has_taken),
        cmocka_unit_test(test_a_peer_that_is_no_bike),
        cmocka_unit_test(test_silence_under_a_write_ends_the_link),
        cmocka_unit_test(test_a_link_that_is_given_up_unasked),
        cmocka_unit_test(test_a_link_to_nobody),
        cmocka_unit_test(test_a_known_machine_is_ready_in_fewer_round_trips),
        cmocka_unit_test(test_a_machine_whose_handles_moved),
        cmocka_unit_test(test_a_machine_without_a_hash_is_asked_every_time),
        cmocka_unit_test(test_remembered_handles_do_not_make_a_bike),
        cmocka_unit_test(test_a_machine_that_is_out_of_sync_is_called_anew),
        cmocka_unit_test(test_a_machine_that_answered_once_is_waited_for),
    };
    return cmocka_run_group_tests(tests, NULL, tear_down);
}
