#include "ui/chart.h"

#include <inttypes.h>
#include <stdio.h>

#include "ui/plot.h"

#define LABEL_AT    1
#define PLOT_AT     9
#define FULL_BLOCK  0x2588u
#define LIGHT_SHADE 0x2591u
/* A blank row between two lines, and below them the steps and the clock. */
#define ROWS_BELOW 2
#define EVERY_MAX  8

static const struct {
    const char *name, *unit;
    int rows;
    int32_t round_to;
    bool from_zero;
} looks[CHART_LINE_COUNT] = {
    [CHART_POWER] = {"power", "W", 8, 50, true},
    [CHART_HEART] = {"heart", "bpm", 4, 10, false},
    [CHART_CADENCE] = {"cadence", "rpm", 3, 10, false},
};

const char *chart_name(enum chart_line line)
{
    return looks[line].name;
}

const char *chart_unit(enum chart_line line)
{
    return looks[line].unit;
}

bool chart_mean(const struct chart *chart, enum chart_line line, size_t from, size_t to,
                int32_t *ret)
{
    int64_t sum = 0, count = 0;

    for (size_t i = from; i < to && i < chart->count; i++) {
        if (!chart->seconds[i].has[line])
            continue;
        sum += chart->seconds[i].value[line];
        count++;
    }
    if (count > 0)
        *ret = (int32_t)(sum / count);
    return count > 0;
}

static void widen(int32_t value, int32_t *low, int32_t *high)
{
    *low = value < *low ? value : *low;
    *high = value > *high ? value : *high;
}

bool chart_scale(const struct chart *chart, enum chart_line line, int32_t *ret_low,
                 int32_t *ret_high)
{
    const int32_t round_to = looks[line].round_to;
    int32_t low = INT32_MAX, high = INT32_MIN;

    for (size_t i = 0; i < chart->count; i++)
        if (chart->seconds[i].has[line])
            widen(chart->seconds[i].value[line], &low, &high);
    if (low > high)
        return false;
    for (size_t i = 0; i < chart->count; i++)
        if (chart->seconds[i].range[line].set)
            widen(chart->seconds[i].range[line].high, &low, &high);
    /* Readings are within a few thousand, targets may be anything that a profile can say. */
    high = high < 10000 ? high : 10000;
    low = looks[line].from_zero || low < 0 ? 0 : low;
    *ret_low = low / round_to * round_to;
    *ret_high = (high / round_to + 1) * round_to;
    return true;
}

/* ---- where a column is ---- */

static size_t second_of(const struct chart *chart, int at, int of)
{
    return (size_t)((uint64_t)chart->count * (uint64_t)at / (uint64_t)of);
}

/* At least one second, so that blocks shorter than the drawing have no holes. */
static size_t end_second_of(const struct chart *chart, int at, int of)
{
    const size_t from = second_of(chart, at, of), to = second_of(chart, at + 1, of);
    return to > from ? to : from + 1;
}

/* ---- lines ---- */

static void draw_range(const struct chart *chart, struct canvas *canvas, const struct plot *plot,
                       enum chart_line line)
{
    for (int column = 0; column < plot->columns; column++) {
        const size_t second = second_of(chart, 2 * column + 1, 2 * plot->columns);
        const struct target_range *range = &chart->seconds[second].range[line];
        if (range->set && range->high >= plot->low)
            plot_band(canvas, plot, STYLE_QUIET, column, range->low, range->high);
    }
}

static void draw_curve(const struct chart *chart, struct canvas *canvas, const struct plot *plot,
                       enum chart_line line)
{
    const int dots = plot->columns * PLOT_DOTS_ACROSS;
    int32_t before = 0, value;
    bool has_before = false;

    for (int dot = 0; dot < dots; dot++) {
        const bool is_known = chart_mean(chart, line, second_of(chart, dot, dots),
                                         end_second_of(chart, dot, dots), &value);
        if (is_known)
            plot_dots(canvas, plot, STYLE_PLAIN, dot, has_before ? before : value, value);
        has_before = is_known;
        before = value;
    }
}

static void draw_scale(struct canvas *canvas, const struct plot *plot, enum chart_line line)
{
    char text[24];

    (void)snprintf(text, sizeof text, "%" PRId64 " %s", plot->high, looks[line].unit);
    canvas_text_right(canvas, PLOT_AT - 1, plot->row, STYLE_QUIET, text);
    (void)canvas_text(canvas, LABEL_AT, plot->row + 1, STYLE_PLAIN, looks[line].name);
    (void)snprintf(text, sizeof text, "%" PRId64, plot->low);
    canvas_text_right(canvas, PLOT_AT - 1, plot->row + plot->rows - 1, STYLE_QUIET, text);
}

/* ---- below ---- */

static void draw_steps(const struct chart *chart, struct canvas *canvas, int row, int columns)
{
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_PLAIN, "work");
    for (int column = 0; column < columns; column++) {
        const struct chart_second *second =
            &chart->seconds[second_of(chart, 2 * column + 1, 2 * columns)];
        if (second->is_on_plan)
            canvas_put(canvas, PLOT_AT + column, row, STYLE_QUIET,
                       second->kind == STEP_WORK ? FULL_BLOCK : LIGHT_SHADE);
    }
}

static void draw_clock(const struct chart *chart, struct canvas *canvas, int row, int columns)
{
    static const uint32_t every_s[EVERY_MAX] = {30, 60, 120, 300, 600, 1800, 3600, 14400};
    size_t pick = 0;

    /* Eight columns apart at least. */
    while (pick + 1 < EVERY_MAX && every_s[pick] * (uint64_t)columns < 8 * (uint64_t)chart->count)
        pick++;
    for (uint64_t second = 0; second < chart->count; second += every_s[pick]) {
        const int column = PLOT_AT + (int)(second * (uint64_t)columns / chart->count);
        char text[24];
        (void)snprintf(text, sizeof text, "%" PRIu64 ":%02" PRIu64, second / 60, second % 60);
        if (column + canvas_text_width(text) < canvas->columns)
            (void)canvas_text(canvas, column, row, STYLE_QUIET, text);
    }
}

/* ---- all of it ---- */

int chart_rows(const struct chart *chart)
{
    int rows = 0;

    for (int line = 0; line < CHART_LINE_COUNT; line++) {
        int32_t low, high;
        if (chart_scale(chart, (enum chart_line)line, &low, &high))
            rows += looks[line].rows + 1;
    }
    return rows > 0 ? rows + ROWS_BELOW : 0;
}

void chart_draw(const struct chart *chart, struct canvas *canvas, int row)
{
    const int columns = canvas->columns - PLOT_AT - 1;
    bool is_empty = true;

    for (int i = 0; i < CHART_LINE_COUNT && columns > 0; i++) {
        const enum chart_line line = (enum chart_line)i;
        int32_t low, high;
        if (!chart_scale(chart, line, &low, &high))
            continue;
        const struct plot plot = {PLOT_AT, row, columns, looks[line].rows, low, high};
        draw_range(chart, canvas, &plot, line);
        draw_curve(chart, canvas, &plot, line);
        draw_scale(canvas, &plot, line);
        row += looks[line].rows + 1;
        is_empty = false;
    }
    if (is_empty)
        return;
    draw_steps(chart, canvas, row, columns);
    draw_clock(chart, canvas, row + 1, columns);
}
