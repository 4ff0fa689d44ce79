/*
 * The link over a Unix socket: packets, and every way in which it ends or does not begin.
 */
#include "io/link_socket.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

static struct loop *loop;
static struct link *link_under_test;
static int far_end; /* the peer's */

/* What came, in order: "opened", "[" and the octets in hexadecimal and "]", "closed". */
static struct {
    char log[512];
    const char *why;
    bool closes_at_packet, closes_at_end;
    void (*at_opening)(void);
} user;

static void note(const char *text)
{
    assert_true(strlen(user.log) + strlen(text) < sizeof user.log);
    strcat(user.log, text);
}

static void close_link(void)
{
    link_close(link_under_test);
    link_under_test = NULL;
}

static void on_opened(void *context)
{
    assert_ptr_equal(context, &user);
    note("opened");
    if (user.at_opening != NULL)
        user.at_opening();
}

static void on_received(void *context, const uint8_t *pdu, size_t length)
{
    char octet[4];
    assert_ptr_equal(context, &user);
    note("[");
    for (size_t i = 0; i < length && i < 8; i++) {
        (void)snprintf(octet, sizeof octet, "%02X", pdu[i]);
        note(octet);
    }
    if (length > 8)
        note("...");
    note("]");
    if (user.closes_at_packet)
        close_link();
}

static void on_closed(void *context, const char *why)
{
    assert_ptr_equal(context, &user);
    assert_true(strlen(why) > 0);
    user.why = why;
    note("closed");
    if (user.closes_at_end)
        close_link();
}

static const struct link_user callbacks = {on_opened, on_received, on_closed, &user};

static int set_up(void **state)
{
    int ends[2];
    (void)state;
    memset(&user, 0, sizeof user);
    loop = loop_new(LOOP_REAL, 1);
    if (loop == NULL || socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0)
        return -1;
    far_end = ends[1];
    link_under_test = link_socket_adopt(loop, ends[0], &callbacks);
    return link_under_test != NULL ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    close_link();
    loop_free(loop);
    if (far_end >= 0)
        close(far_end);
    return 0;
}

static void on_timer(void *context)
{
    (void)context;
    loop_stop(loop);
}

/* Once for a test: a loop that was stopped does not run again. */
static void run_for(uint64_t ms)
{
    assert_true(loop_set_timer(loop, loop_now_ms(loop) + ms, on_timer, NULL) > 0);
    loop_run(loop);
}

static void peer_sends(const char *octets, size_t length)
{
    assert_int_equal(send(far_end, octets, length, MSG_NOSIGNAL), length);
}

static void peer_leaves(void)
{
    close(far_end);
    far_end = -1;
}

static enum result send_to_peer(const char *octets, size_t length)
{
    return link_send(link_under_test, (const uint8_t *)octets, length);
}

/* ---- packets ---- */

static void test_packets_are_kept_apart(void **state)
{
    (void)state;
    peer_sends("\x01\x02\x03", 3);
    peer_sends("\x04", 1);
    peer_sends("\x05\x06", 2);
    run_for(20);
    assert_string_equal(user.log, "opened[010203][04][0506]");
}

static void test_packets_sent_are_kept_apart(void **state)
{
    char packet[64];
    (void)state;
    assert_int_equal(send_to_peer("ab", 2), RESULT_OK);
    assert_int_equal(send_to_peer("c", 1), RESULT_OK);
    assert_int_equal(recv(far_end, packet, sizeof packet, 0), 2);
    assert_memory_equal(packet, "ab", 2);
    assert_int_equal(recv(far_end, packet, sizeof packet, 0), 1);
    assert_memory_equal(packet, "c", 1);
}

/* Longer than any PDU; what is behind it is not touched by it. */
static void test_a_packet_that_is_too_long(void **state)
{
    static const char long_packet[60000] = {1, 2, 3, 4, 5, 6, 7, 8};
    (void)state;
    peer_sends(long_packet, sizeof long_packet);
    peer_sends("\x09", 1);
    run_for(20);
    assert_string_equal(user.log, "opened[0102030405060708...][09]");
}

/* ---- ends ---- */

static void test_a_peer_that_leaves_is_told_once(void **state)
{
    (void)state;
    peer_sends("\x01", 1);
    peer_leaves();
    run_for(20);
    assert_string_equal(user.log, "opened[01]closed");
    assert_string_equal(user.why, "the other side closed the connection");
    assert_int_equal(send_to_peer("a", 1), RESULT_CLOSED);
}

