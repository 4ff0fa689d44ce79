/*
 * From the notification that shows a fault to the release that answers it, on the socket, through
 * the real program.
 *
 * This program is the machine, in a process of its own: it waits for a load, shows a fault, and
 * takes the time until the load is released. After a pause at its console it reports a start and
 * waits for the next load; what ends the work takes a ride for each try, AFTERSET_BENCH_FAULTS of
 * every kind (20), or of those alone whose name holds AFTERSET_BENCH_ONLY. A fault that must last
 * for its limit is timed in the ride's time, from its first notification. Beside them stands a bare
 * round trip over the same kind of socket to a process that does nothing.
 * Usage: bench_latency PROGRAM PROFILE FOLDER [OPTION]
 */
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
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
#define TRIES_MAX     1000u
#define RATE          10u       /* the ramp that follows each release takes that much less time */
#define DATA_EVERY_NS 20000000u /* five times a second of the ride's time */
#define PAUSE_MAX_NS  4000000u  /* reports come anywhere between the program's own ticks */
#define GIVE_UP_NS    60000000000u
#define RELEASED_W    1 /* the least that this machine knows, see whole_bike */

enum waiting_for { LOAD, RIGHT_MOMENT, RELEASE };

/* What is shown: a status, readings, nothing any more, what becomes of loads, or a terminal that is
 * gone. */
struct fault {
    const char *name, *aim;
    uint32_t limit_ms; /* how long it must last, in the ride's time; 0: not at all */
    uint8_t status[2];
    size_t status_length;
    struct ftms_bike_data data; /* what is different; 0: as ever */
    bool is_silence, is_passing;
    bool is_refusal; /* of every load; it counts from the second one */
    bool is_deaf;    /* to every load that is not a release; it counts from the first one */
    bool is_hang_up;
};

static const struct fault faults[] = {
    {.name = "from a pause to the release",
     .aim = "< 1 ms",
     .status = {FTMS_STATUS_STOPPED_BY_USER, FTMS_PAUSE},
     .status_length = 2,
     .is_passing = true},
    {.name = "from the safety key",
     .aim = "< 1 ms",
     .status = {FTMS_STATUS_SAFETY_KEY},
     .status_length = 1},
    {.name = "from control taken away",
     .aim = "< 1 ms",
     .status = {FTMS_STATUS_CONTROL_LOST},
     .status_length = 1},
    {.name = "from a stop at the machine",
     .aim = "< 1 ms",
     .status = {FTMS_STATUS_STOPPED_BY_USER, FTMS_STOP},
     .status_length = 2},
    {.name = "power over its limit (3 s)",
     .aim = "< 3.5 s",
     .limit_ms = 3000,
     .data = {.power_w = 1600}},
    {.name = "cadence over its limit (3 s)",
     .aim = "< 3.5 s",
     .limit_ms = 3000,
     .data = {.cadence_half_rpm = 330}},
    {.name = "heart over its limit (5 s median)",
     .aim = "< 5.5 s",
     .limit_ms = 5000,
     .data = {.heart_bpm = 186}},
    {.name = "no data (3 s)", .aim = "< 3.5 s", .limit_ms = 3000, .is_silence = true},
    {.name = "readings that cannot be true (3 s)",
     .aim = "< 3.5 s",
     .limit_ms = 3000,
     .data = {.power_w = 5000}},
    {.name = "cadence that collapses (2 s)",
     .aim = "< 2.5 s",
     .limit_ms = 2000,
     .data = {.cadence_half_rpm = 40}},
    {.name = "loads without an answer (6 s)", .aim = "< 6.5 s", .limit_ms = 6000, .is_deaf = true},
    {.name = "from the second refusal", .aim = "< 1 ms", .is_refusal = true},
    {.name = "from a terminal that is gone", .aim = "< 1 ms", .is_hang_up = true},
};
#define FAULT_COUNT (sizeof faults / sizeof faults[0])

struct machine {
    int fd;
    pid_t child;
    size_t refusals;
    const struct fault *fault;
    bool is_shown; /* of a fault in the readings: from now on */
    bool is_over;  /* this ride gives no more */
    size_t tries;
    bool is_alone; /* the program is gone */
    struct scripted_peer peer;
    enum waiting_for waits;
    uint64_t next_data_ns, moment_ns, told_ns;
    uint64_t took_ns[TRIES_MAX];
    size_t count, rides, early;
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
    struct ftms_bike_data data = {.has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_POWER |
                                         FTMS_BIKE_HEART_RATE,
                                  .speed_ckmh = 3000,
                                  .cadence_half_rpm = 180,
                                  .power_w = 150,
                                  .heart_bpm = 176};
    uint8_t frame[FTMS_BIKE_DATA_MAX];

