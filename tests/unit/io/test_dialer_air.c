/*
 * Dialling over the air, on a clock that jumps: the calls that ask the kernel for a link are
 * answered here, as Linux 6.12 was seen to answer them with virtual controllers.
 */
#include "io/dialer.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <bluetooth/bluetooth.h>
#include <bluetooth/l2cap.h>

#define LINES_MAX 64

static struct loop *loop;
static struct dialer dialer;

/* The kernel's side. A socket that cannot be written to is one that still connects. */
static struct {
    int own, far; /* of the line that was asked for last */
    int far_ends[LINES_MAX];
    size_t count;
    int refuses;    /* connecting fails at once with this; 0: it does not */
    int fails;      /* connecting fails when the device is heard; 0: it does not */
    bool is_heard;  /* the device advertises */
    bool is_random; /* under that type */
    struct device_address known_by;
    char calls[512]; /* "public@0 " */
} kernel;

/* ---- instead of the C library's ---- */

static void fill(int fd)
{
    static const char octets[512];

    while (send(fd, octets, sizeof octets, MSG_DONTWAIT) > 0)
        continue;
}

static void drain(int fd)
{
    char octets[512];

    while (recv(fd, octets, sizeof octets, MSG_DONTWAIT) > 0)
        continue;
}

int socket(int domain, int type, int protocol)
{
    int pair[2];

    if (domain != AF_BLUETOOTH)
        return (int)syscall(SYS_socket, domain, type, protocol);
    assert_int_equal(type, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK);
    assert_int_equal(protocol, BTPROTO_L2CAP);
    assert_true(kernel.count < LINES_MAX);
    assert_int_equal(socketpair(AF_UNIX, type, 0, pair), 0);
    kernel.own = pair[0];
    kernel.far = kernel.far_ends[kernel.count++] = pair[1];
    fill(kernel.own);
    return pair[0];
}

/* The header has its arguments in a union. */
int bind(int fd, __CONST_SOCKADDR_ARG address, socklen_t length)
{
    assert_int_equal(fd, kernel.own);
    assert_int_equal(length, sizeof(struct sockaddr_l2));
    assert_int_equal(((const struct sockaddr_l2 *)address.__sockaddr__)->l2_family, AF_BLUETOOTH);
    return 0;
}

int connect(int fd, __CONST_SOCKADDR_ARG address, socklen_t length)
{
    const struct sockaddr_l2 *there = (const struct sockaddr_l2 *)address.__sockaddr__;
    const bool is_random = there->l2_bdaddr_type == BDADDR_LE_RANDOM;
    const size_t at = strlen(kernel.calls);

    assert_int_equal(fd, kernel.own);
    assert_int_equal(length, sizeof *there);
    assert_int_equal(btohs(there->l2_cid), 4);
    (void)snprintf(kernel.calls + at, sizeof kernel.calls - at, "%s@%llu ",
                   is_random ? "random" : "public", (unsigned long long)loop_now_ms(loop));
    if (kernel.is_heard && is_random == kernel.is_random)
        drain(kernel.far);
    errno = kernel.refuses != 0 ? kernel.refuses : EINPROGRESS;
    return -1;
}

int getsockopt(int fd, int level, int name, void *ret, socklen_t *size)
{
    if (level == SOL_BLUETOOTH && name == BT_SECURITY) {
        const struct bt_security security = {.level = BT_SECURITY_LOW};
        memcpy(ret, &security, sizeof security);
        return 0;
    }
    if (level != SOL_SOCKET || name != SO_ERROR || fd != kernel.own)
        return (int)syscall(SYS_getsockopt, fd, level, name, ret, size);
    memcpy(ret, &kernel.fails, sizeof kernel.fails);
    return 0;
}

/* Encryption is begun, and nothing more is ever heard of it. */
int setsockopt(int fd, int level, int name, const void *value, socklen_t size)
{
    if (level != SOL_BLUETOOTH)
        return (int)syscall(SYS_setsockopt, fd, level, name, value, size);
    assert_int_equal(name, BT_SECURITY);
    assert_int_equal(((const struct bt_security *)value)->level, BT_SECURITY_MEDIUM);
    return 0;
}

/* Of the socket that is connected: what the kernel knows the device by. */
int getpeername(int fd, __SOCKADDR_ARG ret, socklen_t *restrict size)
{
    struct sockaddr_l2 *there = (struct sockaddr_l2 *)ret.__sockaddr__;

    assert_int_equal(fd, kernel.own);
    assert_int_equal(*size, sizeof *there);
    there->l2_bdaddr_type = (uint8_t)kernel.known_by.type;
    memcpy(&there->l2_bdaddr, kernel.known_by.octets, sizeof kernel.known_by.octets);
    return 0;
}

