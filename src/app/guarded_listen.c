#include <poll.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <unistd.h>

#include "guard.h"

static void on_channel(void *user, int fd, short revents)
{
    struct guarded *guarded = user;
    struct guard_note note;

    (void)revents;
    const ssize_t length = recv(fd, &note, sizeof note, MSG_DONTWAIT);
    if (length == (ssize_t)sizeof note) {
        atomic_store(guarded->taken, 0); /* it is done, and the link is shut */
        guarded->on_note(guarded->user, &note);
    } else if (length == 0) {
        atomic_store(guarded->taken, 0); /* the link, if there is one, is ours alone */
        loop_unwatch(guarded->loop, guarded->watch);
        guarded->watch = 0;
        guarded->on_alone(guarded->user);
    }
}

void guarded_look(struct guarded *guarded)
{
    if (guarded->is_guarded && guarded->watch != 0)
        on_channel(guarded, guarded->channel, 0);
}

void guarded_listen(struct guarded *guarded, struct loop *loop,
                    void (*on_note)(void *user, const struct guard_note *note),
                    void (*on_alone)(void *user), void *user)
{
    if (!guarded->is_guarded)
        return;
    guarded->loop = loop;
    guarded->on_note = on_note;
    guarded->on_alone = on_alone;
    guarded->user = user;
    guarded->watch = loop_watch(loop, guarded->channel, POLLIN, on_channel, guarded);
}

void guarded_close(struct guarded *guarded)
{
    if (!guarded->is_guarded)
        return;
    if (guarded->watch != 0)
        loop_unwatch(guarded->loop, guarded->watch);
    (void)close(guarded->channel);
    (void)munmap(guarded->taken, sizeof *guarded->taken);
    guarded->is_guarded = false;
}
