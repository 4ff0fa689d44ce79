/* The virtual bike on real descriptors. */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>

#include "io/virtual_bike_serve.h"
#include "io/virtual_config.h"
#include "support/octets.h"

static char folder[] = "/tmp/test_virtual_bike_XXXXXX";
static char path[64];
static struct loop *loop;
static struct virtual_bike_setup setup;

static void stop(void *user)
{
    loop_stop(user);
}

static void run_for(uint64_t span_ms)
{
    int timer = loop_set_timer(loop, loop_now_ms(loop) + span_ms, stop, loop);
    assert_int_not_equal(timer, 0);
    loop_run(loop);
}

static int connect_to(const char *where)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0);
    (void)snprintf(address.sun_path, sizeof(address.sun_path), "%s", where);
    if (connect(fd, (const struct sockaddr *)&address, sizeof(address)) == 0)
        return fd;
    (void)close(fd);
    return -1;
}

static void ask(int fd, const char *request, const char *answer)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    size_t length = octets_from_text(request, pdu, sizeof(pdu));
    assert_int_equal(send(fd, pdu, length, 0), length);
    run_for(50);
    ssize_t received = recv(fd, pdu, sizeof(pdu), 0);
    assert_true(received > 0);
    assert_octets(pdu, (size_t)received, answer);
}

static bool is_closed(int fd)
{
    uint8_t octet;
    return recv(fd, &octet, 1, 0) == 0;
}

static void serves_a_connected_pair(void **state)
{
    struct virtual_bike_host *host = NULL;
    int ends[2];
    (void)state;
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0, ends), 0);
    assert_int_equal(virtual_bike_attach(loop, ends[0], &setup, &host), RESULT_OK);
    ask(ends[1], "02 05 02", "03 F7 00");
    ask(ends[1], "12 13 00 01 00", "13"); /* bike data */
    run_for(2000);
    unsigned records = 0;
    uint8_t pdu[ATT_PDU_BUFFER];
    for (ssize_t length; (length = recv(ends[1], pdu, sizeof(pdu), 0)) > 0; records++)
        assert_int_equal(pdu[0], ATT_NOTIFICATION);
    assert_in_range(records, 7, 9);
    virtual_bike_host_free(host);
    assert_true(is_closed(ends[1]));
    (void)close(ends[1]);
}

static void one_central_at_a_time(void **state)
{
    struct virtual_bike_host *host = NULL;
    struct stat status;
    (void)state;
    assert_int_equal(virtual_bike_listen(loop, path, &setup, &host), RESULT_OK);
    assert_int_equal(stat(path, &status), 0);
    assert_int_equal(status.st_mode & 07777, 0600);
    int first = connect_to(path);
    run_for(50);
    int second = connect_to(path);
    run_for(50);
    assert_true(is_closed(second));
    ask(first, "02 05 02", "03 F7 00");
    (void)close(first);
    run_for(50);
    int third = connect_to(path);
    run_for(50);
    ask(third, "0A 03 00", "0B 49 6E 76 65 6E 74 65 64 20 70 6F 77 65 72 20 62 69 6B 65");
    virtual_bike_host_free(host);
    assert_true(is_closed(third));
    assert_int_equal(access(path, F_OK), -1);
    (void)close(second);
    (void)close(third);
}

static void an_abandoned_socket_is_replaced(void **state)
{
    struct virtual_bike_host *host = NULL;
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_SEQPACKET, 0);
    (void)state;
    (void)snprintf(address.sun_path, sizeof(address.sun_path), "%s", path);
    assert_int_equal(bind(fd, (const struct sockaddr *)&address, sizeof(address)), 0);
    (void)close(fd);
    assert_int_equal(virtual_bike_listen(loop, path, &setup, &host), RESULT_OK);
    virtual_bike_host_free(host);
}

