#include "io/output.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

struct output {
    struct loop *loop;
    int fd, watch;
    bool is_own; /* the descriptor was opened here */
    void (*gone)(void *user);
    void *user;
    void (*taken)(void *user);
    void *taken_user;
    bool is_gone;
    char *kept;
    size_t length, capacity;
};

/* O_NONBLOCK belongs to what is open, not to the descriptor: set on ours it would hit the shell
 * that shares it. So a pipe or a terminal is opened once more; -1 when that cannot be. */
static int open_again(int fd)
{
    struct stat status;
    char path[32];

    if (fstat(fd, &status) != 0 || (!S_ISFIFO(status.st_mode) && !S_ISCHR(status.st_mode)))
        return -1;
    (void)snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    return open(path, O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
}

struct output *output_new(struct loop *loop, int fd, void (*gone)(void *user), void *user)
{
    struct output *output = calloc(1, sizeof *output);
    if (output == NULL)
        return NULL;
    const int own = open_again(fd);
    *output = (struct output){
        .loop = loop, .fd = own >= 0 ? own : fd, .is_own = own >= 0, .gone = gone, .user = user};
    return output;
}

static void lose(struct output *output)
{
    if (output->is_gone)
        return;
    output->is_gone = true;
    output->length = 0;
    if (output->gone != NULL)
        output->gone(output->user);
}

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static bool takes_more(const struct output *output, uint64_t until_ms)
{
    struct pollfd polled = {.fd = output->fd, .events = POLLOUT};
    const uint64_t now = now_ms();
    return poll(&polled, 1, now < until_ms ? (int)(until_ms - now) : 0) > 0;
}

/* Where the descriptor could not be opened again: after poll() says that a pipe takes something,
 * PIPE_BUF octets do not block. */
static void push(struct output *output, int wait_ms)
{
    const uint64_t until_ms = now_ms() + (uint64_t)wait_ms;
    size_t done = 0;

    while (done < output->length && takes_more(output, until_ms)) {
        const size_t left = output->length - done;
        const ssize_t written =
            write(output->fd, output->kept + done, left < PIPE_BUF ? left : PIPE_BUF);
        if (written >= 0) {
            done += (size_t)written;
        } else if (errno == EAGAIN) {
            break;
        } else if (errno != EINTR) {
            lose(output);
            return;
        }
    }
    output->length -= done;
    if (done > 0)
        memmove(output->kept, output->kept + done, output->length);
}

static void on_ready(void *user, int fd, short revents)
{
    struct output *output = user;

    (void)fd;
    (void)revents;
    push(output, 0);
    if (output->length == 0) {
        loop_unwatch(output->loop, output->watch);
        output->watch = 0;
        if (output->taken != NULL && !output->is_gone)
            output->taken(output->taken_user);
    }
}

static bool keep(struct output *output, const char *text, size_t length)
{
    if (output->length + length > OUTPUT_KEPT_MAX)
        return false;
    if (output->length + length > output->capacity) {
        const size_t capacity = (size_t)2 * (output->length + length);
        char *kept = realloc(output->kept, capacity);
        if (kept == NULL)
            return false;
        output->kept = kept;
        output->capacity = capacity;
    }
    memcpy(output->kept + output->length, text, length);
    output->length += length;
    return true;
}

void output_put(struct output *output, const char *text, size_t length)
{
    if (output->is_gone || length == 0)
        return;
    if (!keep(output, text, length)) {
        lose(output);
        return;
    }
    push(output, 0);
    if (output->length > 0 && output->watch == 0)
        output->watch = loop_watch(output->loop, output->fd, POLLOUT, on_ready, output);
}

bool output_is_gone(const struct output *output)
{
    return output->is_gone;
}

bool output_is_behind(const struct output *output)
{
    return output->length > 0;
}

void output_on_taken(struct output *output, void (*taken)(void *user), void *user)
{
    output->taken = taken;
    output->taken_user = user;
}

void output_free(struct output *output, int wait_ms)
{
    if (output == NULL)
        return;
    if (!output->is_gone)
        push(output, wait_ms);
    loop_unwatch(output->loop, output->watch);
    if (output->is_own)
        (void)close(output->fd);
    free(output->kept);
    free(output);
}
