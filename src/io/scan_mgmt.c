#include "io/scan_mgmt.h"

#include <errno.h>
#include <poll.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/sighting.h"
#include "wire/mgmt_frame.h"

struct scan_mgmt {
    struct scan scan;
    struct loop *loop;
    struct scan_user user;
    uint16_t index;
    pid_t radio;
    int fd, watch;
};

static void report(const struct scan_mgmt *scan, const struct mgmt_event *event)
{
    struct advertisement said = {0};
    if (event->address.type == ADDRESS_NONE)
        return;
    advertisement_read(&said, event->data, event->length);
    struct sighting sighting = sighting_from(&said, &event->address, event->rssi_dbm);
    if (event->rssi_dbm == MGMT_RSSI_UNKNOWN)
        sighting.signal_dbm = 0;
    scan->user.seen(scan->user.user, &sighting);
}

/* Another program discovers when it is busy: what that finds is told to us, too. */
static enum scan_trouble trouble_of(uint8_t status)
{
    switch (status) {
    case MGMT_OK:
    case MGMT_BUSY: return SCAN_WORKS;
    case MGMT_PERMISSION_DENIED: return SCAN_NOT_ALLOWED;
    case MGMT_NOT_POWERED: return SCAN_NOT_POWERED;
    case MGMT_RFKILLED: return SCAN_BLOCKED;
    case MGMT_REJECTED:
    case MGMT_NOT_SUPPORTED: return SCAN_LE_OFF;
    case MGMT_INVALID_INDEX: return SCAN_NO_ADAPTER;
    case MGMT_TIMEOUT: return SCAN_SILENT;
    default: return SCAN_FAILED;
    }
}

static void stop(struct scan_mgmt *scan, enum scan_trouble trouble)
{
    loop_unwatch(scan->loop, scan->watch);
    scan->watch = 0;
    scan->user.stopped(scan->user.user, trouble);
}

static void take_event(struct scan_mgmt *scan, const struct mgmt_event *event)
{
    enum scan_trouble trouble = SCAN_WORKS;
    if (mgmt_event_answers(event, MGMT_START_DISCOVERY, scan->index))
        trouble = trouble_of(event->status);
    else if (event->code == MGMT_INDEX_REMOVED && event->index == scan->index)
        trouble = SCAN_LOST;
    else if (event->code == MGMT_DEVICE_FOUND && event->index == scan->index)
        report(scan, event);
    if (trouble != SCAN_WORKS)
        stop(scan, trouble);
}

static void on_event(void *user, int fd, short revents)
{
    struct scan_mgmt *scan = user;
    uint8_t frame[MGMT_FRAME_MAX];
    struct mgmt_event event;
    (void)revents;
    ssize_t length = recv(fd, frame, sizeof frame, MSG_DONTWAIT);
    if (length < 0 && (errno == EAGAIN || errno == EINTR))
        return;
    if (length <= 0)
        stop(scan, SCAN_LOST);
    else if (mgmt_event_decode(frame, (size_t)length, &event) == RESULT_OK)
        take_event(scan, &event);
}

/* The program ends when it sees that nobody listens; it stops discovery first, which a connection
 * that comes next would otherwise wait for. */
static void close_mgmt(struct scan *base)
{
    struct scan_mgmt *scan = (struct scan_mgmt *)base;
    loop_unwatch(scan->loop, scan->watch);
    (void)close(scan->fd);
    pid_t ended;
    do {
        ended = waitpid(scan->radio, NULL, 0);
    } while (ended < 0 && errno == EINTR);
    free(scan);
}

static bool start_radio(const char *path, uint16_t index, int output, pid_t *ret)
{
    char name[] = "afterset-radio", verb[] = "discover", number[8];
    char *arguments[] = {name, verb, number, NULL};
    char *environment[] = {NULL};
    posix_spawn_file_actions_t actions;
    (void)snprintf(number, sizeof number, "%u", index);
    if (posix_spawn_file_actions_init(&actions) != 0)
        return false;
    bool started = posix_spawn_file_actions_adddup2(&actions, output, STDOUT_FILENO) == 0 &&
                   posix_spawn(ret, path, &actions, NULL, arguments, environment) == 0;
    (void)posix_spawn_file_actions_destroy(&actions);
    return started;
}

enum scan_trouble scan_mgmt_open(struct loop *loop, uint16_t index, const char *radio,
                                 const struct scan_user *user, struct scan **ret)
{
    static const struct scan_operations operations = {.close = close_mgmt};
    struct scan_mgmt *scan = calloc(1, sizeof *scan);
    int pair[2];
    if (scan == NULL)
        return SCAN_FAILED;
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair) != 0) {
        free(scan);
        return SCAN_FAILED;
    }
    *scan = (struct scan_mgmt){{&operations}, loop, *user, index, 0, pair[0], 0};
    bool started = start_radio(radio, index, pair[1], &scan->radio);
    (void)close(pair[1]);
    if (!started) {
        (void)close(pair[0]);
        free(scan);
        return SCAN_NO_HELPER;
    }
    scan->watch = loop_watch(loop, scan->fd, POLLIN, on_event, scan);
    *ret = &scan->scan;
    return SCAN_WORKS;
}
