/*
 * The machine's peer with a trainer on a channel of a receiver: what it is told for each command of
 * the ride, and what is answered. Messages as in wire/test_usb_trainer.c; its octets follow the
 * sources of wire/usb_equipment.h.
 */
#include "app/machine_trainer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

#include "app/machine_peer.h"
#include "support/octets.h"

#define EVENTS_MAX 32u

#define POWER_ONLY      "4E 03 36 FF FF FF FF F4 01 02"
#define RESISTANCE_ONLY "4E 03 36 FF FF FF FF F4 01 01"
#define BOTH            "4E 03 36 FF FF FF FF F4 01 07"
#define NEITHER         "4E 03 36 FF FF FF FF F4 01 00"
#define POWER           "4E 03 19 01 5A 2C 01 FA 20 30"
#define ACKNOWLEDGED    "40 03 01 05"
#define ASK_STATUS      "4F 03 46 FF FF FF FF 01 47 01"
#define SAY_0_PERCENT   "4F 03 30 FF FF FF FF FF FF 00"
#define SAY_0_W         "4F 03 31 FF FF FF FF FF 00 00"

static struct machine_peer under_test;
static struct machine_trainer spoken;
static struct link channel;
static char sent[256]; /* since the last look, each in brackets */
static struct event events[EVENTS_MAX];
static size_t event_count;

static enum result to_trainer(struct link *link, const uint8_t *octets, size_t length)
{
    static const char digits[] = "0123456789ABCDEF";
    size_t at = strlen(sent);

    (void)link;
    assert_true(at + 3 * length + 3 < sizeof sent);
    sent[at++] = '[';
    for (size_t i = 0; i < length; i++) {
        sent[at++] = digits[octets[i] >> 4];
        sent[at++] = digits[octets[i] & 15];
    }
    sent[at++] = ']';
    sent[at] = '\0';
    return RESULT_OK;
}

static void on_close(struct link *link)
{
    (void)link;
}

static const struct link_operations operations = {.send = to_trainer, .close = on_close};

static void on_event(void *user, const struct event *event)
{
    (void)user;
    assert_true(event_count < EVENTS_MAX);
    events[event_count++] = *event;
}

static void hears(const char *text)
{
    const struct link_user user = machine_peer_user(&under_test);
    uint8_t octets[USB_FRAME_MAX];

    user.received(user.user, octets, octets_of_frame(text, octets));
}

/* NULL: nothing was. */
static void assert_sent(const char *text)
{
    char expected[sizeof sent];
    uint8_t octets[USB_FRAME_MAX];

    memcpy(expected, sent, sizeof sent);
    sent[0] = '\0';
    if (text != NULL)
        (void)to_trainer(&channel, octets, octets_of_frame(text, octets));
    assert_string_equal(expected, sent);
    sent[0] = '\0';
}

static void meet(const char *able)
{
    loop_free(under_test.loop);
    channel.operations = &operations;
    spoken = (struct machine_trainer){0};
    under_test = (struct machine_peer){.loop = loop_new(LOOP_STEPPED, 1e6),
                                       .protocol = &machine_trainer,
                                       .state = &spoken,
                                       .link = &channel,
                                       .on_event = on_event};
    assert_non_null(under_test.loop);
    event_count = 0;
    sent[0] = '\0';
    machine_peer_user(&under_test).opened(&under_test);
    hears(ACKNOWLEDGED);
    hears(able);
    hears(POWER);
    assert_int_equal(event_count, 3);
    assert_int_equal(events[0].kind, EVENT_LINK);
    assert_int_equal(events[1].kind, EVENT_TELEMETRY);
    assert_int_equal(events[2].kind, EVENT_MACHINE);
    assert_true(under_test.is_ready);
    sent[0] = '\0';
}

static int tear_down(void **state)
{
    (void)state;
    loop_free(under_test.loop);
    under_test.loop = NULL;
    return 0;
}

static void on_time(void *user)
{
    loop_stop(user);
}

static void pass(uint64_t ms)
{
    struct loop *loop = under_test.loop;

    (void)loop_set_timer(loop, loop_now_ms(loop) + ms, on_time, loop);
    loop_run(loop);
}

static void command(enum machine_command command, enum load_kind kind, int32_t value)
{
    event_count = 0;
    machine_peer_command(&under_test, command, (struct load){kind, value}, false);
}

static void assert_answered(enum machine_command command, enum answer answer)
{
    assert_int_equal(event_count, 1);
    assert_int_equal(events[0].kind, EVENT_ANSWER);
    assert_int_equal(events[0].answer.command, command);
    assert_int_equal(events[0].answer.answer, answer);
}

