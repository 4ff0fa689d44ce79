/*
 * Keys and signals of the terminal, as keys of the ride.
 */
#ifndef APP_KEYS_H
#define APP_KEYS_H

#include <signal.h>

#include "io/loop.h"
#include "ride/event.h"

struct keys;

/* Every signal that would end or stop the process with a load on the brake, and can be caught. */
void keys_signals(sigset_t *ret);

/* Keys are read only from a terminal. SIGINT stops, SIGTSTP holds (a stopped process would leave
 * the brake on), every other signal that would end the process leaves. NULL when that cannot be
 * had. */
struct keys *keys_open(struct loop *loop, void (*pressed)(void *user, enum ride_key key),
                       void *user);
/* From now on every character stops: for lists that are only looked at. */
void keys_all_stop(struct keys *keys);
/* Gives the terminal back as it was. */
void keys_close(struct keys *keys);

#endif