static void send_and_lose_peer(void)
{
    assert_int_equal(send_to_peer("a", 1), RESULT_OK);
    peer_leaves();
}

/* As a bike does that serves one rider at a time. */
static void test_a_peer_that_leaves_at_once(void **state)
{
    (void)state;
    peer_leaves();
    run_for(20);
    assert_string_equal(user.log, "openedclosed");
    assert_string_equal(user.why, "it closed the connection; another ride may be on it");
}

/* What it was sent and never read makes the end a reset, and no less an end. */
static void test_a_peer_that_leaves_without_reading(void **state)
{
    (void)state;
    user.at_opening = send_and_lose_peer;
    run_for(20);
    assert_string_equal(user.log, "openedclosed");
}

static void leave_with_packets_unread(void)
{
    peer_sends("\x01", 1);
    peer_sends("\x02", 1);
    send_and_lose_peer();
}

/* The reset is told first by the system and last to the user. */
static void test_a_reset_comes_after_what_arrived(void **state)
{
    (void)state;
    user.at_opening = leave_with_packets_unread;
    run_for(20);
    assert_string_equal(user.log, "opened[01][02]closed");
}

/* A link that broke before it was looked at never opened. */
static void test_a_link_that_broke_before_it_opened(void **state)
{
    (void)state;
    send_and_lose_peer();
    run_for(20);
    assert_string_equal(user.log, "closed");
}

static void test_closing_when_told_of_the_end(void **state)
{
    (void)state;
    user.closes_at_end = true;
    peer_leaves();
    loop_run(loop); /* nothing is watched any more, so it ends */
    assert_string_equal(user.log, "openedclosed");
    assert_null(link_under_test);
}

/* Two wait; the second is not for a link that is closed, and neither is the end. */
static void test_closing_in_the_middle_of_a_packet(void **state)
{
    char octet;
    (void)state;
    user.closes_at_packet = true;
    peer_sends("\x01", 1);
    peer_sends("\x02", 1);
    loop_run(loop);
    assert_string_equal(user.log, "opened[01]");
    /* An end, or a reset because of the packet that was not read. */
    assert_true(recv(far_end, &octet, 1, MSG_DONTWAIT) <= 0);
    assert_true(send(far_end, "\x03", 1, MSG_NOSIGNAL) < 0);
}

static void test_closing_tells_the_peer_and_not_the_user(void **state)
{
    char octet;
    (void)state;
    close_link();
    loop_run(loop);
    assert_string_equal(user.log, "");
    assert_int_equal(recv(far_end, &octet, 1, MSG_DONTWAIT), 0);
}

static void test_a_peer_that_does_not_read(void **state)
{
    static const uint8_t packet[512];
    enum result result = RESULT_OK;
    (void)state;
    for (int i = 0; i < 100000 && result == RESULT_OK; i++)
        result = link_send(link_under_test, packet, sizeof packet);
    assert_int_equal(result, RESULT_FULL);
    uint8_t taken[512];
    for (int i = 0; i < 100000 && recv(far_end, taken, sizeof taken, MSG_DONTWAIT) > 0; i++)
        continue;
    assert_int_equal(send_to_peer("a", 1), RESULT_OK);
    assert_string_equal(user.log, "");
}

static void test_no_place_in_the_loop(void **state)
{
    int ends[2];
    char octet;
    (void)state;
    while (loop_watch(loop, 0, 0, NULL, NULL) > 0)
        continue;
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends), 0);
    assert_null(link_socket_adopt(loop, ends[0], &callbacks));
    assert_int_equal(recv(ends[1], &octet, 1, 0), 0); /* it was closed */
    close(ends[1]);
}

/* ---- connecting ---- */

static char folder[] = "/tmp/test_link_socket.XXXXXX";
static char path[64];

static int listen_at_path(int type, int backlog)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    const int fd = socket(AF_UNIX, type | SOCK_CLOEXEC, 0);
    (void)unlink(path);
    (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    assert_true(fd >= 0);
    assert_int_equal(bind(fd, (const struct sockaddr *)&address, sizeof address), 0);
    if (type != SOCK_DGRAM)
        assert_int_equal(listen(fd, backlog), 0);
    return fd;
}

static void expect_no_link(const char *to, const char *why)
{
    const char *told = NULL;
    assert_null(link_socket_connect(loop, to, &callbacks, &told));
    assert_string_equal(told, why);
}