static void test_what_it_takes(void **state)
{
    (void)state;
    meet(BOTH);
    const struct machine both = events[2].machine;
    assert_true(both.takes_power && both.takes_level);
    assert_int_equal(both.power_min_w, 0);
    assert_int_equal(both.power_max_w, 4000);
    assert_int_equal(both.level_min_tenths, 0);
    assert_int_equal(both.level_max_tenths, 105); /* of 500 N, as below */
    assert_int_equal(both.level_step_tenths, 5);
    meet(RESISTANCE_ONLY);
    assert_true(!events[2].machine.takes_power && events[2].machine.takes_level);
    assert_int_equal(events[2].machine.power_max_w, 0);
    meet(POWER_ONLY);
    assert_true(events[2].machine.takes_power && !events[2].machine.takes_level);
    assert_int_equal(events[2].machine.level_max_tenths, 0);
}

/* 400 W at 7.6 m/s are 53 N: per cent of its most, in steps of half a per cent; a trainer that does
 * not say its most has 200 N. */
static void test_levels_end_where_those_of_a_bike_do(void **state)
{
    static const struct {
        const char *able;
        int32_t most_tenths;
    } rows[] = {
        {"4E 03 36 FF FF FF FF 28 00 01", 1000}, /* 40 N */
        {"4E 03 36 FF FF FF FF 35 00 01", 1000}, /* 53 N */
        {"4E 03 36 FF FF FF FF 6A 00 01", 500},  /* 106 N */
        {"4E 03 36 FF FF FF FF E8 03 01", 50},   /* 1000 N: 5.3 % */
        {"4E 03 36 FF FF FF FF FE FF 01", 5},    /* the most that can be said */
        {"4E 03 36 FF FF FF FF FF FF 01", 265},  /* not said */
        {"4E 03 36 FF FF FF FF 00 00 01", 265},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        meet(rows[i].able);
        assert_int_equal(events[2].machine.level_max_tenths, rows[i].most_tenths);
    }
}

static void test_what_it_measures(void **state)
{
    (void)state;
    meet(BOTH);
    event_count = 0;
    hears("4E 03 19 03 55 00 00 2C 61 30");
    hears("4E 03 10 15 64 FE C4 09 78 35");
    hears("4E 03 10 15 64 03 C4 09 78 35");
    assert_int_equal(event_count, 3);
    assert_int_equal(events[0].telemetry.has, HAS_POWER | HAS_CADENCE);
    assert_int_equal(events[0].telemetry.power_w, 300);
    assert_int_equal(events[0].telemetry.cadence_rpm, 85);
    assert_int_equal(events[2].telemetry.has, HAS_DISTANCE | HAS_HEART);
    assert_int_equal(events[2].telemetry.distance_m, 5);
    assert_int_equal(events[2].telemetry.heart_bpm, 120);
}

/* None of them is said to it, and each is answered at once. */
static void test_control_start_and_stop(void **state)
{
    (void)state;
    meet(BOTH);
    command(COMMAND_REQUEST_CONTROL, LOAD_RELEASED, 0);
    assert_answered(COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED);
    command(COMMAND_START, LOAD_RELEASED, 0);
    assert_answered(COMMAND_START, ANSWER_ALREADY);
    command(COMMAND_STOP, LOAD_RELEASED, 0);
    assert_answered(COMMAND_STOP, ANSWER_ALREADY);
    assert_sent(NULL);
    meet(NEITHER);
    command(COMMAND_REQUEST_CONTROL, LOAD_RELEASED, 0);
    assert_answered(COMMAND_REQUEST_CONTROL, ANSWER_REFUSED);
}

static void test_loads_come_to_its_numbers(void **state)
{
    static const struct {
        const char *able;
        struct load load;
        const char *said;
    } rows[] = {
        {BOTH, {LOAD_POWER, 200}, "4F 03 31 FF FF FF FF FF 20 03"},
        {BOTH, {LOAD_POWER, 4000}, "4F 03 31 FF FF FF FF FF 80 3E"},
        {BOTH, {LOAD_POWER, 5000}, "4F 03 31 FF FF FF FF FF 80 3E"},
        {BOTH, {LOAD_POWER, -1}, SAY_0_W},
        {BOTH, {LOAD_LEVEL, 505}, "4F 03 30 FF FF FF FF FF FF 65"},
        {BOTH, {LOAD_LEVEL, 509}, "4F 03 30 FF FF FF FF FF FF 65"},
        {BOTH, {LOAD_LEVEL, 1000}, "4F 03 30 FF FF FF FF FF FF C8"},
        {BOTH, {LOAD_LEVEL, 2000}, "4F 03 30 FF FF FF FF FF FF C8"},
        /* A release asks nothing of the brake at any cadence, where that can be said. */
        {BOTH, {LOAD_RELEASED, 0}, SAY_0_PERCENT},
        {RESISTANCE_ONLY, {LOAD_RELEASED, 0}, SAY_0_PERCENT},
        {POWER_ONLY, {LOAD_RELEASED, 0}, SAY_0_W},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        meet(rows[i].able);
        command(COMMAND_LOAD, rows[i].load.kind, rows[i].load.value);
        assert_sent(rows[i].said);
        assert_int_equal(event_count, 0); /* the trainer has not said anything of it */
    }
}

