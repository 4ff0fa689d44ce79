/*
 * The real program as a child, with its output thrown away.
 */
#ifndef BENCH_CHILD_H
#define BENCH_CHILD_H

#include <stddef.h>
#include <sys/types.h>

#define CHILD_ARGUMENTS_MAX 16u

/* `arguments` ends with NULL and begins with the program's path. */
pid_t child_start(const char *const arguments[CHILD_ARGUMENTS_MAX]);
/* Its exit status, or -1 when a signal ended it; and its peak resident memory. */
int child_wait(pid_t child, size_t *ret_peak_kib);

#endif
