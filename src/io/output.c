#include "io/output.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

struct output {
    struct loop *loop;
    int fd, watch;
    bool is_own; /* the descriptor was opened here */
    output_ended_func *ended;
    void *user;
    void (*taken)(void *user);
    void *taken_user;
    bool has_ended;
    char *kept;
    size_t length, capacity;
};

static bool is_kind(int fd, mode_t kind)
{
    struct stat status;
    return fstat(fd, &status) == 0 && (status.st_mode & S_IFMT) == kind;
}

/* O_NONBLOCK belongs to what is open, not to the descriptor: set on ours it would hit the shell
 * that shares it. So a pipe or a terminal is opened once more; -1 when that cannot be. */
static int open_again(int fd)
{
    char path[32];

    if (!is_kind(fd, S_IFIFO) && !is_kind(fd, S_IFCHR))
        return -1;
    (void)snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    return open(path, O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
}

struct output *output_new(struct loop *loop, int fd, output_ended_func *ended, void *user)
{
    struct output *output = calloc(1, sizeof *output);
    if (output == NULL)
        return NULL;
    const int own = open_again(fd);
    *output = (struct output){
        .loop = loop, .fd = own >= 0 ? own : fd, .is_own = own >= 0, .ended = ended, .user = user};
    return output;
}

static void end(struct output *output, int error)
{
    if (output->has_ended)
        return;
    output->has_ended = true;
    output->length = 0;
    if (output->ended != NULL)
        output->ended(output->user, error);
}

/* A terminal that was closed gives the error of a broken disk. */
static int error_of_write(const struct output *output, int error)
{
    return error == EPIPE || (error == EIO && is_kind(output->fd, S_IFCHR)) ? 0 : error;
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
            end(output, error_of_write(output, errno));
            return;
        }
    }
    output->length -= done;
    if (done > 0)
        memmove(output->kept, output->kept + done, output->length);
}

static void stop_watching(struct output *output)
{
    loop_unwatch(output->loop, output->watch);
    output->watch = 0;
}

static void on_ready(void *user, int fd, short revents)
{
    struct output *output = user;

    (void)fd;
    (void)revents;
    output_flush(output, 0);
    if (output->length == 0 && output->taken != NULL && !output->has_ended)
        output->taken(output->taken_user);
}

bool output_reserve(struct output *output, size_t capacity)
{
    char *kept = realloc(output->kept, capacity);

    if (kept == NULL)
        return false;
    output->kept = kept;
    output->capacity = capacity;
    return true;
}

static bool keep(struct output *output, const void *octets, size_t length)
{
    const size_t needed = output->length + length;

    if (needed > OUTPUT_KEPT_MAX ||
        (needed > output->capacity && !output_reserve(output, 2 * needed)))
        return false;
    memcpy(output->kept + output->length, octets, length);
    output->length += length;
    return true;
}

void output_keep(struct output *output, const void *octets, size_t length)
{
    if (output->has_ended || length == 0)
        return;
    if (!keep(output, octets, length))
        end(output, 0);
    else if (output->watch == 0)
        output->watch = loop_watch(output->loop, output->fd, POLLOUT, on_ready, output);
}

void output_put(struct output *output, const char *text, size_t length)
{
    output_keep(output, text, length);
    output_flush(output, 0);
}

static void put(void *user, const char *text, size_t length)
{
    output_put(user, text, length);
}

unsigned output_columns(int fd)
{
    struct winsize size;

    return ioctl(fd, TIOCGWINSZ, &size) == 0 ? size.ws_col : 0;
}

static unsigned columns(void *user)
{
    const struct output *output = user;

    return output_columns(output->fd);
}

struct sink output_sink(struct output *output)
{
    return (struct sink){put, output, columns};
}

void output_flush(struct output *output, int wait_ms)
{
    if (output == NULL)
        return;
    push(output, wait_ms);
    if (output->length == 0)
        stop_watching(output);
}

bool output_has_ended(const struct output *output)
{
    return output->has_ended;
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

void output_free(struct output *output)
{
    if (output == NULL)
        return;
    stop_watching(output);
    if (output->is_own)
        (void)close(output->fd);
    free(output->kept);
    free(output);
}
