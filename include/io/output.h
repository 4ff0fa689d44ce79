/*
 * Text on its way to a descriptor, without ever waiting for it: what the other end does not take
 * yet is kept, up to a limit; a ride does not stand still for a full pipe or a stopped terminal.
 */
#ifndef IO_OUTPUT_H
#define IO_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/result.h"
#include "io/loop.h"
#include "port/screen.h"

/* Octets: many whole rides. */
#define OUTPUT_KEPT_MAX ((size_t)4 << 20)

struct output;

/* Called once, when nothing more can be written. `error` is that of the system, such as ENOSPC, or
 * 0 when it is the reader who left, or who has not taken OUTPUT_KEPT_MAX octets. */
typedef void output_ended_func(void *user, int error);

/* `ended` may be NULL. NULL when out of memory. */
struct output *output_new(struct loop *loop, int fd, output_ended_func *ended, void *user);
/* Room for so many octets, at least what is kept now, also when memory is short later. */
MUST_USE bool output_reserve(struct output *output, size_t capacity);
/* Writes what can be written at once. */
void output_put(struct output *output, const char *text, size_t length);
/* The same, for whoever takes a sink; as long as the output lives. */
struct sink output_sink(struct output *output);
/* Leaves all of the writing to the loop, for whoever must not be held up by a slow disk now. */
void output_keep(struct output *output, const void *octets, size_t length);
/* Columns of the terminal behind a descriptor; 0: there is none, or it does not say. */
unsigned output_columns(int fd);
/* Whether `ended` was called, or would have been. */
bool output_has_ended(const struct output *output);
/* Whether some of it waits for the reader; `taken` is called each time when it no longer does. */
bool output_is_behind(const struct output *output);
void output_on_taken(struct output *output, void (*taken)(void *user), void *user);
/* Gives the reader at most `wait_ms` for what is left. */
void output_flush(struct output *output, int wait_ms);
/* What is left is lost. NULL is fine. */
void output_free(struct output *output);

#endif
