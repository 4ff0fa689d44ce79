/*
 * One block as a drawing: power against its target range, heart rate and cadence, over the block
 * clock.
 */
#ifndef UI_CHART_H
#define UI_CHART_H

#include "ride/plan.h"
#include "ui/canvas.h"

enum chart_line { CHART_POWER, CHART_HEART, CHART_CADENCE, CHART_LINE_COUNT };

/* A second of the block, holds left out. */
struct chart_second {
    bool is_on_plan; /* else ridden out */
    enum step_kind kind;
    bool has[CHART_LINE_COUNT];
    int32_t value[CHART_LINE_COUNT];
    struct target_range range[CHART_LINE_COUNT];
};

struct chart {
    size_t count;
    struct chart_second *seconds; /* borrowed, and only read here */
};

/* A step as it was ridden: means of what is known, the highest heart rate; 0: nothing is. */
struct chart_step {
    char name[32];  /* "work 3 of 8" */
    char asked[48]; /* "234..262 W" */
    uint32_t seconds;
    int32_t power_w, cadence_rpm, heart_bpm;
};

/* The mean of what is known from second `from` to before `to`. False: nothing is. */
bool chart_mean(const struct chart *chart, enum chart_line line, size_t from, size_t to,
                int32_t *ret);
/* What the ends of a scale stand for: power from 0, all in round numbers, targets included. False:
 * nothing is known of it. */
bool chart_scale(const struct chart *chart, enum chart_line line, int32_t *ret_low,
                 int32_t *ret_high);
const char *chart_name(enum chart_line line); /* "power" */
const char *chart_unit(enum chart_line line); /* "W" */

/* How many rows it takes: none where there is nothing to draw. */
int chart_rows(const struct chart *chart);
/* From `row` on, over the whole width. */
void chart_draw(const struct chart *chart, struct canvas *canvas, int row);

#endif
