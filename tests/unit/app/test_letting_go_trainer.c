/*
 * Letting go of a trainer through a receiver, as the guard does: on USB the receiver is umockdev's,
 * and says in each row what came of each message. Octets after ANT Message Protocol and Usage,
 * D00000652 Rev 5.1, section 9; page 48 with nothing on the brake as fitness equipment has it.
 */
#include "app/letting_go.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "io/link_usb.h"
#include "io/usbfs.h"
#include "support/octets.h"
#include "support/usb_mock.h"

#define CLOSE   "A4 01 4C 03 EA"
#define RELEASE "A4 09 4F 03 30 FF FF FF FF FF FF 00 D1"
#define ASK     "A4 09 4F 03 46 FF FF FF FF 01 47 01 E0" /* for the status of the last command */

/* Of channel 3, to which the release goes. */
#define ARRIVED   "A4 03 40 03 01 05 E0"
#define LOST      "A4 03 40 03 01 06 E3"
#define REFUSED   "A4 03 40 03 4F 1F B4" /* another one is under way */
#define MISSED    "A4 03 40 03 01 02 E7"
#define BROADCAST "A4 09 4E 03 19 00 50 00 00 5A 00 30 C3"
#define OF_OTHER  "A4 03 40 02 01 05 E1"

/* Statuses: of a release, and of a load of 200 W. */
#define PASSED      "A4 09 4E 03 47 30 07 00 FF FF FF 00 6F"
#define REJECTED    "A4 09 4E 03 47 30 07 03 FF FF FF 00 6C"
#define PENDING     "A4 09 4E 03 47 30 07 04 FF FF FF 00 6B"
#define LOAD_PASSED "A4 09 4E 03 47 31 07 00 FF FF 20 03 B2"

static struct usb_mock *mock;
static int receiver, fd;
static struct letting_go it;

/* ---- the receiver ---- */

#define TOLD_MAX 8
#define SOON_MS  800 /* a repeat or two */

struct row {
    const char *name;
    /* What is there before; what follows each release, one packet a line: "" is a packet of
     * nothing, "!" halts the pipe, "?" breaks it off, "-" pulls the receiver out. */
    const char *before, *after[TOLD_MAX];
    const char *asked[TOLD_MAX]; /* the same of each request for the status */
    int write_errors[TOLD_MAX];  /* of each write; 0: it is taken */
    bool is_confirmed, is_gone;
    bool is_soon;      /* nothing was waited for */
    unsigned releases; /* that arrive at the receiver; 0: as many as it may be */
};

static struct {
    const struct row *row;
    char packets[1000]; /* that are there, a line each */
    size_t given;
    unsigned writes, releases, requests;
    bool writes_other, is_closed; /* closed: and nothing after it */
} model;

/* Behind those that are there. */
static void put(const char *packets)
{
    const size_t length = strlen(model.packets);

    if (packets != NULL)
        (void)snprintf(&model.packets[length], sizeof model.packets - length, "%s\n", packets);
}

static int give(void *context, uint8_t *octets, int size)
{
    char line[200];
    (void)context;

    const char *next = &model.packets[model.given];
    if (*next == '\0')
        return USB_MOCK_LATER;
    const size_t length = strcspn(next, "\n");
    (void)snprintf(line, sizeof line, "%.*s", (int)length, next);
    model.given += length + 1;
    switch (line[0]) {
    case '!': return -EPIPE;
    case '?': return -EPROTO;
    case '-': return -ENODEV;
    default: return (int)octets_from_text(line, octets, (size_t)size);
    }
}

static bool is_text(const uint8_t *octets, int length, const char *text)
{
    uint8_t expected[64];
    const size_t count = octets_from_text(text, expected, sizeof expected);
    return (size_t)length == count && memcmp(octets, expected, count) == 0;
}

