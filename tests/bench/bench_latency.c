/*
 * From a notification on the socket to the release that answers it, through the real program.
 *
 * This program is the machine, in a process of its own: it waits for a load, reports a pause at its
 * console, takes the time until the load is released, reports a start and waits for the next load.
 * Beside it stands a bare round trip over the same kind of socket to a process that does nothing.
 * Usage: bench_latency PROGRAM PROFILE FOLDER [OPTION]
 */
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include "child.h"
#include "common.h"
#include "support/bike_talk.h"
#include "wire/att.h"
#include "wire/ftms.h"

#define TRIES         200u
#define RIDES_MAX     10u
#define RATE          "10"      /* the ramp that follows each release takes that much less time */
#define DATA_EVERY_NS 20000000u /* five times a second of the ride's time */
#define PAUSE_MAX_NS  4000000u  /* reports come anywhere between the program's own ticks */
#define GIVE_UP_NS    60000000000u
#define RELEASED_W    1 /* the least that this machine knows, see whole_bike */

enum waiting_for { LOAD, RIGHT_MOMENT, RELEASE };

struct machine {
    int fd;
    bool is_alone; /* the program is gone */
    struct scripted_peer peer;
    enum waiting_for waits;
    uint64_t next_data_ns, moment_ns, told_ns;
    uint64_t took_ns[TRIES];
    size_t count, rides;
};

static void send_pdu(struct machine *machine, const uint8_t *pdu, size_t length)
{
    if (send(machine->fd, pdu, length, MSG_NOSIGNAL) != (ssize_t)length)
        machine->is_alone = true;
}

static void send_value(struct machine *machine, uint8_t opcode, uint16_t number,
                       const uint8_t *value, size_t length)
{
    const uint16_t handle = scripted_value_handle(&machine->peer, number);
    uint8_t pdu[64] = {opcode, (uint8_t)handle, (uint8_t)(handle >> 8)};

    memcpy(pdu + 3, value, length);
    send_pdu(machine, pdu, 3 + length);
}

static void send_data(struct machine *machine, uint64_t now_ns)
{
    const struct ftms_bike_data data = {.has =
                                            FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_POWER,
                                        .speed_ckmh = 3000,
                                        .cadence_half_rpm = 180,
                                        .power_w = 150};
    uint8_t frame[FTMS_BIKE_DATA_MAX];

    machine->next_data_ns = now_ns + DATA_EVERY_NS;
    send_value(machine, ATT_NOTIFICATION, FTMS_INDOOR_BIKE_DATA, frame,
               ftms_encode_bike_data(&data, frame));
}

static void send_status(struct machine *machine, const uint8_t *status, size_t length)
{
    send_value(machine, ATT_NOTIFICATION, FTMS_MACHINE_STATUS, status, length);
}

static void on_load(struct machine *machine, uint64_t now_ns, int power_w)
{
    static const uint8_t started[] = {FTMS_STATUS_STARTED_BY_USER};

    if (machine->waits == LOAD && power_w > RELEASED_W) {
        machine->waits = RIGHT_MOMENT;
        machine->moment_ns = now_ns + machine->count * 7919 * 1000 % PAUSE_MAX_NS;
    } else if (machine->waits == RELEASE && power_w == RELEASED_W) {
        machine->took_ns[machine->count++] = now_ns - machine->told_ns;
        machine->waits = LOAD;
        send_status(machine, started, sizeof started);
    }
}

static void tell_pause(struct machine *machine)
{
    static const uint8_t paused[] = {FTMS_STATUS_STOPPED_BY_USER, FTMS_PAUSE};

    machine->waits = RELEASE;
    machine->told_ns = bench_now_ns();
    send_status(machine, paused, sizeof paused);
}

static void on_packet(struct machine *machine)
{
    uint8_t pdu[ATT_PDU_BUFFER], answer[64];
    const ssize_t received = recv(machine->fd, pdu, sizeof pdu, 0);
    const uint64_t now_ns = bench_now_ns();

    if (received <= 0) {
        machine->is_alone = true;
        return;
    }
    const size_t length = (size_t)received;
    machine->peer.log[0] = '\0';
    const size_t answer_length = scripted_peer_answer(&machine->peer, pdu, length, answer);
    if (answer_length > 0)
        send_pdu(machine, answer, answer_length);
    if (length < 4 || pdu[0] != ATT_WRITE_REQUEST ||
        (pdu[1] | pdu[2] << 8) != scripted_value_handle(&machine->peer, FTMS_CONTROL_POINT))
        return;
    const uint8_t done[] = {FTMS_RESPONSE_CODE, pdu[3], FTMS_SUCCESS};
    send_value(machine, ATT_INDICATION, FTMS_CONTROL_POINT, done, sizeof done);
    if (pdu[3] == FTMS_SET_POWER && length == 6)
        on_load(machine, now_ns, pdu[4] | pdu[5] << 8);
}

