#include "ui/fortnight.h"

#include <inttypes.h>
#include <stdio.h>

#include "fortnight_trend.h"

#define LABEL_AT     FORTNIGHT_LABEL_AT
#define CELLS_AT     FORTNIGHT_CELLS_AT
#define DAYS         7
#define VALUE_WIDTH  5  /* four columns and a blank */
#define TALL         32 /* from so many rows on there is room for blank ones */
#define BEST_WIDTH   17
#define PRINTED_PLOT 5

/* ---- keys ---- */

enum fortnight_act fortnight_press(const struct past *past, struct press press)
{
    if (press.kind == PRESS_LEFT && past->has_earlier)
        return FORTNIGHT_EARLIER;
    if (press.kind == PRESS_RIGHT && past->has_later)
        return FORTNIGHT_LATER;
    if (press.kind == PRESS_ENTER)
        return FORTNIGHT_LEAVE;
    if (press.kind != PRESS_CHARACTER)
        return FORTNIGHT_NOTHING;
    switch (press.character) {
    case 'p': return FORTNIGHT_PROFILE;
    case 'b': return FORTNIGHT_BIKE;
    case 'a': return FORTNIGHT_LEGS;
    case 'q': return FORTNIGHT_LEAVE;
    default: return FORTNIGHT_NOTHING;
    }
}

/* ---- one value ---- */

struct value {
    char text[24];
};

static struct value length_value(const struct past_block *block)
{
    struct value value = {"-"};
    if (block->length_s >= 600)
        (void)snprintf(value.text, sizeof value.text, "%" PRIu32 "m", (block->length_s + 30) / 60);
    else if (block->length_s > 0)
        (void)snprintf(value.text, sizeof value.text, "%" PRIu32 ":%02" PRIu32,
                       block->length_s / 60, block->length_s % 60);
    return value;
}

static struct value work_value(const struct past_block *block)
{
    struct value value = {"-"};
    if (block->work_j > 0)
        (void)snprintf(value.text, sizeof value.text, "%.*f", block->work_j < 99950 ? 1 : 0,
                       block->work_j / 1000.0);
    return value;
}

static struct value number_value(bool known, int64_t number)
{
    struct value value = {"-"};
    if (known)
        (void)snprintf(value.text, sizeof value.text, "%" PRId64, number);
    return value;
}

static struct value legs_value(const struct past_block *block)
{
    struct value value = number_value(block->feel > 0, block->feel);
    if (block->is_fresh)
        (void)snprintf(value.text + 1, sizeof value.text - 1, "f");
    return value;
}

enum field {
    FIELD_RIDE,
    FIELD_LENGTH,
    FIELD_WORK,
    FIELD_POWER,
    FIELD_CALORIES,
    FIELD_OUTCOME,
    FIELD_LEGS,
    FIELD_EFFORT,
    FIELD_COUNT
};

static const char *const labels[FIELD_COUNT] = {"ride", "length", "kJ",   "W",
                                                "kcal", "result", "legs", "effort"};

static struct value value_of(const struct past_block *block, enum field field)
{
    struct value value;

    switch (field) {
    case FIELD_RIDE: return number_value(true, block->ride_id);
    case FIELD_LENGTH: return length_value(block);
    case FIELD_WORK: return work_value(block);
    case FIELD_POWER: return number_value(block->power_w > 0, block->power_w);
    case FIELD_CALORIES: return number_value(block->calories_kcal > 0, block->calories_kcal);
    case FIELD_LEGS: return legs_value(block);
    case FIELD_EFFORT: return number_value(block->has_effort, block->effort);
    case FIELD_OUTCOME:
    case FIELD_COUNT: break;
    }
    (void)snprintf(value.text, sizeof value.text, "%s", past_outcome_short(block->outcome));
    return value;
}

static enum style style_of(const struct past_block *block, enum field field)
{
    if (field == FIELD_RIDE)
        return STYLE_QUIET;
    return field == FIELD_OUTCOME && block->outcome == PAST_BETTER ? STYLE_STRONG : STYLE_PLAIN;
}

/* ---- the grid ---- */

struct grid {
    int cell;  /* columns of a day */
    int value; /* columns of a block within it */
    size_t per_day;
};

