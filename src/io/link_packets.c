#include "link_packets.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Longer than any PDU that a peer may send, so that one that breaks the rule is seen whole. */
#define PACKET_MAX 2048

#define LOOK_EVERY_MS 20u /* whether the link is secure */
/* A pairing that nobody needs to confirm takes a second. Of one that the device refused Linux 6.12
 * tells nothing: it leaves the link as it is, for 30 s. Whoever is asked has this long to say yes,
 * twice (own choice). */
#define SECURE_MAX_MS 15000u

static struct link_packets *from_link(struct link *link)
{
    return (struct link_packets *)link;
}

static void stop_waiting(struct link_packets *packets)
{
    loop_unwatch(packets->loop, packets->watch);
    loop_cancel_timer(packets->loop, packets->timer);
    loop_cancel_timer(packets->loop, packets->secure_timer);
    packets->watch = packets->timer = packets->secure_timer = 0;
}

/* Another process may have the descriptor too: the peer is to see the end all the same. */
static void destroy(struct link_packets *packets)
{
    stop_waiting(packets);
    (void)shutdown(packets->fd, SHUT_RDWR);
    (void)close(packets->fd);
    free(packets);
}

static void on_ready(void *user, int fd, short revents);

static void watch(struct link_packets *packets, short events)
{
    loop_unwatch(packets->loop, packets->watch);
    /* The place that was just given up. */
    packets->watch = loop_watch(packets->loop, packets->fd, events, on_ready, packets);
}

/* ---- operations ---- */

static enum result send_now(const struct link_packets *packets, const uint8_t *pdu, size_t length)
{
    if (send(packets->fd, pdu, length, MSG_NOSIGNAL | MSG_DONTWAIT) == (ssize_t)length)
        return RESULT_OK;
    return errno == EAGAIN || errno == ENOBUFS ? RESULT_FULL : RESULT_CLOSED;
}

static enum result hold(struct link_packets *packets, const uint8_t *pdu, size_t length)
{
    if (packets->held_count == LINK_HELD_MAX || length > ATT_MTU_MAX)
        return RESULT_FULL;
    struct held_pdu *held = &packets->held[packets->held_count++];
    held->length = length;
    memcpy(held->octets, pdu, length);
    return RESULT_OK;
}

static enum result send_packet(struct link *link, const uint8_t *pdu, size_t length)
{
    struct link_packets *packets = from_link(link);
    return packets->is_securing ? hold(packets, pdu, length) : send_now(packets, pdu, length);
}

static void on_insecure(void *user);

static enum result secure(struct link *link)
{
    struct link_packets *packets = from_link(link);

    if (packets->family->secure == NULL || !packets->is_open)
        return RESULT_UNSUPPORTED;
    if (!packets->family->secure(packets->fd))
        return RESULT_IO;
    packets->is_securing = true;
    watch(packets, POLLIN | POLLOUT);
    if (packets->secure_timer == 0)
        packets->secure_timer = loop_set_timer(
            packets->loop, loop_now_ms(packets->loop) + SECURE_MAX_MS, on_insecure, packets);
    return RESULT_OK;
}

static void close_packets(struct link *link)
{
    struct link_packets *packets = from_link(link);

    if (packets->in_callback)
        packets->is_closed = true;
    else
        destroy(packets);
}

static int descriptor_of(const struct link *link, struct link_way *ret)
{
    *ret = (struct link_way){0};
    return ((const struct link_packets *)link)->fd;
}

static bool is_securing(const struct link *link)
{
    return ((const struct link_packets *)link)->is_securing;
}

static const struct link_operations operations = {send_packet, secure, close_packets, descriptor_of,
                                                  is_securing};

/* ---- from the loop ---- */

/* Nothing after `closed`: the user may close the link in it. */
static void end(struct link_packets *packets, int error)
{
    stop_waiting(packets);
    packets->error = error;
    if (packets->is_closed)
        return;
    packets->user.closed(packets->user.user, packets->is_open
                                                 ? packets->family->lost_words(packets)
                                                 : packets->family->opening_words(error));
}

