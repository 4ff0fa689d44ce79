#include "common.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

uint64_t bench_now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

static int compare(const void *a, const void *b)
{
    const uint64_t one = *(const uint64_t *)a, other = *(const uint64_t *)b;
    return (one > other) - (one < other);
}

void bench_sort(uint64_t *values, size_t count)
{
    qsort(values, count, sizeof values[0], compare);
}

double bench_median(uint64_t *values, size_t count)
{
    bench_sort(values, count);
    return (double)values[count / 2];
}

void bench_row(const char *what, const char *figure, const char *aim, const char *format, ...)
{
    va_list arguments;

    printf("%-40s %12s  %-10s ", what, figure, aim);
    va_start(arguments, format);
    vprintf(format, arguments);
    va_end(arguments);
    putchar('\n');
}

struct bench_text bench_time(double ns)
{
    if (ns < 1e3)
        return bench_text("%.*f ns", ns < 10 ? 1 : 0, ns);
    if (ns < 1e6)
        return bench_text("%.1f us", ns / 1e3);
    return bench_text("%.2f ms", ns / 1e6);
}

struct bench_text bench_text(const char *format, ...)
{
    struct bench_text ret;
    va_list arguments;

    va_start(arguments, format);
    (void)vsnprintf(ret.text, sizeof ret.text, format, arguments);
    va_end(arguments);
    return ret;
}

void bench_fail(const char *why)
{
    fprintf(stderr, "bench: %s (%s)\n", why,
            errno != 0 ? strerror(errno) : "no error of the system");
    exit(EXIT_FAILURE);
}