/* ---- the user ---- */

static char told[512];
static const char *why_closed;

static void note(const char *what)
{
    const size_t at = strlen(told);
    (void)snprintf(told + at, sizeof told - at, "%s@%llu ", what,
                   (unsigned long long)loop_now_ms(loop));
}

static void on_opened(void *user)
{
    (void)user;
    note("opened");
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    (void)user, (void)pdu, (void)length;
}

static void on_closed(void *user, const char *why)
{
    (void)user;
    why_closed = why;
    note("closed");
}

static int set_up(void **state)
{
    (void)state;
    memset(&kernel, 0, sizeof kernel);
    told[0] = '\0';
    loop = loop_new(LOOP_STEPPED, 1e6);
    dialer = (struct dialer){
        .loop = loop,
        .address = {.kind = LINK_ADDRESS_BLUETOOTH, .device = {{6, 5, 4, 3, 2, 1}, ADDRESS_PUBLIC}},
        .user = {on_opened, on_received, on_closed, &kernel}};
    return loop != NULL ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    dialer_hang_up(&dialer);
    for (size_t i = 0; i < kernel.count; i++)
        (void)close(kernel.far_ends[i]);
    loop_free(loop);
    return 0;
}

static void begin_anew(void **state)
{
    assert_int_equal(tear_down(state), 0);
    assert_int_equal(set_up(state), 0);
}

static void stop(void *user)
{
    (void)user;
    loop_stop(loop);
}

static void run_until(uint64_t ms)
{
    assert_true(loop_set_timer(loop, ms, stop, NULL) > 0);
    loop_run(loop);
}

static void begin_to_advertise(void *user)
{
    (void)user;
    kernel.is_heard = true;
    drain(kernel.far);
}

/* As a kernel that has begun to connect to a device that went: it does not notice its return. */
static void return_unnoticed(void *user)
{
    (void)user;
    kernel.is_heard = true;
}

/* ---- calling ---- */

static void a_device_that_advertises_is_reached(void **state)
{
    (void)state;
    assert_true(loop_set_timer(loop, 7000, begin_to_advertise, NULL) > 0);
    dialer_dial(&dialer, 50000);
    assert_null(dialer_problem(&dialer));
    run_until(30000);
    assert_string_equal(kernel.calls, "public@0 ");
    assert_string_equal(told, "opened@7000 ");
}

/* The pauses do not grow: each call has listened for ten seconds already. */
static void one_that_is_not_heard_is_called_every_11_s(void **state)
{
    (void)state;
    dialer_dial(&dialer, 50000);
    run_until(60000);
    assert_string_equal(kernel.calls, "public@0 public@11000 public@22000 public@33000 "
                                      "public@44000 ");
    assert_string_equal(told, "closed@54000 ");
    assert_non_null(strstr(why_closed, "not in reach"));
}

/* Whenever it is back, in steps of half a second: 11 s later at the worst. */
static void a_return_that_the_kernel_misses_costs_11_s_at_most(void **state)
{
    for (uint64_t back_ms = 250; back_ms < 25000; back_ms += 500) {
        char expected[32];
        const uint64_t next_ms = (back_ms / 11000 + 1) * 11000;

        begin_anew(state);
        assert_true(loop_set_timer(loop, back_ms, return_unnoticed, NULL) > 0);
        dialer_dial(&dialer, 50000);
        run_until(50000);
        (void)snprintf(expected, sizeof expected, "opened@%llu ", (unsigned long long)next_ms);
        assert_string_equal(told, expected);
        assert_true(next_ms - back_ms <= 11000);
    }
}

/* The likelier type first: only addresses that begin with 11 are random ones as a rule. */
static void an_unknown_type_is_tried_as_both(void **state)
{
    (void)state;
    dialer.address.device.type = ADDRESS_NONE;
    kernel.is_random = true;
    assert_true(loop_set_timer(loop, 12000, return_unnoticed, NULL) > 0);
    dialer_dial(&dialer, 50000);
    run_until(50000);
    assert_string_equal(kernel.calls, "public@0 random@10000 public@21000 random@31000 ");
    assert_string_equal(told, "opened@31000 ");
    assert_int_equal(dialer.address.device.type, ADDRESS_RANDOM);
}

/* ---- in words ---- */

