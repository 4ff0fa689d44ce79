#include "ride_drawings.h"

#include "base/text.h"
#include "ui/words.h"

#define FULL_BLOCK  0x2588u
#define LIGHT_SHADE 0x2591u
#define LINE        0x2500u
#define UP          0x25B2u
#define TO_LEFT     0x25C0u
#define TO_RIGHT    0x25B6u

enum style style_of_stand(enum stand stand)
{
    switch (stand) {
    case STAND_LOW: return STYLE_BELOW;
    case STAND_IN_RANGE: return STYLE_IN_RANGE;
    case STAND_HIGH: return STYLE_ABOVE;
    case STAND_UNKNOWN: break;
    }
    return STYLE_STRONG;
}

struct view_line words_of_stand(const struct view_reading *reading, const char *unit)
{
    struct view_line line = {""};
    struct text_writer writer = text_writer(line.text, sizeof line.text);
    const int64_t value = reading->value;

    if (reading->stand == STAND_LOW || reading->stand == STAND_HIGH) {
        text_put_signed(&writer, reading->stand == STAND_LOW ? reading->range.low - value
                                                             : value - reading->range.high);
        text_put(&writer, unit);
        text_put_char(&writer, ' ');
    }
    text_put(&writer, words_stand(reading->stand));
    return line;
}

/* ---- gauge ---- */

struct scale {
    int column, columns;
    int64_t from, to; /* what its ends stand for */
};

/* The range with as much again on each side, and never so little that the needle would jump. */
static struct scale scale_of(int column, int columns, const struct target_range *range)
{
    const int64_t low = range->low, high = range->high;
    const int64_t least = (low + high) / 10, span = high - low;
    const int64_t margin = span > least ? span : least > 10 ? least : 10;

    return (struct scale){column, columns, low - margin, high + margin};
}

static int column_of(const struct scale *scale, int64_t value)
{
    const int64_t last = scale->columns - 1;

    if (value <= scale->from)
        return scale->column;
    if (value >= scale->to)
        return scale->column + (int)last;
    return scale->column + (int)(((value - scale->from) * last * 2 + (scale->to - scale->from)) /
                                 ((scale->to - scale->from) * 2));
}

/* Out of range it stands beside the range, however little is missing. */
static int needle_column(const struct scale *scale, const struct view_reading *reading)
{
    const int at = column_of(scale, reading->value);
    const int low = column_of(scale, reading->range.low);
    const int high = column_of(scale, reading->range.high);

    if (reading->stand == STAND_LOW && at >= low)
        return low - 1;
    return reading->stand == STAND_HIGH && at <= high ? high + 1 : at;
}

static void draw_needle(struct canvas *canvas, const struct scale *scale, int row,
                        const struct view_reading *reading, const char *unit)
{
    const enum style style = style_of_stand(reading->stand);
    const struct view_line words = words_of_stand(reading, unit);
    const int at = needle_column(scale, reading);
    const uint32_t needle = reading->value < scale->from ? TO_LEFT
                            : reading->value > scale->to ? TO_RIGHT
                                                         : UP;

    if (!reading->known)
        return;
    canvas_put(canvas, at, row, style, needle);
    if (at + 2 + canvas_text_width(words.text) <= scale->column + scale->columns)
        (void)canvas_text(canvas, at + 2, row, style, words.text);
    else
        canvas_text_right(canvas, at - 1, row, style, words.text);
}

static void draw_end(struct canvas *canvas, int column, bool is_left, int row, int32_t value)
{
    char text[16];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put_signed(&writer, value);
    if (is_left)
        canvas_text_right(canvas, column - 1, row, STYLE_PLAIN, text);
    else
        (void)canvas_text(canvas, column + 2, row, STYLE_PLAIN, text);
}

void draw_gauge(struct canvas *canvas, int column, int row, int columns,
                const struct view_reading *reading, const char *unit)
{
    if (!reading->range.set)
        return;
    const struct scale scale = scale_of(column, columns, &reading->range);
    const int low = column_of(&scale, reading->range.low);
    const int high = column_of(&scale, reading->range.high);

    canvas_fill(canvas, column, row + 1, columns, 1, STYLE_QUIET, LINE);
    canvas_fill(canvas, low, row, high - low + 1, 2, STYLE_PLAIN, FULL_BLOCK);
    draw_end(canvas, low, true, row, reading->range.low);
    draw_end(canvas, high, false, row, reading->range.high);
    draw_needle(canvas, &scale, row + 2, reading, unit);
}

/* ---- strip ---- */

/* Whether any work is within these milliseconds of the plan. */
static bool has_work(const struct plan *plan, uint64_t from_ms, uint64_t to_ms)
{
    uint64_t at_ms = 0;

    for (size_t i = plan_floor_steps(plan); i < plan->step_count && at_ms < to_ms; i++) {
        const uint64_t end_ms = at_ms + plan->steps[i].duration_ms;
        if (plan->steps[i].kind == STEP_WORK && end_ms > from_ms)
            return true;
        at_ms = end_ms;
    }
    return false;
}

void draw_strip(struct canvas *canvas, int column, int row, int columns, int rows,
                const struct view *view)
{
    const uint64_t all_ms = view->plan_ms > 0 ? view->plan_ms : 1;
    const int done = (int)(view->plan_at_ms * (uint64_t)columns / all_ms);

    for (int i = 0; i < columns; i++) {
        /* The middle half of what the column stands for, so that short rests stay to be seen. */
        const uint64_t from_ms = all_ms * (4 * (uint64_t)i + 1) / (4 * (uint64_t)columns);
        const uint64_t to_ms = all_ms * (4 * (uint64_t)i + 3) / (4 * (uint64_t)columns);
        const int high = has_work(view->plan, from_ms, to_ms) ? rows : 1;
        const bool is_over = i < done;
        canvas_fill(canvas, column + i, row + rows - high, 1, high,
                    i == done ? STYLE_STRONG
                    : is_over ? STYLE_PLAIN
                              : STYLE_QUIET,
                    is_over ? FULL_BLOCK : LIGHT_SHADE);
    }
    if (view->phase >= PHASE_RIDING && done < columns)
        canvas_put(canvas, column + done, row + rows, STYLE_STRONG, UP);
}