static void open_or_fail(struct link_packets *packets)
{
    int error = 0;
    socklen_t size = sizeof error;

    if (getsockopt(packets->fd, SOL_SOCKET, SO_ERROR, &error, &size) != 0)
        error = errno;
    if (error != 0) {
        end(packets, error);
        return;
    }
    loop_cancel_timer(packets->loop, packets->timer);
    packets->timer = 0;
    packets->is_open = true;
    watch(packets, POLLIN);
    packets->user.opened(packets->user.user);
}

static void send_held(struct link_packets *packets)
{
    packets->is_securing = false;
    loop_cancel_timer(packets->loop, packets->secure_timer);
    packets->secure_timer = 0;
    watch(packets, POLLIN);
    /* One that does not go out shows as a request without an answer. */
    for (size_t i = 0; i < packets->held_count; i++)
        (void)!send_now(packets, packets->held[i].octets, packets->held[i].length);
    packets->held_count = 0;
}

static void look_again(void *user)
{
    struct link_packets *packets = user;

    packets->timer = 0;
    watch(packets, POLLIN | POLLOUT);
}

/* Linux 6.12 was seen to take packets again in the middle of pairing, unencrypted. */
static void go_on_once_secure(struct link_packets *packets)
{
    if (packets->family->is_secure(packets->fd)) {
        send_held(packets);
        return;
    }
    watch(packets, POLLIN);
    if (packets->timer == 0)
        packets->timer = loop_set_timer(packets->loop, loop_now_ms(packets->loop) + LOOK_EVERY_MS,
                                        look_again, packets);
}

/* One packet to the user; 1, or 0 at an orderly end, or -1 and errno. */
static int take_packet(struct link_packets *packets)
{
    uint8_t packet[PACKET_MAX];
    const ssize_t length = recv(packets->fd, packet, sizeof packet, MSG_DONTWAIT);

    if (length <= 0)
        return (int)length;
    packets->has_received = true;
    packets->user.received(packets->user.user, packet, (size_t)length);
    return 1;
}

/* A lost link tells its error before what arrived earlier and still waits. */
static void receive(struct link_packets *packets)
{
    int taken = take_packet(packets);
    const int error = taken < 0 ? errno : 0;

    if (taken > 0 || error == EAGAIN || error == EINTR)
        return;
    if (error != 0)
        do
            taken = packets->is_closed ? 0 : take_packet(packets);
        while (taken > 0);
    end(packets, error);
}

static void on_ready(void *user, int fd, short revents)
{
    struct link_packets *packets = user;

    (void)fd;
    packets->in_callback = true;
    if (!packets->is_open)
        open_or_fail(packets);
    else if (packets->is_securing && (revents & (POLLOUT | POLLHUP | POLLERR)) == POLLOUT)
        go_on_once_secure(packets);
    else
        receive(packets);
    packets->in_callback = false;
    if (packets->is_closed)
        destroy(packets);
}

static void end_by_time(struct link_packets *packets, int error)
{
    packets->in_callback = true;
    end(packets, error);
    packets->in_callback = false;
    if (packets->is_closed)
        destroy(packets);
}

static void on_limit(void *user)
{
    struct link_packets *packets = user;

    packets->timer = 0;
    end_by_time(packets, ETIMEDOUT);
}

static void on_insecure(void *user)
{
    struct link_packets *packets = user;

    packets->secure_timer = 0;
    end_by_time(packets, EBADE); /* as the kernel calls it once it has waited long enough */
}

struct link *link_packets_new(struct loop *loop, int fd, const struct packet_family *family,
                              uint64_t limit_ms, const struct link_user *user)
{
    struct link_packets *packets = calloc(1, sizeof *packets);

    if (packets != NULL)
        packets->watch = loop_watch(loop, fd, POLLOUT, on_ready, packets);
    if (packets == NULL || packets->watch == 0) {
        free(packets);
        (void)close(fd);
        return NULL;
    }
    packets->link.operations = &operations;
    packets->family = family;
    packets->loop = loop;
    packets->fd = fd;
    packets->user = *user;
    if (limit_ms > 0)
        packets->timer = loop_set_timer(loop, loop_now_ms(loop) + limit_ms, on_limit, packets);
    return &packets->link;
}
