/*
 * The drawings of the report. Their units are those of a narrow telephone's screen, so that their
 * letters stay to be read there.
 */
#include <inttypes.h>
#include <stdio.h>

#include "report_out.h"

#define WIDTH       360
#define LEFT        36 /* room for the scale */
#define RIGHT       8
#define POINTS_MAX  600 /* of a curve: more than a screen shows */
#define JOINED_DAYS 28

struct panel {
    int top, height;
    int32_t low, high;
};

static double y_of(const struct panel *panel, int32_t value)
{
    const double share = panel->high > panel->low
                             ? ((double)value - panel->low) / ((double)panel->high - panel->low)
                             : 0.5;
    const double within = share < 0 ? 0 : share > 1 ? 1 : share;
    return panel->top + panel->height * (1 - within);
}

static double x_of(double share)
{
    return LEFT + share * (WIDTH - LEFT - RIGHT);
}

static void begin_svg(struct sink sink, int height, const char *title)
{
    report_put(sink,
               "<svg viewBox=\"0 0 %d %d\" role=\"img\" xmlns=\"http://www.w3.org/2000/svg\">"
               "<title>%s</title>\n",
               WIDTH, height, title);
}

static void draw_scale(struct sink sink, const struct panel *panel, const char *name)
{
    report_put(sink, "<text x=\"%d\" y=\"%d\">%s</text>", LEFT, panel->top - 5, name);
    report_put(sink,
               "<path class=\"axis\" d=\"M%d %dH%dM%d %dH%d\"/>"
               "<text class=\"end\" x=\"%d\" y=\"%d\">%" PRId32 "</text>"
               "<text class=\"end\" x=\"%d\" y=\"%d\">%" PRId32 "</text>\n",
               LEFT, panel->top, WIDTH - RIGHT, LEFT, panel->top + panel->height, WIDTH - RIGHT,
               LEFT - 4, panel->top + 10, panel->high, LEFT - 4, panel->top + panel->height,
               panel->low);
}

/* ---- the trend ---- */

static double day_x(const struct past_trend *trend, int32_t day)
{
    const double days = (double)trend->last_day - trend->first_day;
    return x_of(days > 0 ? ((double)day - trend->first_day) / days : 0);
}

static struct panel trend_panel(const struct past_trend *trend)
{
    struct panel panel = {.top = 18, .height = 120, .low = INT32_MAX, .high = INT32_MIN};

    for (size_t i = 0; i < trend->count; i++) {
        const int32_t value = trend->points[i].value;
        panel.low = value < panel.low ? value : panel.low;
        panel.high = value > panel.high ? value : panel.high;
    }
    return panel;
}

static void draw_months(struct sink sink, const struct past_trend *trend, int y)
{
    for (size_t i = 0; i < trend->month_count; i++) {
        const double x = day_x(trend, trend->months[i].day);
        if (x + 24 <= WIDTH)
            report_put(sink, "<text x=\"%.1f\" y=\"%d\">%s</text>", x, y,
                       past_month_text(trend->months[i].month));
    }
}

void report_draw_trend(struct sink sink, const struct past_trend *trend)
{
    const struct panel panel = trend_panel(trend);
    int32_t before_day = INT32_MIN;

    begin_svg(sink, panel.top + panel.height + 22, "Mean power in the work, block by block");
    draw_scale(sink, &panel, "power in the work, W");
    draw_months(sink, trend, panel.top + panel.height + 16);
    report_put(sink, "<path class=\"curve\" d=\"");
    for (size_t i = 0; i < trend->count; i++) {
        const struct past_point *point = &trend->points[i];
        const bool joins = i > 0 && (int64_t)point->day - before_day <= JOINED_DAYS;
        report_put(sink, "%c%.1f %.1f", joins ? 'L' : 'M', day_x(trend, point->day),
                   y_of(&panel, point->value));
        before_day = point->day;
    }
    report_put(sink, "\"/>\n");
    for (size_t i = 0; i < trend->count; i++)
        report_put(sink, "<circle class=\"dot\" cx=\"%.1f\" cy=\"%.1f\" r=\"2\"/>",
                   day_x(trend, trend->points[i].day), y_of(&panel, trend->points[i].value));
    report_put(sink, "</svg>\n");
}

/* ---- a block ---- */

