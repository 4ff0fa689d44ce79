/*
 * One loop for descriptors and timers, and the clock that everything takes its time from.
 *
 * LOOP_REAL: time is the system's, also across suspend, multiplied by the rate. LOOP_STEPPED: time
 * stands still while there is something to do and then jumps to the next timer, so that a run with
 * the bike in the same process gives the same events every time; it is paced against the system's
 * clock by the rate, which changes how long one waits and nothing else. LOOP_FREE: as LOOP_STEPPED,
 * but nobody waits.
 *
 * Descriptors are served in the order of their registration. Callbacks may add and remove anything,
 * themselves included.
 */
#ifndef IO_LOOP_H
#define IO_LOOP_H

#include <stdbool.h>
#include <stdint.h>

enum loop_clock { LOOP_REAL, LOOP_STEPPED, LOOP_FREE };

#define LOOP_WATCHES_MAX 32
#define LOOP_TIMERS_MAX  32

struct loop;

/* rate > 0: virtual milliseconds a millisecond; LOOP_FREE has none. NULL when out of memory. */
struct loop *loop_new(enum loop_clock clock, double rate);
void loop_free(struct loop *loop);

/* Milliseconds since loop_new(), in the loop's own time. Constant while a callback runs. */
uint64_t loop_now_ms(const struct loop *loop);

/* `events` as for poll(2). The id is above 0; 0 says that all places are taken. */
typedef void loop_watch_func(void *user, int fd, short revents);
int loop_watch(struct loop *loop, int fd, short events, loop_watch_func *func, void *user);
void loop_unwatch(struct loop *loop, int id);

/* Called once, not before `at_ms`. Timers of the same time run in the order they were set. */
typedef void loop_timer_func(void *user);
int loop_set_timer(struct loop *loop, uint64_t at_ms, loop_timer_func *func, void *user);
void loop_cancel_timer(struct loop *loop, int id);

/* Runs until loop_stop(), or until nothing is left to wait for. It may be run again. */
void loop_run(struct loop *loop);
void loop_stop(struct loop *loop);

#endif
