/*
 * Dialling over Unix sockets, on a clock that jumps: half a minute of waiting takes no time.
 */
#include "io/dialer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

static struct loop *loop;
static struct dialer dialer;
static char folder[] = "/tmp/test_dialer.XXXXXX";
static char path[64];
static int listener = -1, far_end = -1;

/* What was told, in order, each with its time: "opened@0 [0102]@0 closed@500 ". */
static struct {
    char log[512];
    const char *why;
    void (*at_opening)(void);
    void (*at_end)(void);
} user;

static void note(const char *what)
{
    const size_t length = strlen(user.log);
    const int written = snprintf(user.log + length, sizeof user.log - length, "%s@%llu ", what,
                                 (unsigned long long)loop_now_ms(loop));
    assert_true(written > 0 && (size_t)written < sizeof user.log - length);
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
    char text[32] = "[";
    assert_ptr_equal(context, &user);
    for (size_t i = 0; i < length && i < 8; i++)
        (void)snprintf(text + 1 + 2 * i, 4, "%02X]", pdu[i]);
    note(text);
}

static void on_closed(void *context, const char *why)
{
    assert_ptr_equal(context, &user);
    user.why = why;
    note("closed");
    if (user.at_end != NULL)
        user.at_end();
}

static void on_retrying(void *context, const char *why)
{
    assert_ptr_equal(context, &user);
    assert_true(strlen(why) > 0);
    note("retrying");
}

