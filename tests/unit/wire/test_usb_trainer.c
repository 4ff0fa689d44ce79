/*
 * What is said to a trainer in which order, and what is made of what it says. Messages as in
 * test_usb_receiver.c, pages as in test_usb_equipment.c; channel 3. "40 03 01 05" is the receiver's
 * word that the trainer has acknowledged the page in the air, "40 03 01 06" that it has not (ANT
 * Message Protocol and Usage, D00000652 Rev 5.1, section 9.5.6).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/usb_trainer.h"

#define CHANNEL 3u

#define GENERAL      "4E 03 10 19 64 32 C4 09 FF 34"
#define POWER        "4E 03 19 01 5A 2C 01 FA 20 30"
#define ABLE         "4E 03 36 FF FF FF FF F4 01 03"
#define ASK_ABLE     "4F 03 46 FF FF FF FF 01 36 01"
#define ASK_STATUS   "4F 03 46 FF FF FF FF 01 47 01"
#define SAY_200_W    "4F 03 31 FF FF FF FF FF 20 03"
#define SAY_250_W    "4F 03 31 FF FF FF FF FF E8 03"
#define SAY_ZERO     "4F 03 30 FF FF FF FF FF FF 00"
#define ACKNOWLEDGED "40 03 01 05"
#define MISSED       "40 03 01 06"
static const struct usb_command to_200_w = {USB_PAGE_TARGET_POWER, 800};
static const struct usb_command to_250_w = {USB_PAGE_TARGET_POWER, 1000};
static const struct usb_command to_zero = {USB_PAGE_RESISTANCE, 0};

static struct usb_trainer trainer;
static uint64_t t_ms;
static char events[512];

static void note(const char *text)
{
    assert_true(strlen(events) + strlen(text) < sizeof events);
    strcat(events, text);
}

static void note_number(const char *word, bool has, int32_t number)
{
    char text[24];

    if (!has)
        return;
    (void)snprintf(text, sizeof text, "%s %d ", word, number);
    note(text);
}

static void note_data(const struct usb_trainer_data *data)
{
    note_number("power", data->has_power, data->power_w);
    note_number("cadence", data->has_cadence, data->cadence_rpm);
    note_number("distance", data->has_distance, data->distance_m);
    note_number("heart", data->has_heart, data->heart_bpm);
    note("|");
}

static void drain(void)
{
    struct usb_trainer_event event;
    char text[64];

    while (usb_trainer_next_event(&trainer, &event)) {
        switch (event.kind) {
        case USB_TRAINER_READY:
            (void)snprintf(text, sizeof text, "ready%s%s|",
                           event.able.takes_resistance ? " resistance" : "",
                           event.able.takes_power ? " power" : "");
            note(text);
            break;
        case USB_TRAINER_DATA: note_data(&event.data); break;
        case USB_TRAINER_ANSWER:
            (void)snprintf(text, sizeof text, "%s %02X %u|", event.is_taken ? "taken" : "refused",
                           event.command.page, event.command.value);
            note(text);
            break;
        case USB_TRAINER_FAILED:
            note("failed: ");
            note(event.reason);
            break;
        }
    }
}

static void hears(const char *text)
{
    uint8_t octets[USB_FRAME_MAX];

    usb_trainer_receive(&trainer, t_ms, octets, octets_of_frame(text, octets));
    drain();
}

static void assert_says(const char *text)
{
    uint8_t octets[USB_FRAME_MAX], expected[USB_FRAME_MAX];
    const size_t length = usb_trainer_next_octets(&trainer, octets);

    if (text == NULL) {
        assert_int_equal(length, 0);
        return;
    }
    assert_int_equal(length, octets_of_frame(text, expected));
    assert_memory_equal(octets, expected, length);
}

static void after(uint64_t ms)
{
    t_ms += ms;
    usb_trainer_tick(&trainer, t_ms);
    drain();
}

static void says(const struct usb_command *command)
{
    usb_trainer_command(&trainer, t_ms, command);
    drain();
}

static void start(void)
{
    t_ms = 7000;
    events[0] = '\0';
    usb_trainer_start(&trainer, CHANNEL, t_ms);
}

static void start_ready(void)
{
    start();
    assert_says(ASK_ABLE);
    hears(POWER);
    hears(ACKNOWLEDGED);
    hears(ABLE);
    assert_non_null(strstr(events, "ready resistance power|"));
    events[0] = '\0';
    assert_says(NULL);
}

/* A load up to where its status is asked for. */
static void say_and_ask(const struct usb_command *command, const char *text)
{
    says(command);
    assert_says(text);
    hears(ACKNOWLEDGED);
    assert_says(ASK_STATUS);
    hears(ACKNOWLEDGED);
    assert_string_equal(events, "");
}

