/*
 * afterset-radio: the little that takes CAP_NET_ADMIN, and nothing else, so that this file and the
 * frames it reads are all that a reader has to trust.
 *
 *   afterset-radio discover N          events of discovery on adapter N to standard output, which
 *                                      is a socket, until nobody reads them
 *   afterset-radio link ADDRESS TYPE   timing of the links with that device; TYPE is public, random
 *                                      or none, when it is not known
 *
 * Exit status 0 done, 1 failed, 2 wrong use, 3 the capability is missing.
 *
 * The capability is gone as soon as the management socket is bound; nothing is read but that socket
 * and the arguments.
 */
#include <errno.h>
#include <linux/capability.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "io/link_timing.h"
#include "io/mgmt.h"

enum { RETRY_MS = 1000 };
enum { STATUS_DONE, STATUS_FAILED, STATUS_WRONG_USE, STATUS_REFUSED };

static bool drop_capabilities(void)
{
    struct __user_cap_header_struct header = {.version = _LINUX_CAPABILITY_VERSION_3};
    const struct __user_cap_data_struct none[_LINUX_CAPABILITY_U32S_3] = {{0, 0, 0}, {0, 0, 0}};
    return syscall(SYS_capset, &header, none) == 0 && prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0;
}

/* ---- discover ---- */

/* The kernel ends discovery after some ten seconds; a reader wants it to go on. */
struct discovery {
    int mgmt;
    uint16_t index;
    bool is_on;   /* whoever began it */
    bool is_ours; /* then it is ours to stop */
};

static bool start(const struct discovery *discovery)
{
    uint8_t command[MGMT_COMMAND_MAX];
    size_t length =
        mgmt_encode_octet(MGMT_START_DISCOVERY, discovery->index, MGMT_DISCOVER_LE, command);
    return mgmt_send(discovery->mgmt, command, length) == RESULT_OK;
}

static bool stop(const struct discovery *discovery)
{
    uint8_t command[MGMT_COMMAND_MAX];
    size_t length =
        mgmt_encode_octet(MGMT_STOP_DISCOVERY, discovery->index, MGMT_DISCOVER_LE, command);
    return mgmt_send(discovery->mgmt, command, length) == RESULT_OK;
}

static bool concerns(const struct mgmt_event *event, uint16_t index)
{
    return event->index == index &&
           (event->code == MGMT_DEVICE_FOUND || event->code == MGMT_DISCOVERING ||
            event->code == MGMT_INDEX_REMOVED ||
            mgmt_event_answers(event, MGMT_START_DISCOVERY, index));
}

/* A reader that is behind misses some events; devices are found again and again. */
static bool hand_on(const uint8_t *frame)
{
    size_t length = MGMT_HEADER_OCTETS + (size_t)(frame[4] | frame[5] << 8);
    return send(STDOUT_FILENO, frame, length, MSG_DONTWAIT | MSG_NOSIGNAL) >= 0 ||
           errno == EAGAIN || errno == EINTR;
}

static bool follow(struct discovery *discovery, const struct mgmt_event *event)
{
    if (mgmt_event_answers(event, MGMT_START_DISCOVERY, discovery->index))
        discovery->is_ours = event->status == MGMT_OK;
    if (event->code != MGMT_DISCOVERING)
        return true;
    discovery->is_on = event->is_on;
    discovery->is_ours = discovery->is_ours && event->is_on;
    return event->is_on || start(discovery);
}

/* Everything that waits. False when the reader or the socket is gone. */
static bool drain(struct discovery *discovery)
{
    uint8_t frame[MGMT_FRAME_MAX];
    struct mgmt_event event;
    enum result result;
    while ((result = mgmt_receive(discovery->mgmt, frame, &event)) == RESULT_OK) {
        if (!concerns(&event, discovery->index))
            continue;
        if (!hand_on(frame))
            return false;
        if (!follow(discovery, &event))
            return false;
    }
    return result == RESULT_NOT_FOUND;
}

static int discover(int mgmt, uint16_t index)
{
    struct discovery discovery = {mgmt, index, false, false};
    struct pollfd polled[] = {{.fd = mgmt, .events = POLLIN}, {.fd = STDOUT_FILENO}};
    bool goes_on = start(&discovery);
    while (goes_on) {
        int ready = poll(polled, 2, discovery.is_on ? -1 : RETRY_MS);
        if (ready == 0)
            goes_on = start(&discovery);
        else
            goes_on = polled[1].revents == 0 && drain(&discovery);
    }
    return !discovery.is_ours || stop(&discovery) ? STATUS_DONE : STATUS_FAILED;
}

/* ---- arguments ---- */

static bool take_index(const char *word, uint16_t *ret)
{
    char *end;
    unsigned long index = strtoul(word, &end, 10);
    if (word[0] < '0' || word[0] > '9' || *end != '\0' || index >= MGMT_NO_INDEX)
        return false;
    *ret = (uint16_t)index;
    return true;
}

static bool take_address(const char *word, const char *type_word, struct device_address *ret)
{
    for (enum address_type type = ADDRESS_NONE; type <= ADDRESS_RANDOM; type++) {
        ret->type = type;
        if (strcmp(type_word, address_type_name(type)) == 0)
            return device_address_read(word, strlen(word), ret);
    }
    return false;
}

static int set_link(int mgmt, const struct device_address *address)
{
    const enum result result = link_timing_set_on(mgmt, address);
    if (result == RESULT_OK)
        return STATUS_DONE;
    return result == RESULT_REFUSED ? STATUS_REFUSED : STATUS_FAILED;
}

static int run(int mgmt, int argc, char **argv)
{
    uint16_t index;
    struct device_address address;
    if (argc == 3 && strcmp(argv[1], "discover") == 0 && take_index(argv[2], &index))
        return discover(mgmt, index);
    if (argc == 4 && strcmp(argv[1], "link") == 0 && take_address(argv[2], argv[3], &address))
        return set_link(mgmt, &address);
    (void)fputs("usage: afterset-radio discover N | link ADDRESS public|random|none\n", stderr);
    return STATUS_WRONG_USE;
}

int main(int argc, char **argv)
{
    const int mgmt = mgmt_open();
    const int why = errno;
    if (!drop_capabilities()) {
        perror("afterset-radio: the capability cannot be dropped");
        return STATUS_FAILED;
    }
    if (mgmt < 0) {
        fprintf(stderr, "afterset-radio: no Bluetooth: %s\n", strerror(why));
        return STATUS_FAILED;
    }
    (void)signal(SIGINT, SIG_IGN); /* the reader decides when it is over */
    const int status = run(mgmt, argc, argv);
    (void)close(mgmt);
    return status;
}
