/*
 * Keys and signals of the terminal, as keys of the ride.
 */
#ifndef APP_KEYS_H
#define APP_KEYS_H

#include "io/loop.h"
#include "ride/event.h"

struct keys;

/* Signals: SIGINT stops, SIGTSTP holds (a stopped process would leave the brake on), every other
 * one that would end the process leaves. NULL when that cannot be had. */
struct keys *keys_open(struct loop *loop, void (*pressed)(void *user, enum ride_key key),
                       void *user);
/* Also single keys from standard input, where that is a terminal that nobody else reads. */
void keys_read_terminal(struct keys *keys);
/* What a character asks for; KEY_NONE for most. */
enum ride_key key_of_character(uint32_t character);
/* Upon SIGWINCH. */
void keys_on_resize(struct keys *keys, void (*resized)(void *user), void *user);
/* From now on every character stops: for lists that are only looked at. */
void keys_all_stop(struct keys *keys);
/* Gives the terminal back as it was. */
void keys_close(struct keys *keys);

#endif