static int take(void *context, const uint8_t *octets, int length)
{
    (void)context;

    const unsigned number = model.writes++;
    if (number < TOLD_MAX && model.row->write_errors[number] != 0)
        return model.row->write_errors[number];
    model.is_closed = is_text(octets, length, CLOSE);
    if (model.is_closed)
        return length;
    if (is_text(octets, length, ASK)) {
        put(model.requests < TOLD_MAX ? model.row->asked[model.requests] : NULL);
        model.requests++;
        return length;
    }
    model.writes_other = model.writes_other || !is_text(octets, length, RELEASE);
    if (model.releases < TOLD_MAX)
        put(model.row->after[model.releases]);
    model.releases++;
    return length;
}

static const struct usb_mock_device ordinary = {
    .bus = 1, .port = 2, .vendor = 0x0FCF, .product = 0x1008, .model = {give, take, NULL}};

/* ---- one try ---- */

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static void set_up(const struct row *row)
{
    memset(&model, 0, sizeof model);
    model.row = row;
    put(row->before);
    it = (struct letting_go){.way = {64, true, 0, 0x81, 0x01}, .kind = LETTING_GO_TRAINER};
    it.release.length = (uint8_t)octets_from_text(RELEASE, it.release.octets, ATT_MTU_DEFAULT);
    mock = usb_mock_new();
    receiver = usb_mock_plug(mock, &ordinary);
    fd = usbfs_open(1, 2);
    assert_true(fd >= 0);
}

static void tear_down(void)
{
    (void)close(fd);
    usb_mock_free(mock);
}

static void plays(void **state)
{
    const struct row *row = *state;

    set_up(row);
    const uint64_t began_ms = now_ms();
    const bool is_confirmed = letting_go(fd, &it);
    const uint64_t took_ms = now_ms() - began_ms;
    assert_int_equal(is_confirmed, row->is_confirmed);
    assert_false(model.writes_other);
    assert_int_equal(model.is_closed, !row->is_gone);
    if (row->releases != 0)
        assert_int_equal(model.releases, row->releases);
    else if (!row->is_gone)
        assert_true(model.releases > 1);
    assert_in_range(took_ms, 0, row->is_soon ? SOON_MS : LETTING_GO_MAX_MS);
    tear_down();
}