static void assert_events(const char *expected)
{
    assert_string_equal(events, expected);
    events[0] = '\0';
}

/* ---- the way to a load ---- */

static void asks_what_it_is_able_to_do(void **state)
{
    (void)state;
    start();
    assert_says(ASK_ABLE);
    hears(MISSED);
    assert_says(ASK_ABLE);
    hears(ACKNOWLEDGED);
    after(599);
    assert_says(NULL);
    after(1);
    assert_says(ASK_ABLE);
    hears(ABLE);
    assert_events(""); /* it may be something to run on */
    hears(GENERAL);
    assert_events("distance 0 |ready resistance power|");
    hears("4E 03 36 FF FF FF FF F4 01 01"); /* it has said so */
    assert_events("");
}

static void one_that_does_not_say_so_only_measures(void **state)
{
    (void)state;
    start();
    hears(POWER);
    assert_events("power 250 cadence 90 |");
    for (unsigned i = 0; i < 8; i++) {
        assert_says(ASK_ABLE);
        hears(ACKNOWLEDGED);
        after(600);
    }
    assert_events("ready|");
    assert_says(NULL);
}

/* Time alone proves nothing: where it is not heard to hear, it is asked on. */
static void one_that_cannot_hear_is_asked_on(void **state)
{
    (void)state;
    start();
    hears(POWER);
    for (unsigned i = 0; i < 100; i++) {
        assert_says(ASK_ABLE);
        hears(MISSED);
    }
    assert_says(ASK_ABLE);
    assert_events("power 250 cadence 90 |");
}

static void something_to_run_on_is_no_bike(void **state)
{
    (void)state;
    start();
    hears("4E 03 10 13 64 32 C4 09 FF 34");
    assert_non_null(strstr(events, "failed: what the receiver hears is no bike"));
    hears(POWER);
    says(&to_zero);
    after(5000);
    assert_says(NULL);
}

/* Given up with a load on, it could not be told to let go. */
static void one_that_has_a_load_on_is_kept_whatever_it_calls_itself(void **state)
{
    (void)state;
    start_ready();
    says(&to_200_w);
    assert_says(SAY_200_W);
    hears(ACKNOWLEDGED);
    hears("4E 03 10 13 64 32 C4 09 FF 34");
    assert_null(strstr(events, "failed"));
    assert_says(ASK_STATUS);
    says(&to_zero);
    hears(ACKNOWLEDGED);
    assert_says(SAY_ZERO);
}

/* ---- what it measures ---- */

static void measures(void **state)
{
    static const struct {
        const char *page, *events;
    } rows[] = {
        {"4E 03 19 03 FF 00 00 00 40 20", "power 0 |"}, /* its own word, standing */
        {"4F 03 19 03 55 00 00 2C 61 30", "power 300 cadence 85 |"},
        {"4E 03 19 03 55 00 00 FF 6F 30", "cadence 85 |"}, /* it cannot tell its power */
        {"4E 03 19 03 FF 00 00 FF 6F 30", ""},
        {"4E 03 15 FF FF FF 50 96 00 30", "power 150 cadence 80 |"}, /* a stationary bike */
        {"4E 03 10 15 64 FE C4 09 FF 34", "distance 0 |"},
        {"4E 03 10 15 64 03 C4 09 78 35", "distance 5 heart 120 |"},
        {"4E 03 10 15 64 03 C4 09 FF 30", ""},
        {"4E 03 10 15 64 02 C4 09 FF 34", "distance 260 |"},
        {"4E 03 11 FF FF FF FF FF 00 30", ""}, /* general settings */
        {"4E 03 50 FF FF 01 FF FF 01 00", ""}, /* who made it */
        {"4E 03 19 03 55 00 00 2C 61", ""},    /* too short */
        {"4E 02 19 03 55 00 00 2C 61 30", ""}, /* another channel's */
        {"4E", ""},
    };

    (void)state;
    start_ready();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        hears(rows[i].page);
        assert_events(rows[i].events);
    }
}

