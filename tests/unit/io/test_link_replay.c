/*
 * Recorded peers that are asked the same things again, and others. Expectations are what the
 * recordings say, which are written here by hand, invented.
 */
#include "io/link_replay.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"

#define BIKE_DATA 0x2AD2u
#define LINES_MAX 24u

/* What a capture holds and what happens in a conversation are written alike: "MS up", "MS > OCTETS"
 * (to the peer), "MS < OCTETS" (from it), "MS down peer" or "MS down host". */
typedef const char *lines_t[LINES_MAX];

/* Service 0x1826 at 1 to 9: bike data (notify) at 3 with its config at 4, control point (write,
 * indicate) at 6 with its config at 7, power range (read) at 9. */
#define DISCOVERY                                                                                  \
    "0 up", "0 > 10 01 00 ff ff 00 28", "0 < 11 06 01 00 09 00 26 18", "0 > 08 01 00 09 00 03 28", \
        "0 < 09 07 02 00 10 03 00 d2 2a 05 00 28 06 00 d9 2a 08 00 02 09 00 d8 2a",                \
        "0 > 04 04 00 04 00", "0 < 05 01 04 00 02 29", "0 > 04 07 00 07 00",                       \
        "0 < 05 01 07 00 02 29"
#define SUBSCRIBED "20 > 12 04 00 01 00", "21 < 13"

struct row {
    const char *name;
    lines_t capture;
    lines_t sent; /* by us, "MS OCTETS" after the link is open */
    const char *story;
};

static struct row rows[] = {
    {"answers as recorded, each after its time, the last one again",
     {DISCOVERY, "1 > 0a 09 00", "4 < 0b 01", "5 > 0a 09 00", "6 < 01 0a 09 00 0e", "7 down host"},
     {"0 0a 09 00", "100 0a 09 00", "200 0a 09 00"},
     "0 up\n3 < 0b 01\n101 < 01 0a 09 00 0e\n201 < 01 0a 09 00 0e\n8007 down\n"},
    {"what was not answered is not answered",
     {DISCOVERY, "1 > 0a 09 00", "2000 down peer"},
     {"10 0a 09 00"},
     "0 up\n2000 down\n"},
    {"unasked things wait for the subscription, and keep their times after it",
     {DISCOVERY, SUBSCRIBED, "20 < 1b 03 00 01", "270 < 1b 03 00 02", "530 < 1b 03 00 03",
      "600 down peer"},
     {"500 12 04 00 01 00"},
     "0 up\n500 < 1b 03 00 01\n501 < 13\n750 < 1b 03 00 02\n1010 < 1b 03 00 03\n1080 down\n"},
    {"those from before do not wait",
     {DISCOVERY, "5 < 02 05 02", SUBSCRIBED, "30 < 1b 03 00 01", "40 down peer"},
     {"50 12 04 00 01 00"},
     "0 up\n5 < 02 05 02\n51 < 13\n60 < 1b 03 00 01\n70 down\n"},
    {"another subscription first: what is past by then is past",
     {DISCOVERY, SUBSCRIBED, "25 < 1b 03 00 01", "30 > 12 07 00 02 00", "32 < 13",
      "35 < 1b 03 00 02", "40 down peer"},
     {"100 12 07 00 02 00"},
     "0 up\n102 < 13\n105 < 1b 03 00 02\n110 down\n"},
    {"a recording of one that needs no subscription",
     {DISCOVERY, "30 < 1b 03 00 01", "60 < 1b 03 00 02", "90 down peer"},
     {"50 12 04 00 01 00"},
     "0 up\n30 < 1b 03 00 01\n50 < 13\n60 < 1b 03 00 02\n90 down\n"},
    {"the outcome of a procedure comes with it, however late; others at their time",
     {DISCOVERY, SUBSCRIBED, "100 > 12 06 00 05 64 00", "102 < 13", "400 < 1d 06 00 80 05 01",
      "500 < 1d 06 00 81 05 01", "600 down peer"},
     {"0 12 04 00 01 00", "30 12 06 00 05 64 00"},
     "0 up\n1 < 13\n32 < 13\n330 < 1d 06 00 80 05 01\n480 < 1d 06 00 81 05 01\n580 down\n"},
    {"another number in a command: the answers to those of its kind",
     {DISCOVERY, SUBSCRIBED, "100 > 12 06 00 05 64 00", "102 < 13", "105 < 1d 06 00 80 05 01",
      "200 > 12 06 00 05 c8 00", "203 < 01 12 06 00 80", "600 down peer"},
     {"0 12 04 00 01 00", "30 12 06 00 05 ff 00", "60 12 06 00 05 ee 00", "90 12 06 00 05 64 00"},
     "0 up\n1 < 13\n32 < 13\n35 < 1d 06 00 80 05 01\n63 < 01 12 06 00 80\n92 < 13\n"
     "95 < 1d 06 00 80 05 01\n580 down\n"},
    {"a write that was never made is refused, one without an answer is let be",
     {DISCOVERY, SUBSCRIBED, "100 down peer"},
     {"0 12 04 00 01 00", "10 12 06 00 05 64 00", "20 12 99 00 01", "30 52 06 00 05", "40 1e"},
     "0 up\n1 < 13\n10 < 01 12 06 00 06\n20 < 01 12 99 00 01\n80 down\n"},
    {"what was never asked is answered from the table",
     {DISCOVERY, "1 > 0a 09 00", "2 < 0b c8 00", "9 down host"},
     {"0 02 00 02", "1 06 01 00 ff ff 00 28 26 18", "2 08 05 00 09 00 03 28", "3 0c 09 00 01 00",
      "4 0a 44 00", "5 04 05 00 05 00"},
     "0 up\n0 < 03 05 02\n1 < 07 01 00 09 00\n"
     "2 < 09 07 05 00 28 06 00 d9 2a 08 00 02 09 00 d8 2a\n3 < 0d 00\n4 < 01 0a 44 00 01\n"
     "5 < 05 01 05 00 03 28\n8009 down\n"},
    {"a second link, with what is known from the first",
     {DISCOVERY, "10 down peer", "500 up", "520 > 12 04 00 01 00", "525 < 13", "540 < 1b 03 00 07",
      "600 down peer"},
     {"1000 06 01 00 ff ff 00 28 26 18", "1010 12 04 00 01 00"},
     "0 up\n10 down\n10 up\n1000 < 07 01 00 09 00\n1015 < 13\n1030 < 1b 03 00 07\n1090 down\n"},
};