static struct row rows[] = {
    {.name = "both arrive", .after = {ARRIVED, ARRIVED}, .is_confirmed = true, .releases = 2},
    {.name = "among the trainer's own pages",
     .after = {BROADCAST "\n" MISSED "\n" BROADCAST "\n" ARRIVED, BROADCAST "\n" ARRIVED},
     .is_confirmed = true,
     .releases = 2},
    {.name = "what came before is of the last loads",
     .before = ARRIVED " " ARRIVED "\n" LOST,
     .after = {ARRIVED, ARRIVED},
     .is_confirmed = true,
     .releases = 2},
    {.name = "the first one may be the last load's",
     .after = {ARRIVED, LOST, LOST, LOST, LOST, LOST, LOST, LOST},
     .releases = 0},
    {.name = "refused behind the last load, then said again",
     .after = {REFUSED "\n" ARRIVED, ARRIVED},
     .is_confirmed = true,
     .releases = 2},
    {.name = "the last load was lost on the air",
     .after = {LOST, ARRIVED},
     .is_confirmed = true,
     .releases = 2},
    {.name = "a release was lost on the air",
     .after = {ARRIVED, LOST, LOST, ARRIVED},
     .is_confirmed = true,
     .releases = 4},
    {.name = "both at once, of the last load and of the release",
     .after = {ARRIVED " " ARRIVED},
     .is_confirmed = true,
     .releases = 1},
    {.name = "octets between that are none, in pieces",
     .after = {"00 A4 A4 FF 00\nA4 03 40\n03 01\n05 E0",
               "A4 09 4E 03\n\nA4 03 40 03 01 05 E0\n" BROADCAST},
     .is_confirmed = true,
     .releases = 2},
    {.name = "a wrong sum is no answer", .after = {"A4 03 40 03 01 05 E1", "A4 03 40 03 01 05 00"}},
    {.name = "nor is what happened to another channel", .after = {OF_OTHER, OF_OTHER}},
    {.name = "nor a shorter one", .after = {"A4 02 40 03 01 E4", "A4 02 40 03 01 E4"}},
    {.name = "a receiver that says nothing: again and again"},
    {.name = "a pipe IN that halts",
     .after = {"!\n" ARRIVED, "?\n!\n" ARRIVED},
     .is_confirmed = true,
     .releases = 2},
    {.name = "a pipe OUT that halts",
     .after = {ARRIVED, ARRIVED},
     .write_errors = {-EPIPE, 0, -EPROTO},
     .is_confirmed = true,
     .releases = 2},
    {.name = "a receiver that takes nothing for a while",
     .after = {ARRIVED, ARRIVED},
     .write_errors = {-ETIMEDOUT, -ETIMEDOUT},
     .is_confirmed = true,
     .releases = 2},
    {.name = "passed, as its status says",
     .after = {ARRIVED, ARRIVED},
     .asked = {ARRIVED "\n" LOAD_PASSED "\n" PENDING, ARRIVED "\n" PASSED},
     .is_confirmed = true,
     .is_soon = true,
     .releases = 2},
    {.name = "heard, and rejected: said anew",
     .after = {ARRIVED, ARRIVED, REFUSED "\n" ARRIVED, ARRIVED},
     .asked = {REJECTED, PASSED},
     .is_confirmed = true,
     .is_soon = true,
     .releases = 4},
    {.name = "the end of a request is none of the release said anew",
     .after = {ARRIVED, ARRIVED, ARRIVED, LOST, LOST, LOST, LOST, LOST},
     .asked = {REJECTED}},
    {.name = "rejected again and again",
     .after = {ARRIVED, ARRIVED, ARRIVED, ARRIVED, ARRIVED, ARRIVED, ARRIVED, ARRIVED},
     .asked = {REJECTED, REJECTED, REJECTED, REJECTED, REJECTED, REJECTED}},
    {.name = "rejected, said anew, and no status of that",
     .after = {ARRIVED, ARRIVED, ARRIVED, ARRIVED},
     .asked = {REJECTED},
     .releases = 4},
    {.name = "a status before the release was heard is none of it",
     .before = REJECTED,
     .after = {REJECTED "\n" ARRIVED, REJECTED "\n" ARRIVED},
     .asked = {PASSED},
     .is_confirmed = true,
     .releases = 2},
    {.name = "pulled out", .after = {ARRIVED, "-"}, .releases = 2, .is_gone = true},
    {.name = "pulled out before", .before = "-", .is_gone = true},
};

/* ---- what else may be ---- */

static void a_receiver_that_is_gone_is_not_waited_for(void **state)
{
    static const struct row row = {0};
    (void)state;

    set_up(&row);
    usb_mock_unplug(mock, receiver);
    const uint64_t began_ms = now_ms();
    assert_false(letting_go(fd, &it));
    assert_in_range(now_ms() - began_ms, 0, 100);
    assert_int_equal(model.writes, 0);
    tear_down();
}

static void a_halt_that_cannot_be_cleared_takes_no_longer(void **state)
{
    static const struct row row = {.after = {"!"}};
    struct usb_mock_device halted = ordinary;
    (void)state;

    set_up(&row);
    halted.port = 3;
    halted.clear_error = EPIPE;
    (void)usb_mock_plug(mock, &halted);
    (void)close(fd);
    fd = usbfs_open(1, 3);
    const uint64_t began_ms = now_ms();
    assert_false(letting_go(fd, &it));
    assert_in_range(now_ms() - began_ms, 0, LETTING_GO_MAX_MS);
    assert_true(model.releases > 1);
    tear_down();
}

/* ---- taken from a link that stands ---- */

static struct loop *loop;
static unsigned opened, closed, chunks;

static void on_opened(void *user)
{
    (void)user;
    opened++;
}

static void on_received(void *user, const uint8_t *octets, size_t length)
{
    (void)user;
    (void)octets;
    (void)length;
    chunks++;
}

static void on_closed(void *user, const char *why)
{
    (void)user;
    (void)why;
    closed++;
    loop_stop(loop);
}

static void on_timer(void *user)
{
    loop_stop(user);
}