/* ---- loads ---- */

static void the_status_answers(void **state)
{
    (void)state;
    start_ready();
    say_and_ask(&to_200_w, SAY_200_W);
    hears("4E 03 47 31 01 04 FF FF 20 03"); /* pending */
    after(600);
    assert_says(ASK_STATUS);
    hears("4E 03 47 31 01 00 FF FF 20 03");
    assert_events("taken 31 800|");
    hears(ACKNOWLEDGED);
    hears("4E 03 47 31 01 00 FF FF 20 03");
    after(5000);
    assert_says(NULL);
    assert_events("");
    say_and_ask(&to_zero, SAY_ZERO);
    hears("4E 03 47 30 02 00 FF FF FF 00");
    assert_events("taken 30 0|");
}

static void refusals(void **state)
{
    static const char *const statuses[] = {"4E 03 47 31 01 01 FF FF 20 03",
                                           "4E 03 47 31 02 02 FF FF 20 03",
                                           "4E 03 47 31 03 03 FF FF 20 03"};

    (void)state;
    start_ready();
    for (size_t i = 0; i < 3; i++) {
        say_and_ask(&to_200_w, SAY_200_W);
        hears(statuses[i]);
        assert_events("refused 31 800|");
    }
}

/* Not acknowledged, so it is said again until it is; a newer one goes in its place. */
static void what_was_not_heard_is_said_again(void **state)
{
    (void)state;
    start_ready();
    says(&to_200_w);
    for (unsigned i = 0; i < 20; i++) {
        assert_says(SAY_200_W);
        assert_says(NULL);
        hears(MISSED);
    }
    assert_says(SAY_200_W);
    says(&to_zero);
    assert_says(NULL); /* one at a time */
    hears(MISSED);
    assert_says(SAY_ZERO);
    hears(ACKNOWLEDGED);
    assert_says(ASK_STATUS);
    assert_events("");
}

/* The receiver has still another one in the air, or says nothing of how it went. */
static void a_receiver_that_refuses_or_says_nothing_is_told_again(void **state)
{
    (void)state;
    start_ready();
    says(&to_zero);
    assert_says(SAY_ZERO);
    hears("40 03 4F 1F");
    assert_says(NULL);
    after(249);
    assert_says(NULL);
    after(1);
    assert_says(SAY_ZERO);
    after(999);
    assert_says(NULL);
    after(1);
    assert_says(SAY_ZERO);
    hears("40 02 01 05"); /* another channel's */
    assert_says(NULL);
    hears(ACKNOWLEDGED); /* perhaps of the first one */
    assert_says(SAY_ZERO);
    hears(ACKNOWLEDGED);
    assert_says(ASK_STATUS);
}

/* How a load went, told when the release that came after it is in the air, be it that the receiver
 * was late or that it refused the release: the release was not heard for that. */
static void a_late_word_of_a_load_is_none_of_the_release(void **state)
{
    (void)state;
    for (unsigned is_refused = 0; is_refused < 2; is_refused++) {
        start_ready();
        says(&to_200_w);
        assert_says(SAY_200_W);
        says(&to_zero);
        after(1000);
        assert_says(SAY_ZERO);
        if (is_refused)
            hears("40 03 4F 1F");
        hears(ACKNOWLEDGED);
        assert_says(SAY_ZERO);
        hears(MISSED);
        assert_says(SAY_ZERO);
        hears(ACKNOWLEDGED);
        assert_says(ASK_STATUS);
    }
}

