#include "io/loop.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <time.h>

struct watch {
    int id, fd;
    short events;
    loop_watch_func *func;
    void *user;
};

struct timer {
    int id;
    uint64_t at_ms;
    loop_timer_func *func;
    void *user;
};

struct loop {
    enum loop_clock clock;
    double rate;
    uint64_t start_ns; /* of the system's clock */
    uint64_t now_ms;
    bool stopped;
    int last_id;
    int watch_count, timer_count;
    struct watch watches[LOOP_WATCHES_MAX]; /* in the order of registration */
    struct timer timers[LOOP_TIMERS_MAX];   /* in the order of setting */
};

/* BOOTTIME goes on during suspend, so that a sleep shows as a jump and not as nothing. */
static uint64_t system_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

static uint64_t paced_ms(const struct loop *loop)
{
    if (loop->clock == LOOP_FREE)
        return UINT64_MAX;
    return (uint64_t)((double)(system_ns() - loop->start_ns) * loop->rate / 1e6);
}

struct loop *loop_new(enum loop_clock clock, double rate)
{
    struct loop *loop = calloc(1, sizeof *loop);
    if (loop == NULL)
        return NULL;
    loop->clock = clock;
    loop->rate = rate;
    loop->start_ns = system_ns();
    return loop;
}

void loop_free(struct loop *loop)
{
    free(loop);
}

uint64_t loop_now_ms(const struct loop *loop)
{
    return loop->now_ms;
}

int loop_watch(struct loop *loop, int fd, short events, loop_watch_func *func, void *user)
{
    if (loop->watch_count == LOOP_WATCHES_MAX)
        return 0;
    loop->watches[loop->watch_count++] = (struct watch){++loop->last_id, fd, events, func, user};
    return loop->last_id;
}

void loop_unwatch(struct loop *loop, int id)
{
    int kept = 0;
    for (int i = 0; i < loop->watch_count; i++)
        if (loop->watches[i].id != id)
            loop->watches[kept++] = loop->watches[i];
    loop->watch_count = kept;
}

int loop_set_timer(struct loop *loop, uint64_t at_ms, loop_timer_func *func, void *user)
{
    if (loop->timer_count == LOOP_TIMERS_MAX)
        return 0;
    loop->timers[loop->timer_count++] = (struct timer){++loop->last_id, at_ms, func, user};
    return loop->last_id;
}

void loop_cancel_timer(struct loop *loop, int id)
{
    int kept = 0;
    for (int i = 0; i < loop->timer_count; i++)
        if (loop->timers[i].id != id)
            loop->timers[kept++] = loop->timers[i];
    loop->timer_count = kept;
}

static const struct timer *next_timer(const struct loop *loop)
{
    const struct timer *next = NULL;
    for (int i = 0; i < loop->timer_count; i++)
        if (next == NULL || loop->timers[i].at_ms < next->at_ms)
            next = &loop->timers[i];
    return next;
}

static const struct watch *find_watch(const struct loop *loop, int id)
{
    for (int i = 0; i < loop->watch_count; i++)
        if (loop->watches[i].id == id)
            return &loop->watches[i];
    return NULL;
}

/* How many were ready. A callback may take away a watch that is still to be served. */
static int serve_watches(struct loop *loop, int timeout_ms)
{
    struct pollfd polled[LOOP_WATCHES_MAX];
    int ids[LOOP_WATCHES_MAX];
    const int count = loop->watch_count;

    if (count == 0 && timeout_ms == 0 && loop->clock != LOOP_REAL)
        return 0;
    for (int i = 0; i < count; i++) {
        polled[i] = (struct pollfd){.fd = loop->watches[i].fd, .events = loop->watches[i].events};
        ids[i] = loop->watches[i].id;
    }
    const int ready = poll(polled, (nfds_t)count, timeout_ms);
    if (loop->clock == LOOP_REAL)
        loop->now_ms = paced_ms(loop);
    for (int i = 0; ready > 0 && i < count && !loop->stopped; i++) {
        const struct watch *watch = polled[i].revents != 0 ? find_watch(loop, ids[i]) : NULL;
        if (watch != NULL)
            watch->func(watch->user, watch->fd, polled[i].revents);
    }
    return ready;
}

static int wait_ms(const struct loop *loop, const struct timer *timer)
{
    if (timer == NULL)
        return -1;
    const uint64_t paced = paced_ms(loop);
    if (timer->at_ms <= paced)
        return 0;
    const double wait = (double)(timer->at_ms - paced) / loop->rate;
    return wait < 60000.0 ? (int)wait + 1 : 60000;
}

static void fire(struct loop *loop, const struct timer *due)
{
    const struct timer timer = *due;

    loop_cancel_timer(loop, timer.id);
    if (loop->clock != LOOP_REAL && timer.at_ms > loop->now_ms)
        loop->now_ms = timer.at_ms;
    timer.func(timer.user);
}

void loop_run(struct loop *loop)
{
    while (!loop->stopped && (loop->watch_count > 0 || loop->timer_count > 0)) {
        /* Whatever is ready comes before time goes on. */
        if (loop->clock != LOOP_REAL && serve_watches(loop, 0) > 0)
            continue;
        const struct timer *timer = next_timer(loop);
        const int ready = serve_watches(loop, wait_ms(loop, timer));
        /* In real time a peer that never stops talking must not hold up the timers. */
        if (loop->stopped || (ready != 0 && loop->clock != LOOP_REAL))
            continue;
        timer = next_timer(loop);
        if (timer != NULL && (loop->clock == LOOP_REAL ? timer->at_ms <= loop->now_ms
                                                       : timer->at_ms <= paced_ms(loop)))
            fire(loop, timer);
    }
    loop->stopped = false;
}

void loop_stop(struct loop *loop)
{
    loop->stopped = true;
}
