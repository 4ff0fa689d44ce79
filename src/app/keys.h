/*
 * Keys and signals of the terminal, as keys of the ride.
 */
#ifndef APP_KEYS_H
#define APP_KEYS_H

#include <signal.h>

#include "io/loop.h"
#include "ride/event.h"

struct keys;

/* Every signal that would end or stop the process with a load on the brake, and can be caught; and
 * the two that tell of a changed terminal. */
void keys_signals(sigset_t *ret);

/* Signals: SIGINT stops, SIGTSTP holds (a stopped process would leave the brake on), every other
 * one that would end the process leaves. NULL when that cannot be had. */
struct keys *keys_open(struct loop *loop, void (*pressed)(void *user, enum ride_key key),
                       void *user);
/* Also single keys from standard input, where that is a terminal and we are in front. '\n' is
 * Enter.
 */
void keys_read_terminal(struct keys *keys, void (*typed)(void *user, char character));
/* Upon SIGWINCH and SIGCONT: the terminal has another size, or somebody else had it. */
void keys_on_resize(struct keys *keys, void (*resized)(void *user), void *user);
/* Gives the terminal back as it was. */
void keys_close(struct keys *keys);

#endif