    machine->next_data_ns = now_ns + DATA_EVERY_NS;
    if (machine->is_shown && machine->fault->is_silence)
        return;
    if (machine->is_shown && machine->fault->data.power_w != 0)
        data.power_w = machine->fault->data.power_w;
    if (machine->is_shown && machine->fault->data.cadence_half_rpm != 0)
        data.cadence_half_rpm = machine->fault->data.cadence_half_rpm;
    if (machine->is_shown && machine->fault->data.heart_bpm != 0)
        data.heart_bpm = machine->fault->data.heart_bpm;
    send_value(machine, ATT_NOTIFICATION, FTMS_INDOOR_BIKE_DATA, frame,
               ftms_encode_bike_data(&data, frame));
}

static void send_status(struct machine *machine, const uint8_t *status, size_t length)
{
    send_value(machine, ATT_NOTIFICATION, FTMS_MACHINE_STATUS, status, length);
}

/* Where the whole system pauses, the program may find this machine silent and release just as the
 * fault is shown. A release that comes long before the fault has lasted cannot be the answer to it:
 * it is counted by itself, and the fault shown in another ride. */
static void take_time(struct machine *machine, uint64_t took_ns)
{
    if (took_ns * RATE / 1000000 < machine->fault->limit_ms / 2)
        machine->early++;
    else
        machine->took_ns[machine->count++] = took_ns;
}

static void on_load(struct machine *machine, uint64_t now_ns, int power_w)
{
    static const uint8_t started[] = {FTMS_STATUS_STARTED_BY_USER};

    if (machine->waits == LOAD && power_w > RELEASED_W) {
        machine->waits = RIGHT_MOMENT;
        machine->moment_ns = now_ns + machine->count * 7919 * 1000 % PAUSE_MAX_NS;
    } else if (machine->waits == RELEASE && power_w == RELEASED_W) {
        take_time(machine, now_ns - machine->told_ns);
        machine->waits = LOAD;
        machine->is_over = !machine->fault->is_passing;
        send_status(machine, started, sizeof started);
    }
}

/* Silence begins with the last notification; what becomes of loads, with the next load. */
static void show_fault(struct machine *machine)
{
    const struct fault *fault = machine->fault;

    machine->waits = RELEASE;
    machine->told_ns = bench_now_ns();
    if (fault->is_refusal || fault->is_deaf) {
        machine->is_shown = true;
        return;
    }
    if (fault->is_hang_up) {
        (void)kill(machine->child, SIGHUP);
        return;
    }
    if (fault->status_length > 0) {
        send_status(machine, fault->status, fault->status_length);
        return;
    }
    machine->is_shown = !fault->is_silence;
    send_data(machine, machine->told_ns);
    machine->is_shown = true;
}

/* Gives what is answered to a load; 0: nothing. */
static uint8_t answer_to_load(struct machine *machine, uint64_t now_ns, int power_w)
{
    const struct fault *fault = machine->fault;

    if (!machine->is_shown || power_w == RELEASED_W || !(fault->is_deaf || fault->is_refusal))
        return FTMS_SUCCESS;
    machine->refusals++;
    if (machine->refusals <= (fault->is_refusal ? 2 : 1))
        machine->told_ns = now_ns;
    return fault->is_refusal ? FTMS_INVALID_PARAMETER : 0;
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
    const bool is_load = pdu[3] == FTMS_SET_POWER && length == 6;
    const int power_w = is_load ? pdu[4] | pdu[5] << 8 : 0;
    const uint8_t result = is_load ? answer_to_load(machine, now_ns, power_w) : FTMS_SUCCESS;
    const uint8_t done[] = {FTMS_RESPONSE_CODE, pdu[3], result};
    if (result != 0)
        send_value(machine, ATT_INDICATION, FTMS_CONTROL_POINT, done, sizeof done);
    if (is_load)
        on_load(machine, now_ns, power_w);
}

