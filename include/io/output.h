/*
 * Text on its way to a descriptor, without ever waiting for it: what the other end does not take
 * yet is kept, up to a limit; a ride does not stand still for a full pipe or a stopped terminal.
 */
#ifndef IO_OUTPUT_H
#define IO_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

#include "io/loop.h"

/* Octets: many whole rides. Past it the reader counts as gone. */
#define OUTPUT_KEPT_MAX ((size_t)4 << 20)

struct output;

/* `gone` is called once when nobody reads any more. NULL when out of memory. */
struct output *output_new(struct loop *loop, int fd, void (*gone)(void *user), void *user);
void output_put(struct output *output, const char *text, size_t length);
bool output_is_gone(const struct output *output);
/* Whether some of it waits for the reader; `taken` is called each time when it no longer does. */
bool output_is_behind(const struct output *output);
void output_on_taken(struct output *output, void (*taken)(void *user), void *user);
/* Gives the reader at most `wait_ms` for what is left; frees. */
void output_free(struct output *output, int wait_ms);

#endif