static struct grid grid_of(const struct past *past, const struct canvas *canvas)
{
    struct grid grid = {.cell = (canvas->columns - CELLS_AT - 1) / DAYS, .value = VALUE_WIDTH};

    for (size_t i = 0; i < past->block_count; i++) {
        const struct value number = number_value(true, past->blocks[i].ride_id);
        const int width = canvas_text_width(number.text) + 1;
        grid.value = width > grid.value ? width : grid.value;
    }
    grid.per_day = grid.cell > grid.value ? (size_t)(grid.cell / grid.value) : 1;
    return grid;
}

static void draw_day(const struct past *past, struct canvas *canvas, const struct grid *grid,
                     int column, int row, uint32_t day, size_t hidden)
{
    const struct past_date *date = &past->dates[day];
    char text[48], more[24] = "";

    if (hidden > 0)
        (void)snprintf(more, sizeof more, " +%zu", hidden);
    if (date->day == 1)
        (void)snprintf(text, sizeof text, "1 %s%s", past_month_text(date->month), more);
    else
        (void)snprintf(text, sizeof text, "%s %d%s", past_weekday_text((int32_t)(day % DAYS)),
                       date->day, more);
    if (canvas_text_width(text) >= grid->cell)
        (void)snprintf(text, sizeof text, "%d%s", date->day, more);
    (void)canvas_text(canvas, column, row, hidden > 0 ? STYLE_STRONG : STYLE_QUIET, text);
}

/* The last of the day where there is not room for all. */
static void draw_cell(const struct past *past, struct canvas *canvas, const struct grid *grid,
                      int row, uint32_t day)
{
    const int column = CELLS_AT + 1 + (int)(day % DAYS) * grid->cell;
    size_t first = 0, count = 0;

    while (first < past->block_count && past->blocks[first].day < past->first_day + (int32_t)day)
        first++;
    while (first + count < past->block_count &&
           past->blocks[first + count].day == past->first_day + (int32_t)day)
        count++;
    const size_t hidden = count > grid->per_day ? count - grid->per_day : 0;
    draw_day(past, canvas, grid, column, row, day, hidden);
    for (size_t i = hidden; i < count; i++) {
        const struct past_block *block = &past->blocks[first + i];
        for (int field = 0; field < FIELD_COUNT; field++) {
            const struct value value = value_of(block, (enum field)field);
            (void)canvas_text(canvas, column + (int)(i - hidden) * grid->value, row + 1 + field,
                              style_of(block, (enum field)field), value.text);
        }
    }
}

/* Gives the row below. */
static int draw_weeks(const struct past *past, struct canvas *canvas, int row, int gap)
{
    const struct grid grid = grid_of(past, canvas);

    for (uint32_t week = 0; week < past->weeks; week++) {
        const struct past_date *monday = &past->dates[(size_t)week * DAYS];
        (void)canvas_text(canvas, LABEL_AT, row, STYLE_STRONG, past_month_text(monday->month));
        for (int field = 0; field < FIELD_COUNT; field++)
            (void)canvas_text(canvas, LABEL_AT, row + 1 + field, STYLE_QUIET, labels[field]);
        for (uint32_t day = week * DAYS; day < (week + 1) * DAYS; day++)
            draw_cell(past, canvas, &grid, row, day);
        row += 1 + FIELD_COUNT + gap;
    }
    return row;
}

static void draw_title(const struct past *past, struct canvas *canvas)
{
    char span[PAST_SPAN_MAX], sums[PAST_SUMS_MAX];

    past_span(past, span, sizeof span);
    past_sums(past, sums, sizeof sums);
    const int column = canvas_text(canvas, LABEL_AT, 0, STYLE_STRONG, span) + 3;
    if (column + canvas_text_width(sums) > canvas->columns)
        (void)snprintf(sums, sizeof sums, "%zu blocks", past->block_count);
    (void)canvas_text(canvas, column, 0, STYLE_PLAIN, sums);
}

/* ---- best efforts ---- */

static struct value best_value(const struct past *past, const struct past_best *best)
{
    const struct past_date *last = &past->dates[(size_t)past->weeks * DAYS - 1];
    const int months = 12 * (last->year - best->date.year) + last->month - best->date.month;
    struct value value = {""};