static void serve(struct machine *machine)
{
    const uint64_t began_ns = bench_now_ns();

    while (machine->count < machine->tries && !machine->is_over && !machine->is_alone) {
        struct pollfd polled = {.fd = machine->fd, .events = POLLIN};
        const uint64_t now_ns = bench_now_ns();
        if (now_ns - began_ns > GIVE_UP_NS)
            bench_fail("the program does not do what the machine waits for");
        if (now_ns >= machine->next_data_ns)
            send_data(machine, now_ns);
        if (machine->waits == RIGHT_MOMENT && now_ns >= machine->moment_ns)
            show_fault(machine);
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
    const pid_t child = machine->child = child_start(arguments);
    struct pollfd polled = {.fd = listener, .events = POLLIN};
    size_t peak_kib;

    if (poll(&polled, 1, 10000) <= 0)
        bench_fail("the program does not come to the socket");
    machine->fd = accept(listener, NULL, NULL);
    machine->peer = whole_bike;
    machine->is_alone = machine->is_over = machine->is_shown = false;
    machine->waits = LOAD;
    machine->refusals = 0;
    machine->rides++;
    serve(machine);
    (void)close(machine->fd);
    (void)kill(child, SIGTERM); /* it need not wait for the link */
    (void)child_wait(child, &peak_kib);
}

/* At this rate a pause of the whole system may look to the program like a bike that does not
 * answer: then it rides again. */
static void measure(struct machine *machine, char **argv)
{
    char path[96], bike[sizeof path + 8], rate[12];
    const size_t rides_max = 10 + (machine->fault->is_passing ? 0 : 2 * machine->tries);

    (void)snprintf(path, sizeof path, "%s/bike", argv[3]);
    (void)snprintf(bike, sizeof bike, "unix:%s", path);
    (void)snprintf(rate, sizeof rate, "%u", RATE);
    const int listener = listen_at(path);
    const char *const arguments[CHILD_ARGUMENTS_MAX] = {
        argv[1], "ride", argv[2], "--bike", bike, "--rate", rate, "--cautions-read", argv[4]};
    machine->count = machine->rides = machine->early = 0;
    while (machine->count < machine->tries && machine->rides < rides_max)
        ride(machine, listener, arguments);
    (void)close(listener);
    (void)unlink(path);
    if (machine->count < machine->tries)
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

static void show_at_once(const struct machine *machine, bool is_unrecorded, const uint64_t *bare_ns)
{
    const uint64_t *took_ns = machine->took_ns;
    const double median_ns = (double)took_ns[machine->tries / 2],
                 bare_median_ns = (double)bare_ns[TRIES / 2];

    bench_row(is_unrecorded ? "  without recording" : machine->fault->name,
              bench_time(median_ns).text, is_unrecorded ? "" : machine->fault->aim,
              "%.1f times a bare round trip; %s to %s in %zu tries, bare %s to %s",
              median_ns / bare_median_ns, bench_time((double)took_ns[0]).text,
              bench_time((double)took_ns[machine->tries - 1]).text, machine->tries,
              bench_time((double)bare_ns[0]).text, bench_time((double)bare_ns[TRIES - 1]).text);
}

static double ride_s(uint64_t took_ns)
{
    return (double)took_ns * RATE / 1e9;
}

static void show_in_ride_time(const struct machine *machine)
{
    const uint64_t *took_ns = machine->took_ns;

    bench_row(machine->fault->name, bench_text("%.2f s", ride_s(took_ns[machine->tries / 2])).text,
              machine->fault->aim,
              "of the ride; %.2f s to %.2f s in %zu tries, %zu more released before the fault "
              "could count",
              ride_s(took_ns[0]), ride_s(took_ns[machine->tries - 1]), machine->tries,
              machine->early);
}

static size_t tries_of(const struct fault *fault)
{
    const char *wanted = getenv("AFTERSET_BENCH_FAULTS");
    const size_t tries = wanted != NULL      ? strtoul(wanted, NULL, 10)
                         : fault->is_passing ? TRIES
                                             : 20;

    if (tries == 0 || tries > TRIES_MAX)
        bench_fail("AFTERSET_BENCH_FAULTS is 1 to 1000");
    return tries;
}

static bool is_wanted(const struct fault *fault)
{
    const char *only = getenv("AFTERSET_BENCH_ONLY");

    return only == NULL || strstr(fault->name, only) != NULL;
}

int main(int argc, char **argv)
{
    static struct machine machine;
    static uint64_t bare_ns[TRIES];
    const bool is_unrecorded = argc == 5;

    if (argc != 4 && argc != 5)
        bench_fail("usage: bench_latency PROGRAM PROFILE FOLDER [OPTION]");
    (void)signal(SIGPIPE, SIG_IGN);
    time_round_trips(bare_ns);
    for (size_t i = 0; i < (is_unrecorded ? 1 : FAULT_COUNT); i++) {
        if (!is_wanted(&faults[i]))
            continue;
        machine.fault = &faults[i];
        machine.tries = tries_of(machine.fault);
        measure(&machine, argv);
        bench_sort(machine.took_ns, machine.tries);
        if (strstr(machine.fault->aim, "ms") != NULL)
            show_at_once(&machine, is_unrecorded, bare_ns);
        else
            show_in_ride_time(&machine);
    }
    return 0;
}
