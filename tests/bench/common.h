/*
 * What the benches share: the clock, the middle of many tries, a row of the table.
 */
#ifndef BENCH_COMMON_H
#define BENCH_COMMON_H

#include <stddef.h>
#include <stdint.h>

uint64_t bench_now_ns(void); /* CLOCK_MONOTONIC */

/* Sorts. `count` is above 0. */
void bench_sort(uint64_t *values, size_t count);
double bench_median(uint64_t *values, size_t count);

/* One line of the table: what, the figure, what it aims at ("" for none), and a note. */
void bench_row(const char *what, const char *figure, const char *aim, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* A time as people write it: "340 ns", "12.5 us", "3.41 ms". */
struct bench_text {
    char text[32];
};
struct bench_text bench_time(double ns);
struct bench_text bench_text(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Says why and ends the program: a bench that cannot measure has no figure. */
_Noreturn void bench_fail(const char *why);

#endif