/* What connect() gives at once, which no waiting mends: see test_link_l2cap.c for all of them. */
static void what_fails_at_once_is_said_at_once(void **state)
{
    static const struct {
        int error;
        const char *says;
    } rows[] = {{EHOSTUNREACH, "bluetoothctl power on"},
                {ECONNREFUSED, "Low Energy is off"},
                {EBUSY, "another program"}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin_anew(state);
        kernel.refuses = rows[i].error;
        dialer_dial(&dialer, 0);
        assert_non_null(strstr(dialer_problem(&dialer), rows[i].says));
    }
}

/* What comes later: a refusal is then the kernel's own giving up. */
static void what_fails_later_is_said_when_it_does(void **state)
{
    static const struct {
        int error;
        const char *says;
    } rows[] = {{ECONNREFUSED, "not in reach"},
                {ENOSYS, "come nearer"},
                {EACCES, "'bluetoothctl --agent NoInputNoOutput pair 01:02:03:04:05:06'"}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin_anew(state);
        kernel.is_heard = true;
        kernel.fails = rows[i].error;
        dialer_dial(&dialer, 0);
        run_until(20000);
        assert_string_equal(told, "closed@0 ");
        assert_non_null(strstr(why_closed, rows[i].says));
    }
}

/* Asked twice, it is not asked a third time. */
static void a_device_that_refuses_to_be_paired_is_called_twice(void **state)
{
    (void)state;
    kernel.is_heard = true;
    kernel.fails = EACCES;
    dialer_dial(&dialer, 50000);
    run_until(20000);
    assert_string_equal(kernel.calls, "public@0 public@1000 ");
    assert_string_equal(told, "closed@1000 ");
    assert_non_null(strstr(why_closed, "wants to be paired first"));
    assert_true(dialer_is_refused(&dialer));
    /* Called again, it may have been paired since. */
    dialer_dial(&dialer, 50000);
    assert_false(dialer_is_refused(&dialer));
}

/* The kernel tells nothing of a pairing that was refused, and leaves the link. */
static void a_pairing_that_comes_to_nothing_ends_after_15_s(void **state)
{
    (void)state;
    kernel.is_heard = true;
    dialer_dial(&dialer, 50000);
    run_until(100);
    assert_int_equal(link_secure(&dialer.link), RESULT_OK);
    run_until(18000);
    assert_string_equal(told, "opened@0 closed@15100 ");
    assert_non_null(strstr(why_closed, "wants to be paired first"));
    assert_false(dialer_is_refused(&dialer));
    dialer_dial_later(&dialer, 50000, why_closed);
    run_until(22000);
    assert_int_equal(link_secure(&dialer.link), RESULT_OK);
    run_until(40000);
    assert_string_equal(told, "opened@0 closed@15100 opened@21000 closed@37000 ");
    assert_true(dialer_is_refused(&dialer));
}

static void one_that_is_not_heard_refuses_nothing(void **state)
{
    (void)state;
    dialer_dial(&dialer, 50000);
    run_until(60000);
    assert_false(dialer_is_refused(&dialer));
}

/* Paired in the last moment of a ride, when nothing is received any more. */
static void the_address_that_it_keeps_is_known_at_the_end(void **state)
{
    static const struct device_address changing = {{6, 5, 4, 3, 2, 0x41}, ADDRESS_RANDOM};
    static const struct device_address identity = {{1, 2, 3, 4, 5, 6}, ADDRESS_PUBLIC};

    (void)state;
    kernel.is_heard = kernel.is_random = true;
    kernel.known_by = changing;
    dialer.address.device = changing;
    dialer_dial(&dialer, 0);
    run_until(100);
    assert_string_equal(told, "opened@0 ");
    assert_true(device_address_is(&dialer.address.device, &changing));
    kernel.known_by = identity;
    dialer_hang_up(&dialer);
    assert_true(device_address_is(&dialer.address.device, &identity));
}

#define TEST(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_device_that_advertises_is_reached),
        TEST(one_that_is_not_heard_is_called_every_11_s),
        TEST(a_return_that_the_kernel_misses_costs_11_s_at_most),
        TEST(an_unknown_type_is_tried_as_both),
        TEST(what_fails_at_once_is_said_at_once),
        TEST(what_fails_later_is_said_when_it_does),
        TEST(a_device_that_refuses_to_be_paired_is_called_twice),
        TEST(a_pairing_that_comes_to_nothing_ends_after_15_s),
        TEST(one_that_is_not_heard_refuses_nothing),
        TEST(the_address_that_it_keeps_is_known_at_the_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