/* ---- a capture out of lines ---- */

struct file {
    uint8_t octets[8192];
    struct bytes_writer writer;
    bool at_peer; /* recorded at the other end */
};

static void put_line(struct file *file, const char *line)
{
    const struct device_address peer = {{7}, ADDRESS_RANDOM};
    char *rest;
    uint8_t pdu[64];
    const int64_t time_us = (int64_t)strtoul(line, &rest, 10) * 1000 + 1000000;

    rest++;
    if (*rest == 'u') {
        att_trace_put_up(&file->writer, time_us, 0x40, &peer);
    } else if (*rest == 'd') {
        att_trace_put_down(&file->writer, time_us, 0x40, (rest[5] == 'p') != file->at_peer);
    } else {
        const size_t length = octets_from_text(rest + 1, pdu, sizeof pdu);
        att_trace_put_pdu(&file->writer, time_us, 0x40, (*rest == '<') != file->at_peer, pdu,
                          length);
    }
}

static void make_file(struct file *file, const lines_t lines)
{
    file->writer = bytes_writer(file->octets, sizeof file->octets);
    btsnoop_put_header(&file->writer);
    for (size_t i = 0; i < LINES_MAX && lines[i] != NULL; i++)
        put_line(file, lines[i]);
    assert_false(file->writer.failed);
}

/* ---- a conversation ---- */

struct talk {
    struct loop *loop;
    struct link *link;
    struct recording *recording;
    const char *const *sent; /* still to be sent */
    size_t sent_left;
    uint64_t start_ms;
    char story[4096];
    size_t length;
    bool closes_when_told;
};

static void add(struct talk *talk, const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    const int length =
        vsnprintf(talk->story + talk->length, sizeof talk->story - talk->length, format, arguments);
    va_end(arguments);
    assert_true(length >= 0 && talk->length + (size_t)length < sizeof talk->story);
    talk->length += (size_t)length;
}

static void send_next(void *user);

static void wait_to_send(struct talk *talk)
{
    if (talk->sent_left == 0 || *talk->sent == NULL)
        return;
    const uint64_t at_ms = talk->start_ms + strtoul(*talk->sent, NULL, 10);
    assert_true(loop_set_timer(talk->loop, at_ms, send_next, talk) > 0);
}