static void an_occupied_path_is_left_alone(void **state)
{
    struct virtual_bike_host *host = NULL, *other = NULL;
    (void)state;
    assert_int_equal(virtual_bike_listen(loop, path, &setup, &host), RESULT_OK);
    assert_int_equal(virtual_bike_listen(loop, path, &setup, &other), RESULT_BUSY);
    assert_null(other);
    int fd = connect_to(path);
    assert_true(fd >= 0);
    (void)close(fd);
    virtual_bike_host_free(host);

    fd = open(path, O_CREAT | O_WRONLY, 0600); /* a file, which is not ours to delete */
    (void)close(fd);
    assert_int_equal(virtual_bike_listen(loop, path, &setup, &other), RESULT_IO);
    assert_int_equal(errno, EADDRINUSE);
    assert_int_equal(access(path, F_OK), 0);
    assert_int_equal(unlink(path), 0);
}

static void a_path_must_fit(void **state)
{
    struct virtual_bike_host *host = NULL;
    char longest[108 + 1]; /* sockaddr_un(7): 108 octets with the NUL */
    (void)state;
    memset(longest, 'x', sizeof(longest));
    longest[108] = '\0';
    assert_int_equal(virtual_bike_listen(loop, longest, &setup, &host), RESULT_RANGE);
    assert_int_equal(virtual_bike_listen(loop, "", &setup, &host), RESULT_RANGE);
    assert_int_equal(virtual_bike_listen(loop, "/nowhere/socket", &setup, &host), RESULT_IO);
    assert_int_equal(errno, ENOENT);
    assert_null(host);
    virtual_bike_host_free(NULL);
}

static void a_dropped_link_is_closed(void **state)
{
    struct virtual_bike_setup dropping = setup;
    struct virtual_bike_host *host = NULL;
    int ends[2];
    (void)state;
    dropping.machine.link_dropped_at_ms = 1000;
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0, ends), 0);
    assert_int_equal(virtual_bike_attach(loop, ends[0], &dropping, &host), RESULT_OK);
    run_for(990);
    assert_false(is_closed(ends[1]));
    run_for(20);
    assert_true(is_closed(ends[1]));
    (void)close(ends[1]);
    virtual_bike_host_free(host);
}

static int listening_socket(void)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0);
    (void)snprintf(address.sun_path, sizeof(address.sun_path), "%s", path);
    assert_int_equal(bind(fd, (const struct sockaddr *)&address, sizeof(address)), 0);
    assert_int_equal(listen(fd, 1), 0);
    return fd;
}

/* Whoever made the socket also takes its file away. */
static void accepts_on_a_socket_of_another(void **state)
{
    struct virtual_bike_host *host = NULL;
    (void)state;
    assert_int_equal(virtual_bike_accept(loop, listening_socket(), &setup, &host), RESULT_OK);
    int fd = connect_to(path);
    run_for(50);
    ask(fd, "02 05 02", "03 F7 00");
    virtual_bike_host_free(host);
    assert_true(is_closed(fd));
    (void)close(fd);
    assert_int_equal(connect_to(path), -1);
    assert_int_equal(unlink(path), 0);
}

/* Find By Type Value: services by UUID, 180D the strap's, 1826 the machine's. */
static void a_strap_without_a_machine(void **state)
{
    struct virtual_bike_setup strap = setup;
    struct virtual_bike_host *host = NULL;
    int ends[2];
    (void)state;
    strap.machine.only = VIRTUAL_STRAP_ONLY;
    strap.machine.has_strap = false;
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0, ends), 0);
    assert_int_equal(virtual_bike_attach(loop, ends[0], &strap, &host), RESULT_OK);
    ask(ends[1], "06 01 00 FF FF 00 28 26 18", "01 06 01 00 0A");
    ask(ends[1], "06 01 00 FF FF 00 28 0D 18", "07 0E 00 13 00");
    ask(ends[1], "12 11 00 01 00", "13");
    run_for(2500);
    uint8_t pdu[ATT_PDU_BUFFER];
    unsigned readings = 0;
    for (ssize_t length; (length = recv(ends[1], pdu, sizeof(pdu), 0)) > 0; readings++)
        assert_memory_equal(pdu, "\x1B\x10\x00", 3);
    assert_in_range(readings, 2, 3);
    virtual_bike_host_free(host);
    (void)close(ends[1]);
}