static double second_x(const struct chart *chart, size_t second)
{
    return x_of((double)second / (double)chart->count);
}

static bool is_same_range(const struct target_range *a, const struct target_range *b)
{
    return a->set == b->set && a->low == b->low && a->high == b->high;
}

static void draw_ranges(struct sink sink, const struct chart *chart, const struct panel *panel,
                        enum chart_line line)
{
    for (size_t from = 0, to; from < chart->count; from = to) {
        const struct target_range *range = &chart->seconds[from].range[line];
        for (to = from + 1; to < chart->count; to++)
            if (!is_same_range(range, &chart->seconds[to].range[line]))
                break;
        if (!range->set || range->high < panel->low)
            continue;
        const double top = y_of(panel, range->high), bottom = y_of(panel, range->low);
        report_put(sink,
                   "<rect class=\"band\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>",
                   second_x(chart, from), top, second_x(chart, to) - second_x(chart, from),
                   bottom - top > 1 ? bottom - top : 1);
    }
}

static void draw_curve(struct sink sink, const struct chart *chart, const struct panel *panel,
                       enum chart_line line)
{
    const size_t every = (chart->count + POINTS_MAX - 1) / POINTS_MAX;
    bool joins = false;

    report_put(sink, "<path class=\"curve\" d=\"");
    for (size_t from = 0; from < chart->count; from += every) {
        int32_t value;
        const bool is_known = chart_mean(chart, line, from, from + every, &value);
        /* A reading alone is a point, which a line of no length with round ends draws. */
        if (is_known)
            report_put(sink, "%s%.1f %.1f", joins ? "L" : "M", second_x(chart, from),
                       y_of(panel, value));
        if (is_known && !joins)
            report_put(sink, "h0");
        joins = is_known;
    }
    report_put(sink, "\"/>\n");
}

static void draw_work(struct sink sink, const struct chart *chart, int y)
{
    report_put(sink, "<text class=\"end\" x=\"%d\" y=\"%d\">work</text>", LEFT - 4, y + 8);
    for (size_t from = 0, to; from < chart->count; from = to) {
        const struct chart_second *second = &chart->seconds[from];
        for (to = from + 1; to < chart->count; to++)
            if (chart->seconds[to].kind != second->kind ||
                chart->seconds[to].is_on_plan != second->is_on_plan)
                break;
        if (second->is_on_plan && second->kind == STEP_WORK)
            report_put(sink,
                       "<rect class=\"work\" x=\"%.1f\" y=\"%d\" width=\"%.1f\" height=\"8\"/>",
                       second_x(chart, from), y, second_x(chart, to) - second_x(chart, from));
    }
}

static void draw_clock(struct sink sink, const struct chart *chart, int y)
{
    size_t every_s = 60;

    while (chart->count / every_s > 8)
        every_s *= 2;
    for (size_t second = 0; second < chart->count; second += every_s)
        if (second_x(chart, second) + 28 <= WIDTH)
            report_put(sink, "<text x=\"%.1f\" y=\"%d\">%zu:00</text>", second_x(chart, second), y,
                       second / 60);
    report_put(sink, "\n");
}

void report_draw_chart(struct sink sink, const struct chart *chart)
{
    static const int heights[CHART_LINE_COUNT] = {110, 60, 40};
    int top = 0;

    for (int line = 0; line < CHART_LINE_COUNT; line++) {
        int32_t low, high;
        top += chart_scale(chart, (enum chart_line)line, &low, &high) ? heights[line] + 26 : 0;
    }
    begin_svg(sink, top + 34, "Power, heart rate and cadence over the block");
    top = 0;
    for (int i = 0; i < CHART_LINE_COUNT; i++) {
        const enum chart_line line = (enum chart_line)i;
        struct panel panel = {.top = top + 18, .height = heights[i]};
        if (!chart_scale(chart, line, &panel.low, &panel.high))
            continue;
        char name[32];
        (void)snprintf(name, sizeof name, "%s, %s", chart_name(line), chart_unit(line));
        draw_ranges(sink, chart, &panel, line);
        draw_scale(sink, &panel, name);
        draw_curve(sink, chart, &panel, line);
        top += heights[i] + 26;
    }
    draw_work(sink, chart, top + 4);
    draw_clock(sink, chart, top + 28);
    report_put(sink, "</svg>\n");
}
