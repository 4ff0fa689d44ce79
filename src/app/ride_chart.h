/*
 * What a ride looks like: its seconds for a drawing, its steps for a table.
 */
#ifndef APP_RIDE_CHART_H
#define APP_RIDE_CHART_H

#include "ride_series.h"
#include "ui/chart.h"

/* The seconds of the block clock; free chart->seconds. False: no memory. */
bool ride_chart_of(const struct ride_series *series, struct chart *ret);

/* A step as it was ridden: means of what is known, 0: nothing is. */
struct ride_chart_step {
    char name[32]; /* "work 3 of 8" */
    uint32_t seconds;
    struct step_targets targets;
    int32_t power_w, cadence_rpm;
    int32_t heart_bpm; /* the highest */
};
struct ride_chart_step ride_chart_step(const struct ride_series *series, size_t lap);

/* Prints both on stdout, or what is wrong in their place. */
void ride_chart_print(struct store *store, int64_t id);

#endif