static void send_next(void *user)
{
    struct talk *talk = user;
    uint8_t pdu[64];
    const size_t length = octets_from_text(strchr(*talk->sent, ' '), pdu, sizeof pdu);

    talk->sent++;
    talk->sent_left--;
    assert_int_equal(link_send(talk->link, pdu, length), RESULT_OK);
    wait_to_send(talk);
}

static void on_opened(void *user)
{
    add(user, "%u up\n", (unsigned)loop_now_ms(((struct talk *)user)->loop));
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    struct talk *talk = user;

    add(talk, "%u <", (unsigned)loop_now_ms(talk->loop));
    for (size_t i = 0; i < length && i < 24; i++)
        add(talk, " %02x", pdu[i]);
    add(talk, "\n");
    if (!talk->closes_when_told)
        return;
    link_close(talk->link);
    talk->link = NULL;
}

static void open_next(struct talk *talk);

static void on_closed(void *user, const char *why)
{
    struct talk *talk = user;

    assert_non_null(why);
    add(talk, "%u down\n", (unsigned)loop_now_ms(talk->loop));
    link_close(talk->link);
    open_next(talk);
}

static void open_next(struct talk *talk)
{
    const struct link_user user = {on_opened, on_received, on_closed, talk};
    const char *why = NULL;

    talk->link = link_replay_open(talk->loop, talk->recording, &user, &why);
    assert_true(talk->link != NULL || strcmp(why, "the capture has no further connection") == 0);
}

static void begin(struct talk *talk, const struct file *file, const lines_t sent)
{
    const char *why = NULL;

    talk->loop = loop_new(LOOP_STEPPED, 1e6);
    talk->recording = recording_read(file->octets, file->writer.length, BIKE_DATA, &why);
    assert_non_null(talk->loop);
    assert_non_null(talk->recording);
    talk->sent = sent;
    talk->sent_left = LINES_MAX;
    open_next(talk);
    wait_to_send(talk);
}

static void end(struct talk *talk)
{
    link_close(talk->link);
    loop_free(talk->loop);
    recording_free(talk->recording);
}

static void run_row(const struct row *row, bool at_peer)
{
    struct file file = {.at_peer = at_peer};
    struct talk talk = {.loop = NULL};

    make_file(&file, row->capture);
    begin(&talk, &file, row->sent);
    loop_run(talk.loop);
    assert_string_equal(talk.story, row->story);
    end(&talk);
}

static void test_row(void **state)
{
    run_row(*state, false);
}

/* The same capture taken at the peer: the other way round, and the same to whoever asks. */
static void test_row_at_peer(void **state)
{
    run_row(*state, true);
}

static void test_closed_while_it_is_told(void **state)
{
    const struct row *row = &rows[2];
    struct file file = {.at_peer = false};
    struct talk talk = {.closes_when_told = true};

    (void)state;
    make_file(&file, row->capture);
    begin(&talk, &file, row->sent);
    loop_run(talk.loop);
    assert_string_equal(talk.story, "0 up\n500 < 1b 03 00 01\n");
    end(&talk);
}

/* ---- which peer ---- */

static const char *refusal(const uint8_t *file, size_t length)
{
    const char *why = NULL;

    assert_null(recording_read(file, length, BIKE_DATA, &why));
    return why;
}

static void test_refusals(void **state)
{
    struct file file = {.at_peer = false};
    const lines_t strap = {"0 up", "0 > 08 01 00 09 00 03 28", "0 < 09 07 02 00 10 03 00 37 2a"};

    (void)state;
    make_file(&file, strap);
    assert_non_null(strstr(refusal(file.octets, file.writer.length), "no such device"));
    assert_non_null(strstr(refusal(file.octets, 16), "no such device"));
    assert_non_null(strstr(refusal(file.octets, 15), "no btsnoop"));
    assert_non_null(strstr(refusal(file.octets, 0), "no btsnoop"));
    file.octets[15] = 1;
    assert_non_null(strstr(refusal(file.octets, file.writer.length), "datalinks"));
}