static void late_words_of_two_loads_are_none_of_the_release(void **state)
{
    (void)state;
    start_ready();
    says(&to_200_w);
    assert_says(SAY_200_W);
    says(&to_250_w);
    after(1000);
    assert_says(SAY_250_W);
    says(&to_zero);
    hears(ACKNOWLEDGED);
    assert_says(SAY_ZERO);
    hears(ACKNOWLEDGED);
    assert_says(SAY_ZERO);
    hears(ACKNOWLEDGED);
    assert_says(ASK_STATUS);
}

/* How a page went, here the request, may be told by nobody. */
static void a_word_that_never_comes_is_not_waited_for(void **state)
{
    (void)state;
    start_ready();
    says(&to_zero);
    assert_says(SAY_ZERO);
    hears(ACKNOWLEDGED);
    assert_says(ASK_STATUS);
    hears("4E 03 47 30 01 00 FF FF FF 00");
    assert_events("taken 30 0|");
    after(1000);
    after(4000);
    say_and_ask(&to_250_w, SAY_250_W);
}

/* Before the octets are out nothing can have come of them. */
static void what_was_not_sent_is_not_acknowledged(void **state)
{
    (void)state;
    start_ready();
    says(&to_zero);
    hears(ACKNOWLEDGED);
    assert_says(SAY_ZERO);
    hears(ACKNOWLEDGED);
    assert_says(ASK_STATUS);
}

/* Of an older load, of another's, of none: it is asked again, and nothing is taken for an answer.
 */
static void another_status_is_no_answer(void **state)
{
    static const char *const others[] = {
        "4E 03 47 31 01 00 FF FF 20 03", /* 200 W */
        "4E 03 47 30 02 00 FF FF FF 64", /* 50 % */
        "4E 03 47 33 02 00 FF 20 4E FF", /* a slope */
        "4E 03 47 FF FF FF FF FF FF FF",
    };

    (void)state;
    start_ready();
    say_and_ask(&to_200_w, SAY_200_W);
    hears("4E 03 47 31 01 00 FF FF 20 03");
    assert_events("taken 31 800|");
    say_and_ask(&to_250_w, SAY_250_W);
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        hears(others[i]);
        after(600);
        assert_says(ASK_STATUS);
        hears(ACKNOWLEDGED);
    }
    assert_events("");
}

/* The same load again, and a status that was said before it: once it counts, the count must go on.
 */
static void an_older_status_of_an_equal_load_is_no_answer(void **state)
{
    (void)state;
    start_ready();
    say_and_ask(&to_zero, SAY_ZERO);
    hears("4E 03 47 30 FE 00 FF FF FF 00");
    assert_events("taken 30 0|");
    say_and_ask(&to_200_w, SAY_200_W);
    hears("4E 03 47 31 FF 00 FF FF 20 03");
    assert_events("taken 31 800|");
    say_and_ask(&to_200_w, SAY_200_W);
    hears("4E 03 47 31 FF 00 FF FF 20 03");
    assert_events("");
    hears("4E 03 47 31 00 03 FF FF 20 03"); /* 256 of them: it goes round */
    assert_events("refused 31 800|");
}

static void one_that_counts_nothing_is_believed_all_the_same(void **state)
{
    (void)state;
    start_ready();
    for (unsigned i = 0; i < 3; i++) {
        say_and_ask(&to_zero, SAY_ZERO);
        hears("4E 03 47 30 00 00 FF FF FF 00");
        assert_events("taken 30 0|");
    }
}

/* A status that was heard while the load was still in the air says nothing of it. */
static void a_status_before_the_load_was_heard_is_no_answer(void **state)
{
    (void)state;
    start_ready();
    says(&to_zero);
    assert_says(SAY_ZERO);
    hears("4E 03 47 30 07 00 FF FF FF 00");
    assert_events("");
}

/* One that has told no status at all, and was heard to hear it asked for: within the 3 s that the
 * ride waits, and from then on at once. */
