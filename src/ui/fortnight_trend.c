#include "fortnight_trend.h"

#include <inttypes.h>
#include <stdio.h>

#include "ui/plot.h"

#define JOINED_DAYS 28

static int dot_of(const struct past_trend *trend, const struct plot *plot, int32_t day)
{
    const int64_t days = (int64_t)trend->last_day - trend->first_day;
    const int64_t dots = (int64_t)plot->columns * PLOT_DOTS_ACROSS - 1;

    return days > 0 ? (int)((day - trend->first_day) * dots / days) : 0;
}

/* Straight from one to the next, but not over weeks of which nothing is known. */
static void draw_line(struct canvas *canvas, const struct plot *plot,
                      const struct past_trend *trend, const struct past_point *from,
                      const struct past_point *to)
{
    const int first = dot_of(trend, plot, from->day), last = dot_of(trend, plot, to->day);
    int64_t before = from->value;

    plot_dots(canvas, plot, STYLE_PLAIN, first, from->value, from->value);
    plot_dots(canvas, plot, STYLE_PLAIN, last, to->value, to->value);
    for (int dot = first; dot <= last && to->day - from->day <= JOINED_DAYS; dot++) {
        const int64_t value = last > first ? from->value + ((int64_t)to->value - from->value) *
                                                               (dot - first) / (last - first)
                                           : to->value;
        plot_dots(canvas, plot, STYLE_PLAIN, dot, before, value);
        before = value;
    }
}

static void draw_months(const struct past_trend *trend, struct canvas *canvas,
                        const struct plot *plot, int row)
{
    int free_at = 0;

    for (size_t i = 0; i < trend->month_count; i++) {
        const int column =
            plot->column + dot_of(trend, plot, trend->months[i].day) / PLOT_DOTS_ACROSS;
        if (column >= free_at && column + 3 <= canvas->columns)
            free_at = 1 + canvas_text(canvas, column, row, STYLE_QUIET,
                                      past_month_text(trend->months[i].month));
    }
}

static void draw_scale(struct canvas *canvas, const struct plot *plot)
{
    char text[24];

    (void)snprintf(text, sizeof text, "%" PRId64 " W", plot->high);
    canvas_text_right(canvas, FORTNIGHT_CELLS_AT - 1, plot->row, STYLE_QUIET, text);
    (void)snprintf(text, sizeof text, "%" PRId64 " W", plot->low);
    if (plot->rows > 1)
        canvas_text_right(canvas, FORTNIGHT_CELLS_AT - 1, plot->row + plot->rows - 1, STYLE_QUIET,
                          text);
}

static void draw_curve(const struct past_trend *trend, struct canvas *canvas, struct plot *plot)
{
    for (size_t i = 0; i < trend->count; i++) {
        const int32_t value = trend->points[i].value;
        plot->low = value < plot->low ? value : plot->low;
        plot->high = value > plot->high ? value : plot->high;
    }
    for (size_t i = 1; i < trend->count; i++)
        draw_line(canvas, plot, trend, &trend->points[i - 1], &trend->points[i]);
}

void fortnight_draw_trend(const struct past_trend *trend, struct canvas *canvas, int row, int rows)
{
    const bool has_words = trend->sources[0] != '\0';
    /* Curve and axis go before the words, but for the months of it. */
    const int below = has_words && rows > 2 ? 1 : 0;
    const int axis = row + rows - 1 - below;
    struct plot plot = {FORTNIGHT_CELLS_AT, row,       canvas->columns - FORTNIGHT_CELLS_AT - 1,
                        axis - row,         INT32_MAX, 0};

    if (has_words)
        (void)canvas_text(canvas, FORTNIGHT_CELLS_AT, axis + below, STYLE_QUIET, trend->sources);
    if (trend->count < 2) {
        (void)canvas_text(canvas, FORTNIGHT_LABEL_AT, row, STYLE_QUIET,
                          "Two blocks ridden to the end make a trend of the power in them.");
        return;
    }
    draw_curve(trend, canvas, &plot);
    draw_scale(canvas, &plot);
    (void)canvas_text(canvas, FORTNIGHT_LABEL_AT, axis, STYLE_QUIET, "trend");
    if (!has_words || below > 0)
        draw_months(trend, canvas, &plot, axis);
}