/* The first of two is silent; whether the other one is chosen that says this. */
static bool is_preferred_who_says(const char *said)
{
    struct file file = {.at_peer = false};
    const struct device_address other = {{9}, ADDRESS_PUBLIC};
    const lines_t silent = {DISCOVERY};
    const char *const pdus[] = {silent[3] + 3, silent[4] + 3, said};
    const char *why = NULL;
    uint8_t pdu[64];

    make_file(&file, silent);
    att_trace_put_up(&file.writer, 1, 0x41, &other);
    for (size_t i = 0; i < 3; i++) {
        const size_t length = octets_from_text(pdus[i], pdu, sizeof pdu);
        att_trace_put_pdu(&file.writer, 2 + (int64_t)i, 0x41, i > 0, pdu, length);
    }
    struct recording *recording = recording_read(file.octets, file.writer.length, BIKE_DATA, &why);
    assert_non_null(recording);
    assert_int_equal(recording->link_count, 2);
    const bool is_other = recording->links[1].is_chosen;
    assert_int_equal(recording->links[0].is_chosen, !is_other);
    recording_free(recording);
    return is_other;
}

static void test_who_speaks_is_preferred(void **state)
{
    (void)state;
    assert_true(is_preferred_who_says("1b 03 00 01"));
    assert_true(is_preferred_who_says("1b 03 00"));
    assert_false(is_preferred_who_says("1b 05 00 03 00"));
    /* Several at once: alone, after another, and where the octets of another only look like it. */
    assert_true(is_preferred_who_says("23 03 00 01 00 07"));
    assert_true(is_preferred_who_says("23 05 00 02 00 03 00 03 00 01 00 07"));
    assert_false(is_preferred_who_says("23 05 00 04 00 03 00 01 00"));
    /* Cut short. */
    assert_false(is_preferred_who_says("23 03 00 02 00 07"));
    assert_false(is_preferred_who_says("23 03 00"));
}

/* ---- hostile ones ---- */

static void spoil(struct file *file, unsigned *seed, unsigned count)
{
    for (unsigned n = 0; n < count; n++) {
        *seed = *seed * 1103515245u + 12345u;
        file->octets[BTSNOOP_HEADER_OCTETS +
                     (*seed >> 8) % (file->writer.length - BTSNOOP_HEADER_OCTETS)] =
            (uint8_t)(*seed >> 24);
    }
}

static void on_time_up(void *user)
{
    loop_stop(user);
}

/* Asks all of the row, with some time between. */
static void play(struct talk *talk, const struct row *row)
{
    uint8_t pdu[64];

    open_next(talk);
    for (size_t n = 0; n < LINES_MAX && row->sent[n] != NULL; n++) {
        assert_true(loop_set_timer(talk->loop, 50 * n + 1, on_time_up, talk->loop) > 0);
        loop_run(talk->loop);
        if (talk->link != NULL)
            (void)!link_send(talk->link, pdu,
                             octets_from_text(strchr(row->sent[n], ' '), pdu, sizeof pdu));
    }
}

/* Octets changed by chance, and the end cut off, in a block of just that size. */
static void test_spoiled(void **state)
{
    const struct row *row = &rows[7];
    unsigned seed = 7, played = 0;

    (void)state;
    for (unsigned i = 0; i < 3000; i++) {
        struct file file = {.at_peer = false};
        struct talk talk = {.loop = loop_new(LOOP_STEPPED, 1e6)};
        const char *why = NULL;
        make_file(&file, row->capture);
        spoil(&file, &seed, 1 + i % 6);
        const size_t kept = i % 3 == 0 ? 16 + seed % (file.writer.length - 16) : file.writer.length;
        uint8_t *block = malloc(kept);
        assert_non_null(block);
        memcpy(block, file.octets, kept);
        talk.recording = recording_read(block, kept, BIKE_DATA, &why);
        free(block);
        if (talk.recording != NULL) {
            played++;
            play(&talk, row);
        }
        end(&talk);
    }
    assert_true(played > 500);
}

int main(void)
{
    struct CMUnitTest tests[48];
    size_t count = 0;

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        tests[count++] = (struct CMUnitTest){rows[i].name, test_row, NULL, NULL, &rows[i]};
        tests[count++] = (struct CMUnitTest){rows[i].name, test_row_at_peer, NULL, NULL, &rows[i]};
    }
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_closed_while_it_is_told);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_refusals);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_who_speaks_is_preferred);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(test_spoiled);
    return _cmocka_run_group_tests("link_replay", tests, count, NULL, NULL);
}