static void start_listening(void *context)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    (void)context;
    (void)unlink(path);
    (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    listener = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    assert_true(listener >= 0);
    assert_int_equal(bind(listener, (const struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(listen(listener, 4), 0);
}

static void stop_listening(void)
{
    if (listener >= 0)
        (void)close(listener);
    listener = -1;
}

static void peer_accepts(void)
{
    far_end = accept(listener, NULL, NULL);
    assert_true(far_end >= 0);
}

static void peer_leaves(void)
{
    (void)close(far_end);
    far_end = -1;
}

static void at(uint64_t ms, loop_timer_func *func)
{
    assert_true(loop_set_timer(loop, ms, func, NULL) > 0);
}

static void stop(void *context)
{
    (void)context;
    loop_stop(loop);
}

static void run_until(uint64_t ms)
{
    at(ms, stop);
    loop_run(loop);
}

static int set_up(void **state)
{
    (void)state;
    memset(&user, 0, sizeof user);
    loop = loop_new(LOOP_STEPPED, 1e6);
    dialer = (struct dialer){.loop = loop,
                             .address = {.kind = LINK_ADDRESS_UNIX, .path = path},
                             .user = {on_opened, on_received, on_closed, &user}};
    (void)unlink(path);
    return loop != NULL ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    dialer_hang_up(&dialer);
    stop_listening();
    if (far_end >= 0)
        peer_leaves();
    loop_free(loop);
    return 0;
}

/* ---- the link ---- */

static void send_and_answer(void)
{
    char packet[8];
    assert_int_equal(link_send(&dialer.link, (const uint8_t *)"\x0A\x03", 2), RESULT_OK);
    assert_int_equal(recv(far_end, packet, sizeof packet, 0), 2);
    assert_memory_equal(packet, "\x0A\x03", 2);
    assert_int_equal(send(far_end, "\x0B\x07", 2, 0), 2);
}

static void accept_and_talk(void)
{
    peer_accepts();
    send_and_answer();
}

static void packets_go_both_ways(void **state)
{
    (void)state;
    start_listening(NULL);
    user.at_opening = accept_and_talk;
    dialer_dial(&dialer, 0);
    assert_string_equal(user.log, ""); /* told from the loop, never before */
    assert_int_equal(link_send(&dialer.link, (const uint8_t *)"\x0A", 1), RESULT_CLOSED);
    assert_null(dialer_problem(&dialer));
    assert_true(dialer_reached_ourselves(&dialer));
    run_until(100);
    assert_string_equal(user.log, "opened@0 [0B07]@0 ");
}

/* A socket knows no encryption, so the refusal is the client's to see. */
static void ask_for_encryption(void)
{
    peer_accepts();
    assert_int_equal(link_send(&dialer.link, (const uint8_t *)"\x0A\x03\x00", 3), RESULT_OK);
    assert_int_equal(send(far_end, "\x01\x0A\x03\x00\x0F", 5, 0), 5);
}

static void encryption_where_there_is_none(void **state)
{
    (void)state;
    start_listening(NULL);
    user.at_opening = ask_for_encryption;
    dialer_dial(&dialer, 0);
    run_until(100);
    assert_string_equal(user.log, "opened@0 [010A03000F]@0 ");
    assert_int_equal(link_secure(&dialer.link), RESULT_UNSUPPORTED);
}

/* ---- trying ---- */

static void one_try_only(void **state)
{
    (void)state;
    dialer.retrying = on_retrying;
    dialer_dial(&dialer, 0);
    assert_string_equal(user.log, "");
    assert_string_equal(dialer_problem(&dialer),
                        "there is no such socket; start what listens there first");
    loop_run(loop);
    assert_string_equal(user.log, "closed@0 ");
    assert_string_equal(user.why, "there is no such socket; start what listens there first");
}

/* Tries at 0, 1, 3, 7, 11, 15, 19 s: pauses of 1, 2, 4, 4, 4, 4 s. */
static struct growing_row {
    const char *name;
    uint64_t there_at_ms;
    const char *log;
} growing[] = {
    {"there after 0.5 s", 500, "opened@1000 "},     {"there after 1.1 s", 1100, "opened@3000 "},
    {"there after 3.1 s", 3100, "opened@7000 "},    {"there after 7.1 s", 7100, "opened@11000 "},
    {"there after 11.1 s", 11100, "opened@15000 "}, {"there after 15.1 s", 15100, "opened@19000 "},
};

static void pauses_grow(void **state)
{
    const struct growing_row *row = *state;
    assert_int_equal(set_up(NULL), 0);
    at(row->there_at_ms, start_listening);
    dialer_dial(&dialer, 60000);
    run_until(40000);
    assert_string_equal(user.log, row->log);
    assert_null(dialer_problem(&dialer));
    assert_int_equal(tear_down(NULL), 0);
}

/* The try after the one at 15 s would be at 19 s. */
static void the_limit_is_kept(void **state)
{
    (void)state;
    dialer_dial(&dialer, 18999);
    loop_run(loop);
    assert_string_equal(user.log, "closed@15000 ");
}

static void start_and_stop_listening(void *context)
{
    start_listening(context);
    stop_listening();
}

/* First there is no socket, then one that nobody listens on, found out at 3 s. */
static void reasons_are_told_when_they_change(void **state)
{
    (void)state;
    dialer.retrying = on_retrying;
    at(2000, start_and_stop_listening);
    dialer_dial(&dialer, 30000);
    run_until(20000);
    assert_string_equal(user.log, "retrying@1000 retrying@7000 ");
}

/* ---- the end, and again ---- */

static void redial(void)
{
    dialer_dial(&dialer, 60000);
}

static void lose_peer(void *context)
{
    (void)context;
    peer_leaves();
}

static void lose_peer_for_long(void *context)
{
    stop_listening();
    (void)unlink(path);
    lose_peer(context);
}

static void a_lost_link_is_dialled_again(void **state)
{
    (void)state;
    start_listening(NULL);
    user.at_opening = peer_accepts;
    user.at_end = redial;
    at(500, lose_peer);
    at(5000, lose_peer_for_long);
    at(7000, start_listening);
    dialer_dial(&dialer, 0);
    run_until(20000);
    /* From 5 s on the tries are at 5, 6 and 8 s. */
    assert_string_equal(user.log, "opened@0 closed@500 opened@500 closed@5000 opened@8000 ");
    send_and_answer();
}

static void redial_later(void)
{
    dialer_dial_later(&dialer, 60000, user.why);
}

static void peer_accepts_and_leaves(void)
{
    peer_accepts();
    peer_leaves();
}

static void a_link_of_no_use_is_dialled_after_a_pause(void **state)
{
    (void)state;
    start_listening(NULL);
    user.at_opening = peer_accepts_and_leaves;
    user.at_end = redial_later;
    dialer.retrying = on_retrying;
    dialer_dial(&dialer, 0);
    run_until(11000);
    /* It may happen once: that is not told. */
    assert_string_equal(user.log, "opened@0 closed@0 opened@3000 closed@3000 retrying@6000 "
                                  "opened@6000 closed@6000 opened@9000 closed@9000 ");
}

static void hang_up(void)
{
    dialer_hang_up(&dialer);
}

static void hanging_up_while_it_waits(void **state)
{
    (void)state;
    dialer_dial(&dialer, 60000);
    dialer_hang_up(&dialer);
    loop_run(loop); /* nothing is left to wait for, so it ends */
    assert_string_equal(user.log, "");
}

static void hanging_up_when_told(void **state)
{
    (void)state;
    start_listening(NULL);
    user.at_opening = hang_up;
    dialer_dial(&dialer, 60000);
    loop_run(loop);
    assert_string_equal(user.log, "opened@0 ");
    user.at_end = hang_up;
    peer_accepts(); /* the one that was hung up */
    peer_leaves();
    user.at_opening = NULL;
    dialer_dial(&dialer, 60000);
    peer_accepts();
    at(1000, lose_peer);
    loop_run(loop);
    assert_string_equal(user.log, "opened@0 opened@0 closed@1000 ");
}

static void closing_the_link_hangs_up(void **state)
{
    char octet;
    (void)state;
    start_listening(NULL);
    dialer_dial(&dialer, 60000);
    peer_accepts();
    link_close(&dialer.link);
    loop_run(loop);
    assert_string_equal(user.log, "");
    assert_int_equal(recv(far_end, &octet, 1, MSG_DONTWAIT), 0);
}

static void hanging_up_what_never_dialled(void **state)
{
    struct dialer zeroed = {0};
    (void)state;
    dialer_hang_up(&zeroed);
    assert_false(dialer_reached_ourselves(&zeroed));
    assert_null(dialer_problem(&zeroed));
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
#define ROW(i)                                                \
    {                                                         \
        growing[i].name, pauses_grow, NULL, NULL, &growing[i] \
    }

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(packets_go_both_ways),
        TEST(encryption_where_there_is_none),
        TEST(one_try_only),
        ROW(0),
        ROW(1),
        ROW(2),
        ROW(3),
        ROW(4),
        ROW(5),
        TEST(the_limit_is_kept),
        TEST(reasons_are_told_when_they_change),
        TEST(a_lost_link_is_dialled_again),
        TEST(a_link_of_no_use_is_dialled_after_a_pause),
        TEST(hanging_up_while_it_waits),
        TEST(hanging_up_when_told),
        TEST(closing_the_link_hangs_up),
        TEST(hanging_up_what_never_dialled),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
