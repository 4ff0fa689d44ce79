#include "guard.h"

#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

#define BEAT_EVERY_MS 100u /* at most, however fast the loop's time runs */

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static void attach(struct msghdr *message, int fd)
{
    struct cmsghdr *header = CMSG_FIRSTHDR(message);

    header->cmsg_level = SOL_SOCKET;
    header->cmsg_type = SCM_RIGHTS;
    header->cmsg_len = CMSG_LEN(sizeof fd);
    memcpy(CMSG_DATA(header), &fd, sizeof fd);
}

/* A guard that does not read, because it was stopped, is told again with the next beat. */
static void tell(struct guarded *guarded)
{
    union {
        struct cmsghdr align;
        char octets[CMSG_SPACE(sizeof(int))];
    } control = {0};
    struct iovec part = {&guarded->order, sizeof guarded->order};
    struct msghdr message = {.msg_iov = &part, .msg_iovlen = 1};

    if (guarded->has_fd_to_tell) {
        message.msg_control = control.octets;
        message.msg_controllen = sizeof control.octets;
        attach(&message, guarded->fd);
    }
    if (sendmsg(guarded->channel, &message, MSG_NOSIGNAL | MSG_DONTWAIT) < 0)
        return;
    guarded->has_fd_to_tell = false;
    guarded->told_ms = now_ms();
}

void guarded_beat(struct guarded *guarded)
{
    if (guarded->is_guarded &&
        (guarded->has_fd_to_tell || now_ms() - guarded->told_ms >= BEAT_EVERY_MS))
        tell(guarded);
}

void guarded_hold(struct guarded *guarded, int fd, const struct letting_go *letting_go)
{
    struct guard_order *order = &guarded->order;
    const bool is_new = order->link == 0;

    if (!guarded->is_guarded ||
        (!is_new && memcmp(&order->letting_go, letting_go, sizeof *letting_go) == 0))
        return;
    if (is_new) {
        order->link = ++guarded->links;
        guarded->fd = fd;
        guarded->has_fd_to_tell = true;
    }
    order->letting_go = *letting_go;
    tell(guarded);
}

bool guarded_is_taken(const struct guarded *guarded)
{
    return guarded->is_guarded && guarded->order.link != 0 &&
           atomic_load(guarded->taken) == guarded->order.link;
}

/* To close it under the guard would end what it has to say and to hear. Its note stays unread. */
static void await_guard(const struct guarded *guarded)
{
    struct pollfd polled = {.fd = guarded->channel, .events = POLLIN};

    (void)poll(&polled, 1, (int)LETTING_GO_MAX_MS);
}

void guarded_leave_on(struct guarded *guarded, bool is_left_on)
{
    guarded->order.is_left_on = is_left_on;
}

void guarded_by_hand(struct guarded *guarded, bool is_by_hand)
{
    if (!guarded->is_guarded || guarded->order.is_by_hand == is_by_hand)
        return;
    guarded->order.is_by_hand = is_by_hand;
    tell(guarded);
}

void guarded_let_go(struct guarded *guarded)
{
    if (!guarded->is_guarded || guarded->order.link == 0)
        return;
    if (guarded_is_taken(guarded))
        await_guard(guarded);
    guarded->order.link = 0;
    guarded->has_fd_to_tell = false;
    tell(guarded);
}

void guarded_name(struct guarded *guarded, int64_t ride_id)
{
    guarded->order.ride_id = ride_id;
}

void guarded_restore(struct guarded *guarded, const char *text)
{
    if (!guarded->is_guarded)
        return;
    (void)snprintf(guarded->order.restore, sizeof guarded->order.restore, "%s",
                   text != NULL ? text : "");
    tell(guarded);
}