static void serve(struct machine *machine)
{
    const uint64_t began_ns = bench_now_ns();

    while (machine->count < TRIES && !machine->is_alone) {
        struct pollfd polled = {.fd = machine->fd, .events = POLLIN};
        const uint64_t now_ns = bench_now_ns();
        if (now_ns - began_ns > GIVE_UP_NS)
            bench_fail("the program does not do what the machine waits for");
        if (now_ns >= machine->next_data_ns)
            send_data(machine, now_ns);
        if (machine->waits == RIGHT_MOMENT && now_ns >= machine->moment_ns)
            tell_pause(machine);
        if (poll(&polled, 1, 1) > 0)
            on_packet(machine);
    }
}

static int listen_at(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    const int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0);

    (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    if (fd < 0 || bind(fd, (const struct sockaddr *)&address, sizeof address) != 0 ||
        listen(fd, 1) != 0)
        bench_fail("no socket to listen on");
    return fd;
}

static void ride(struct machine *machine, int listener, const char *const *arguments)
{
    const pid_t child = child_start(arguments);
    struct pollfd polled = {.fd = listener, .events = POLLIN};
    size_t peak_kib;

    if (poll(&polled, 1, 10000) <= 0)
        bench_fail("the program does not come to the socket");
    machine->fd = accept(listener, NULL, NULL);
    machine->peer = whole_bike;
    machine->is_alone = false;
    machine->waits = LOAD;
    machine->rides++;
    serve(machine);
    (void)close(machine->fd);
    (void)child_wait(child, &peak_kib); /* a lost link cuts the ride off */
}

/* At this rate a pause of the whole system may look to the program like a bike that does not
 * answer: then it rides again. */
static void measure(struct machine *machine, char **argv)
{
    char path[96], bike[sizeof path + 8];

    (void)snprintf(path, sizeof path, "%s/bike", argv[3]);
    (void)snprintf(bike, sizeof bike, "unix:%s", path);
    const int listener = listen_at(path);
    const char *const arguments[CHILD_ARGUMENTS_MAX] = {
        argv[1], "ride", argv[2], "--bike", bike, "--rate", RATE, "--cautions-read", argv[4]};
    while (machine->count < TRIES && machine->rides < RIDES_MAX)
        ride(machine, listener, arguments);
    (void)close(listener);
    (void)unlink(path);
    if (machine->count < TRIES)
        bench_fail("the rides ended too early");
}

/* ---- a process that only answers --------------------------------------------------------------
 */

static _Noreturn void answer_everything(int fd)
{
    char packet[64];
    ssize_t length;

    while ((length = recv(fd, packet, sizeof packet, 0)) > 0)
        if (send(fd, packet, (size_t)length, MSG_NOSIGNAL) != length)
            break;
    _exit(0);
}

static void time_round_trips(uint64_t *took_ns)
{
    char packet[6] = {0};
    int ends[2];

    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0)
        bench_fail("no sockets");
    const pid_t child = fork();
    if (child == 0) {
        (void)close(ends[0]);
        answer_everything(ends[1]);
    }
    (void)close(ends[1]);
    for (size_t i = 0; i < TRIES; i++) {
        (void)poll(NULL, 0, 1); /* so that the other side is asleep, as the program is */
        const uint64_t began_ns = bench_now_ns();
        if (send(ends[0], packet, sizeof packet, MSG_NOSIGNAL) < 0 ||
            recv(ends[0], packet, sizeof packet, 0) < 0)
            bench_fail("the answering process is gone");
        took_ns[i] = bench_now_ns() - began_ns;
    }
    (void)close(ends[0]);
    (void)waitpid(child, NULL, 0);
    bench_sort(took_ns, TRIES);
}

static void show(const char *what, const char *aim, const uint64_t *took_ns,
                 const uint64_t *bare_ns)
{
    const double median_ns = (double)took_ns[TRIES / 2],
                 bare_median_ns = (double)bare_ns[TRIES / 2];

    bench_row(what, bench_time(median_ns).text, aim,
              "%.1f times a bare round trip; %s to %s in %u tries, bare %s to %s",
              median_ns / bare_median_ns, bench_time((double)took_ns[0]).text,
              bench_time((double)took_ns[TRIES - 1]).text, TRIES,
              bench_time((double)bare_ns[0]).text, bench_time((double)bare_ns[TRIES - 1]).text);
}

int main(int argc, char **argv)
{
    static struct machine machine;
    static uint64_t bare_ns[TRIES];

    if (argc != 4 && argc != 5)
        bench_fail("usage: bench_latency PROGRAM PROFILE FOLDER [OPTION]");
    (void)signal(SIGPIPE, SIG_IGN);
    time_round_trips(bare_ns);
    measure(&machine, argv);
    bench_sort(machine.took_ns, TRIES);
    show(argc == 5 ? "  without recording" : "from a notification to the release",
         argc == 5 ? "" : "< 1 ms", machine.took_ns, bare_ns);
    return 0;
}