static void run_for(uint64_t ms)
{
    const int timer = loop_set_timer(loop, loop_now_ms(loop) + ms, on_timer, loop);
    loop_run(loop);
    loop_cancel_timer(loop, timer);
}

static struct link *open_link(void)
{
    static const struct link_user user = {on_opened, on_received, on_closed, NULL};
    const char *why = NULL;
    struct link *link = link_usb_open(loop, NULL, &user, &why);
    assert_non_null(link);
    return link;
}

/* For a ride that stands still and wakes up: its link ends, and it may have another one. */
static void the_link_ends_for_whoever_had_it(void **state)
{
    static const struct row row = {.after = {ARRIVED, ARRIVED, BROADCAST}};
    struct link_way way = {0};
    (void)state;

    set_up(&row);
    (void)close(fd);
    loop = loop_new(LOOP_REAL, 1.0);
    struct link *link = open_link();
    run_for(20);
    assert_int_equal(opened, 1);
    fd = dup(link_descriptor(link, &way));
    assert_memory_equal(&way, &it.way, sizeof way);
    assert_true(letting_go(link_descriptor(link, &way), &it));
    run_for(1000);
    assert_int_equal(closed, 1);
    assert_int_equal(link_send(link, (const uint8_t *)"x", 1), RESULT_CLOSED);
    assert_int_equal(model.releases, 2);
    assert_true(model.is_closed);
    link_close(link);

    link = open_link();
    chunks = 0;
    assert_int_equal(link_send(link, it.release.octets, it.release.length), RESULT_OK);
    run_for(100);
    assert_int_equal(chunks, 1);
    link_close(link);
    loop_free(loop);
    tear_down();
}

/* ---- at a socket ---- */

/* Answers each release; how many it was told is its status. */
static pid_t be_a_receiver(int end)
{
    const struct timeval limit = {.tv_sec = 5};
    uint8_t told[64], arrived[64];
    int count = 0, requests = 0;

    const pid_t child = fork();
    if (child != 0)
        return child;
    (void)setsockopt(end, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    const size_t length = octets_from_text(ARRIVED, arrived, sizeof arrived);
    ssize_t octets;
    while ((octets = recv(end, told, sizeof told, 0)) > 0) {
        if (is_text(told, (int)octets, ASK))
            requests++;
        else
            count += octets == it.release.length ? 1 : 10;
        (void)send(end, arrived, length, MSG_NOSIGNAL);
    }
    _exit(octets == 0 && requests > 0 ? count : 99); /* it sees the end */
}

static void one_at_a_socket_is_spoken_with_alike(void **state)
{
    int ends[2], status;
    (void)state;

    it = (struct letting_go){.kind = LETTING_GO_TRAINER};
    it.release.length = (uint8_t)octets_from_text(RELEASE, it.release.octets, ATT_MTU_DEFAULT);
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, ends), 0);
    const pid_t child = be_a_receiver(ends[1]);
    assert_true(letting_go(ends[0], &it));
    (void)close(ends[1]);
    assert_int_equal(waitpid(child, &status, 0),
                     child);                       /* it sees the end, though we have it open */
    assert_int_equal(WEXITSTATUS(status), 2 + 10); /* and closed */
    assert_false(letting_go(ends[0], &it));
    (void)close(ends[0]);
}

int main(void)
{
    struct CMUnitTest tests[sizeof rows / sizeof rows[0]];
    const struct CMUnitTest others[] = {
        cmocka_unit_test(a_receiver_that_is_gone_is_not_waited_for),
        cmocka_unit_test(a_halt_that_cannot_be_cleared_takes_no_longer),
        cmocka_unit_test(the_link_ends_for_whoever_had_it),
        cmocka_unit_test(one_at_a_socket_is_spoken_with_alike),
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tests[i] = (struct CMUnitTest){rows[i].name, plays, NULL, NULL, &rows[i]};
    const int failed = cmocka_run_group_tests_name("a receiver", tests, NULL, NULL);
    return failed + cmocka_run_group_tests_name("what else may be", others, NULL, NULL);
}
