/*
 * What a ride looks like: its seconds for a drawing, its steps for a table.
 */
#ifndef APP_RIDE_CHART_H
#define APP_RIDE_CHART_H

#include "ride_series.h"
#include "ui/chart.h"

/* The seconds of the block clock; free chart->seconds. False: no memory. */
bool ride_chart_of(const struct ride_series *series, struct chart *ret);

struct chart_step ride_chart_step(const struct ride_series *series, size_t lap);

/* What is wrong with a journal that gave `result` and `fault`, and how much of it there is. Empty:
 * nothing. */
void ride_chart_trouble(enum result result, const struct text_fault *fault, bool has_part,
                        char *ret, size_t size);

/* Prints both on stdout, or what is wrong in their place. */
void ride_chart_print(struct store *store, int64_t id);

#endif