/* Begins to hear what `only` says; gives the last that it notifies in 20 s. `subscribe` writes 0001
 * to its configuration. */
static ssize_t last_of(enum virtual_only only, const char *find, const char *found,
                       const char *subscribe, uint8_t *ret)
{
    struct virtual_bike_setup sensor = setup;
    struct virtual_bike_host *host = NULL;
    int ends[2];
    sensor.machine.only = only;
    sensor.machine.has_strap = false;
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK, 0, ends), 0);
    assert_int_equal(virtual_bike_attach(loop, ends[0], &sensor, &host), RESULT_OK);
    ask(ends[1], "06 01 00 FF FF 00 28 26 18", "01 06 01 00 0A");
    ask(ends[1], find, found);
    if (only == VIRTUAL_POWER_ONLY) {
        ask(ends[1], "0A 13 00", "0B 08 00 00 00"); /* 2A65: bit 3, turns of the crank */
        ask(ends[1], "0A 15 00", "0B 05");          /* 2A5D: the left crank */
    } else {
        ask(ends[1], "0A 13 00", "0B 02 00"); /* 2A5C: bit 1, turns of the crank */
    }
    ask(ends[1], subscribe, "13");
    run_for(20500);
    ssize_t length = 0;
    for (ssize_t got; (got = recv(ends[1], ret, ATT_PDU_BUFFER, 0)) > 0; length = got)
        assert_int_equal(ret[0], 0x1B);
    virtual_bike_host_free(host);
    (void)close(ends[1]);
    return length;
}

/* 2A63: u16 flags, bit 5 turns of the crank; s16 W; u16 turns, u16 of 1/1024 s. 2A5B: u8 flags, bit
 * 1 turns of the crank; the same two. Bluetooth specifications of the two services. */
static void sensors_without_a_machine(void **state)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    (void)state;
    assert_int_equal(last_of(VIRTUAL_POWER_ONLY, "06 01 00 FF FF 00 28 18 18", "07 0E 00 15 00",
                             "12 11 00 01 00", pdu),
                     11);
    assert_memory_equal(pdu, "\x1B\x10\x00\x20\x00", 5);
    const int power_w = pdu[5] | pdu[6] << 8, turns = pdu[7] | pdu[8] << 8;
    assert_in_range(power_w, 20, 400);
    assert_in_range(turns, 20, 35); /* of some 90 a minute, for 20 s */
    assert_int_equal(last_of(VIRTUAL_CADENCE_ONLY, "06 01 00 FF FF 00 28 16 18", "07 0E 00 13 00",
                             "12 11 00 01 00", pdu),
                     8);
    assert_memory_equal(pdu, "\x1B\x10\x00\x02", 4);
    assert_in_range(pdu[4] | pdu[5] << 8, 20, 35);
}

static int make_folder(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof(path), "%s/bike", folder);
    setup = (struct virtual_bike_setup){virtual_machine_default(), virtual_rider_default(), 1};
    loop = loop_new(LOOP_STEPPED, 1000);
    return loop != NULL ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    loop_free(loop);
    (void)unlink(path);
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(serves_a_connected_pair),
        cmocka_unit_test(one_central_at_a_time),
        cmocka_unit_test(an_abandoned_socket_is_replaced),
        cmocka_unit_test(an_occupied_path_is_left_alone),
        cmocka_unit_test(a_path_must_fit),
        cmocka_unit_test(a_dropped_link_is_closed),
        cmocka_unit_test(accepts_on_a_socket_of_another),
        cmocka_unit_test(a_strap_without_a_machine),
        cmocka_unit_test(sensors_without_a_machine),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