static void one_that_tells_no_status_is_taken_by_its_word(void **state)
{
    (void)state;
    start_ready();
    const uint64_t begun = t_ms;
    say_and_ask(&to_200_w, SAY_200_W);
    after(600);
    assert_says(ASK_STATUS);
    hears(MISSED);
    assert_says(ASK_STATUS);
    hears(ACKNOWLEDGED);
    after(599);
    assert_events("");
    after(1);
    assert_events("taken 31 800|");
    assert_true(t_ms - begun < 1500);
    says(&to_250_w);
    assert_says(SAY_250_W);
    hears(MISSED);
    assert_events("");
    assert_says(SAY_250_W);
    hears(ACKNOWLEDGED);
    assert_events("taken 31 1000|");
    assert_says(ASK_STATUS); /* the two before may have been lost */
    hears(ACKNOWLEDGED);
    after(5000);
    assert_says(NULL);
    /* Then it does. */
    hears("4E 03 47 31 07 00 FF FF E8 03");
    says(&to_250_w);
    assert_says(SAY_250_W);
    hears(ACKNOWLEDGED);
    assert_events("");
}

/* That may wait, and is not to be believed lightly. */
static void a_release_is_asked_for_all_the_same(void **state)
{
    (void)state;
    start_ready();
    say_and_ask(&to_200_w, SAY_200_W);
    after(600);
    assert_says(ASK_STATUS);
    hears(ACKNOWLEDGED);
    after(600);
    assert_events("taken 31 800|");
    say_and_ask(&to_zero, SAY_ZERO);
    hears("4E 03 47 30 02 03 FF FF FF 00");
    assert_events("refused 30 0|");
}

static void one_that_told_it_before_is_asked_on(void **state)
{
    (void)state;
    start_ready();
    say_and_ask(&to_zero, SAY_ZERO);
    hears("4E 03 47 30 00 00 FF FF FF 00");
    assert_events("taken 30 0|");
    say_and_ask(&to_200_w, SAY_200_W);
    for (unsigned i = 0; i < 50; i++) {
        after(600);
        assert_says(ASK_STATUS);
        hears(ACKNOWLEDGED);
    }
    assert_events("");
}

static void a_load_as_bare_octets(void **state)
{
    uint8_t octets[USB_FRAME_MAX], expected[USB_FRAME_MAX];
    size_t length;

    (void)state;
    start_ready();
    length = usb_trainer_encode(&trainer, &to_zero, octets);
    /* A4 ^ 09 ^ 4F ^ 03 ^ 30 ^ FF (six times) = D1 */
    assert_int_equal(length, octets_from_text("A4 09 4F 03 30 FF FF FF FF FF FF 00 D1", expected,
                                              sizeof expected));
    assert_memory_equal(octets, expected, length);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(asks_what_it_is_able_to_do),
        cmocka_unit_test(one_that_does_not_say_so_only_measures),
        cmocka_unit_test(one_that_cannot_hear_is_asked_on),
        cmocka_unit_test(something_to_run_on_is_no_bike),
        cmocka_unit_test(one_that_has_a_load_on_is_kept_whatever_it_calls_itself),
        cmocka_unit_test(measures),
        cmocka_unit_test(the_status_answers),
        cmocka_unit_test(refusals),
        cmocka_unit_test(what_was_not_heard_is_said_again),
        cmocka_unit_test(a_receiver_that_refuses_or_says_nothing_is_told_again),
        cmocka_unit_test(a_late_word_of_a_load_is_none_of_the_release),
        cmocka_unit_test(late_words_of_two_loads_are_none_of_the_release),
        cmocka_unit_test(a_word_that_never_comes_is_not_waited_for),
        cmocka_unit_test(what_was_not_sent_is_not_acknowledged),
        cmocka_unit_test(another_status_is_no_answer),
        cmocka_unit_test(an_older_status_of_an_equal_load_is_no_answer),
        cmocka_unit_test(one_that_counts_nothing_is_believed_all_the_same),
        cmocka_unit_test(a_status_before_the_load_was_heard_is_no_answer),
        cmocka_unit_test(one_that_tells_no_status_is_taken_by_its_word),
        cmocka_unit_test(a_release_is_asked_for_all_the_same),
        cmocka_unit_test(one_that_told_it_before_is_asked_on),
        cmocka_unit_test(a_load_as_bare_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