    if (best->power_w == 0)
        (void)snprintf(value.text, sizeof value.text, "%s -", best->span);
    else if (months >= -11 && months <= 11)
        (void)snprintf(value.text, sizeof value.text, "%s %" PRIu32 " %d %s", best->span,
                       best->power_w, best->date.day, past_month_text(best->date.month));
    else
        (void)snprintf(value.text, sizeof value.text, "%s %" PRIu32 " %d", best->span,
                       best->power_w, best->date.year);
    return value;
}

static int bests_across(const struct canvas *canvas)
{
    const int count = (int)PAST_BEST_COUNT;
    return canvas->columns - CELLS_AT - 1 >= count * BEST_WIDTH ? count : count / 2;
}

static int best_rows(const struct canvas *canvas)
{
    return (int)PAST_BEST_COUNT / bests_across(canvas);
}

static void draw_bests(const struct past *past, struct canvas *canvas, int row)
{
    const int across = bests_across(canvas);
    const int width = (canvas->columns - CELLS_AT - 1) / across;

    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, "best W");
    for (int i = 0; i < (int)PAST_BEST_COUNT; i++) {
        const struct value value = best_value(past, &past->bests[i]);
        (void)canvas_text(canvas, CELLS_AT + 1 + i % across * width, row + i / across, STYLE_PLAIN,
                          value.text);
    }
}

/* ---- all of it ---- */

/* What is shown goes before the keys that change it. */
static void draw_which(const struct past *past, struct canvas *canvas, int column, int row)
{
    static const char keys[] = "p b a  ";
    const bool is_all = past->only[0] == '\0';
    const char *which = is_all ? "which blocks" : past->only;

    if (column + canvas_text_width(keys) + canvas_text_width(which) <= canvas->columns)
        column = canvas_text(canvas, column, row, STYLE_PLAIN, keys);
    (void)canvas_text(canvas, column, row, is_all ? STYLE_PLAIN : STYLE_STRONG, which);
}

void fortnight_draw(const struct past *past, struct canvas *canvas)
{
    const int keys = canvas->rows - 1, gap = canvas->rows >= TALL ? 1 : 0;

    if (canvas->columns < FORTNIGHT_COLUMNS_MIN || canvas->rows < FORTNIGHT_ROWS_MIN) {
        (void)canvas_text(canvas, 0, 0, STYLE_STRONG, "Too small: 60x24. q leaves.");
        return;
    }
    draw_title(past, canvas);
    const int below = draw_weeks(past, canvas, 1 + gap, gap);
    const int bests = keys - best_rows(canvas) - gap;
    fortnight_draw_trend(&past->trend, canvas, below, bests - below - gap);
    draw_bests(past, canvas, bests);
    const int column =
        canvas_text(canvas, LABEL_AT, keys, STYLE_PLAIN,
                    past->has_earlier && past->has_later ? "left, right  earlier, later   q  leave"
                    : past->has_earlier                  ? "left  earlier   q  leave"
                    : past->has_later                    ? "right  later   q  leave"
                                                         : "q  leave");
    draw_which(past, canvas, column + 3, keys);
}

#define LEGEND_ROWS 5
static const char *const legend[LEGEND_ROWS] = {
    "W, trend: mean power in the work of blocks ridden to the",
    "end. beat: better than those before it, 95 % sure; even:",
    "noise; less: lower; new: too few before it to say; stop,",
    "cut, off: not to its end; open: unfinished. legs: 1 bad to",
    "5 very good, f ridden fresh. effort: 0 none to 10 all.",
};

int fortnight_rows(const struct past *past)
{
    return 2 + (int)past->weeks * (2 + FIELD_COUNT) + PRINTED_PLOT + 2 + (int)PAST_BEST_COUNT / 2 +
           2 + LEGEND_ROWS;
}

void fortnight_print(const struct past *past, struct canvas *canvas)
{
    draw_title(past, canvas);
    int row = draw_weeks(past, canvas, 2, 1);
    fortnight_draw_trend(&past->trend, canvas, row, PRINTED_PLOT + 1);
    row += PRINTED_PLOT + 2;
    draw_bests(past, canvas, row);
    row += best_rows(canvas) + 1;
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_PLAIN, past->only);
    row += past->only[0] != '\0';
    for (size_t i = 0; i < LEGEND_ROWS; i++)
        (void)canvas_text(canvas, LABEL_AT, row + (int)i, STYLE_QUIET, legend[i]);
}