static void test_an_answer_names_its_load(void **state)
{
    (void)state;
    meet(BOTH);
    command(COMMAND_LOAD, LOAD_RELEASED, 0);
    assert_sent(SAY_0_PERCENT);
    hears(ACKNOWLEDGED);
    assert_sent(ASK_STATUS);
    assert_int_equal(event_count, 0);
    hears(ACKNOWLEDGED);
    hears("4E 03 47 30 01 00 FF FF FF 00");
    assert_answered(COMMAND_LOAD, ANSWER_ACCEPTED);
    assert_int_equal(events[0].answer.load.kind, LOAD_RELEASED);
    command(COMMAND_LOAD, LOAD_POWER, 200);
    hears(ACKNOWLEDGED);
    hears(ACKNOWLEDGED);
    hears("4E 03 47 31 02 03 FF FF 20 03");
    assert_answered(COMMAND_LOAD, ANSWER_REFUSED);
    assert_int_equal(events[0].answer.load.kind, LOAD_POWER);
    assert_int_equal(events[0].answer.load.value, 200);
}

/* What was on the brake may be on it still. There is no stop that could be said. */
static void test_a_link_that_is_given_up_is_left_with_a_release(void **state)
{
    (void)state;
    meet(BOTH);
    command(COMMAND_REQUEST_CONTROL, LOAD_RELEASED, 0);
    machine_peer_fail(&under_test, "why");
    assert_sent(SAY_0_PERCENT);
    assert_null(under_test.link);
}

/* A channel that was lost and is back, and no page of what the trainer is able to do. */
static void test_one_that_is_back_is_let_go_of_without_being_asked_what_it_takes(void **state)
{
    (void)state;
    meet(BOTH);
    command(COMMAND_REQUEST_CONTROL, LOAD_RELEASED, 0);
    command(COMMAND_LOAD, LOAD_POWER, 200);
    machine_peer_user(&under_test).closed(&under_test, "lost");
    under_test.link = &channel;
    event_count = 0;
    machine_peer_user(&under_test).opened(&under_test);
    hears(POWER);
    for (unsigned i = 0; i < 20; i++) {
        sent[0] = '\0';
        hears(ACKNOWLEDGED);
        pass(700);
        machine_peer_tick(&under_test);
    }
    assert_int_equal(events[event_count - 1].kind, EVENT_MACHINE);
    assert_true(events[event_count - 1].machine.takes_power);
    assert_int_equal(events[event_count - 1].machine.level_max_tenths, 105);
    sent[0] = '\0';
    command(COMMAND_REQUEST_CONTROL, LOAD_RELEASED, 0);
    assert_answered(COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED);
    command(COMMAND_LOAD, LOAD_RELEASED, 0);
    assert_sent(SAY_0_PERCENT);
    assert_true(machine_trainer.letting_go(&spoken).release.length > 0);
}

static void test_what_lets_go_without_us(void **state)
{
    (void)state;
    meet(BOTH);
    struct letting_go frames = machine_trainer.letting_go(&spoken);
    assert_int_equal(frames.kind, LETTING_GO_TRAINER);
    assert_octets(frames.release.octets, frames.release.length,
                  "A4 09 4F 03 30 FF FF FF FF FF FF 00 D1");
    assert_int_equal(frames.stop.length, 0);
    meet(POWER_ONLY);
    frames = machine_trainer.letting_go(&spoken);
    assert_octets(frames.release.octets, frames.release.length,
                  "A4 09 4F 03 31 FF FF FF FF FF 00 00 2F");
    meet(NEITHER);
    frames = machine_trainer.letting_go(&spoken);
    assert_int_equal(frames.release.length, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_what_it_takes, tear_down),
        cmocka_unit_test_teardown(test_levels_end_where_those_of_a_bike_do, tear_down),
        cmocka_unit_test_teardown(test_what_it_measures, tear_down),
        cmocka_unit_test_teardown(test_control_start_and_stop, tear_down),
        cmocka_unit_test_teardown(test_loads_come_to_its_numbers, tear_down),
        cmocka_unit_test_teardown(test_an_answer_names_its_load, tear_down),
        cmocka_unit_test_teardown(test_a_link_that_is_given_up_is_left_with_a_release, tear_down),
        cmocka_unit_test_teardown(
            test_one_that_is_back_is_let_go_of_without_being_asked_what_it_takes, tear_down),
        cmocka_unit_test_teardown(test_what_lets_go_without_us, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