static void test_connecting(void **state)
{
    const char *why = NULL;
    (void)state;
    const int listener = listen_at_path(SOCK_SEQPACKET, 4);
    close_link();
    close(far_end);
    link_under_test = link_socket_connect(loop, path, &callbacks, &why);
    assert_non_null(link_under_test);
    assert_null(why);
    far_end = accept(listener, NULL, NULL);
    assert_true(far_end >= 0);
    assert_true(link_socket_is_ours(link_under_test)); /* this very program */
    peer_sends("\x01\x02", 2);
    run_for(20);
    assert_string_equal(user.log, "opened[0102]");
    close(listener);
}

static void test_what_is_wrong_with_a_path(void **state)
{
    char too_long[sizeof((struct sockaddr_un *)0)->sun_path + 1];
    (void)state;
    memset(too_long, 'x', sizeof too_long - 1);
    too_long[sizeof too_long - 1] = '\0';
    expect_no_link(too_long, "the path is too long for a socket");
    (void)unlink(path);
    expect_no_link(path, "there is no such socket; start what listens there first");
    close(listen_at_path(SOCK_SEQPACKET, 4));
    expect_no_link(path, "nobody listens there any more; start it again");
    expect_no_link("/dev/null", "that is no socket");
    const int stream = listen_at_path(SOCK_STREAM, 4);
    expect_no_link(path, "that socket does not keep packets apart (it must be SOCK_SEQPACKET)");
    close(stream);
}

/* Whoever is in the queue before us must not hold us up for ever. */
static void test_a_bike_that_accepts_nobody(void **state)
{
    struct link *links[8] = {NULL};
    const char *why = NULL;
    size_t count = 0;
    (void)state;
    const int listener = listen_at_path(SOCK_SEQPACKET, 1);
    (void)alarm(20); /* a connect that waits would wait for ever */
    do
        links[count] = link_socket_connect(loop, path, &callbacks, &why);
    while (links[count] != NULL && ++count < 8);
    (void)alarm(0);
    assert_true(count >= 1 && count < 8);
    assert_string_equal(why, "it is busy with another rider");
    while (count > 0)
        link_close(links[--count]);
    close(listener);
}

/* Any other program at the other end is not the virtual bike, whatever it says. */
static void test_another_program_is_not_ours(void **state)
{
    const char *why = NULL;
    int started[2];
    char octet;
    (void)state;
    const int listener = listen_at_path(SOCK_SEQPACKET, 4);
    assert_int_equal(pipe(started), 0);
    const pid_t child = fork();
    if (child == 0) {
        /* The listening process is who calls listen(), so the shell's image takes it over. */
        (void)listen(listener, 4);
        (void)dup2(started[1], STDOUT_FILENO);
        (void)close(started[0]);
        (void)execl("/bin/sh", "sh", "-c", "echo; exec sleep 20", (char *)NULL);
        _exit(127);
    }
    assert_true(child > 0);
    close(started[1]);
    assert_int_equal(read(started[0], &octet, 1), 1);
    close(started[0]);
    struct link *link = link_socket_connect(loop, path, &callbacks, &why);
    assert_non_null(link);
    assert_false(link_socket_is_ours(link));
    link_close(link);
    close(listener);
    (void)kill(child, SIGKILL);
    assert_int_equal(waitpid(child, NULL, 0), child);
}

static int make_folder(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/bike", folder);
    return 0;
}

static int remove_folder(void **state)
{
    (void)state;
    (void)unlink(path);
    return rmdir(folder);
}

#define TEST(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_packets_are_kept_apart),
        TEST(test_packets_sent_are_kept_apart),
        TEST(test_a_packet_that_is_too_long),
        TEST(test_a_peer_that_leaves_is_told_once),
        TEST(test_a_peer_that_leaves_at_once),
        TEST(test_a_peer_that_leaves_without_reading),
        TEST(test_a_reset_comes_after_what_arrived),
        TEST(test_a_link_that_broke_before_it_opened),
        TEST(test_closing_when_told_of_the_end),
        TEST(test_closing_in_the_middle_of_a_packet),
        TEST(test_closing_tells_the_peer_and_not_the_user),
        TEST(test_a_peer_that_does_not_read),
        TEST(test_no_place_in_the_loop),
        TEST(test_connecting),
        TEST(test_what_is_wrong_with_a_path),
        TEST(test_a_bike_that_accepts_nobody),
        TEST(test_another_program_is_not_ours),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
