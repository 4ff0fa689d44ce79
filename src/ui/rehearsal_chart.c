/* The strip chart of a rehearsal: bands of bars above one another. */
#include "ui/rehearsal.h"

#define FULL_BLOCK 0x2588u
#define LOWER_HALF 0x2584u
#define TARGET     0x2501u
#define UP         0x25B2u

#define LABEL_COLUMNS   8
#define BAND_ROWS       3 /* of reserve and heart */
#define TOP_STEP_W      50
#define HEART_LEAST_BPM 40

/* A band: columns of time, rows of a value from `least` to `most`. */
struct band {
    struct canvas *canvas;
    const struct rehearsal *rehearsal;
    int column, row, columns, rows;
    int32_t least, most;
};

/* What a column stands for: from first to before last, one second at least. */
struct stretch {
    uint32_t first, last;
};

static struct stretch stretch_of(const struct band *band, int column)
{
    const uint64_t all = band->rehearsal->second_count, columns = (uint64_t)band->columns;
    struct stretch stretch = {(uint32_t)(all * (uint64_t)column / columns),
                              (uint32_t)(all * (uint64_t)(column + 1) / columns)};

    if (stretch.last == stretch.first)
        stretch.last++;
    return stretch;
}

/* Rows times two, as far as bars reach in halves. */
static int halves(const struct band *band, int32_t value)
{
    const int32_t span = band->most - band->least;
    const int most = band->rows * 2;

    if (value <= band->least || span <= 0)
        return 0;
    const int64_t high = ((int64_t)(value - band->least) * most + span / 2) / span;
    return high > most ? most : (int)high;
}

static void draw_bar(const struct band *band, int column, int32_t value, enum style style)
{
    const int high = halves(band, value);

    canvas_fill(band->canvas, band->column + column, band->row + band->rows - high / 2, 1, high / 2,
                style, FULL_BLOCK);
    if (high % 2 == 1)
        canvas_put(band->canvas, band->column + column, band->row + band->rows - high / 2 - 1,
                   style, LOWER_HALF);
}

static void draw_mark(const struct band *band, int column, int32_t value, enum style style)
{
    const int high = halves(band, value);

    if (high > 0)
        canvas_put(band->canvas, band->column + column, band->row + band->rows - (high + 1) / 2,
                   style, TARGET);
}

static void draw_labels(const struct band *band, const char *name, const char *unit)
{
    const int end = band->column - 1;
    char text[16];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put_signed(&writer, band->most);
    text_put_char(&writer, ' ');
    text_put(&writer, unit);
    canvas_text_right(band->canvas, end, band->row, STYLE_QUIET, text);
    canvas_text_right(band->canvas, end, band->row + 1, STYLE_PLAIN, name);
    writer = text_writer(text, sizeof text);
    text_put_signed(&writer, band->least);
    canvas_text_right(band->canvas, end, band->row + band->rows - 1, STYLE_QUIET, text);
}

/* ---- what the bands show ---- */

enum shown { SHOWN_POWER, SHOWN_RESERVE, SHOWN_HEART };

static int32_t value_of(const struct rehearsal_second *second, enum shown shown)
{
    switch (shown) {
    case SHOWN_POWER: return second->power_w;
    case SHOWN_HEART: return second->heart_bpm;
    case SHOWN_RESERVE: break;
    }
    return second->reserve_pct;
}

/* The mean over the seconds of a column; false where none of them was ridden. */
static bool mean_of(const struct band *band, int column, enum shown shown, int32_t *ret)
{
    const struct stretch stretch = stretch_of(band, column);
    int32_t sum = 0, count = 0;

    for (uint32_t s = stretch.first; s < stretch.last && s < band->rehearsal->ridden_count; s++) {
        sum += value_of(&band->rehearsal->seconds[s], shown);
        count++;
    }
    if (count > 0)
        *ret = (sum + count / 2) / count;
    return count > 0;
}

/* The one in the middle. */
static const struct rehearsal_second *second_at(const struct band *band, int column)
{
    const struct stretch stretch = stretch_of(band, column);
    return &band->rehearsal->seconds[(stretch.first + stretch.last) / 2];
}

static void draw_bars(const struct band *band, enum shown shown)
{
    for (int i = 0; i < band->columns; i++) {
        const bool is_strong = shown != SHOWN_POWER || second_at(band, i)->in_work;
        int32_t value;
        if (mean_of(band, i, shown, &value))
            draw_bar(band, i, value, is_strong ? STYLE_PLAIN : STYLE_QUIET);
    }
}

static int32_t larger(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

static int32_t highest_power_w(const struct rehearsal *rehearsal)
{
    int32_t most_w = TOP_STEP_W;

    for (uint32_t s = 0; s < rehearsal->second_count; s++)
        most_w =
            larger(most_w, larger(rehearsal->seconds[s].target_w, rehearsal->seconds[s].power_w));
    return (most_w + TOP_STEP_W - 1) / TOP_STEP_W * TOP_STEP_W;
}

static void draw_power(struct band *band)
{
    band->least = 0;
    band->most = highest_power_w(band->rehearsal);
    draw_labels(band, "power", "W");
    draw_bars(band, SHOWN_POWER);
    for (int i = 0; i < band->columns; i++)
        draw_mark(band, i, second_at(band, i)->target_w, STYLE_STRONG);
}

static void draw_reserve(struct band *band)
{
    band->least = 0;
    band->most = 100;
    draw_labels(band, "reserve", "%");
    draw_bars(band, SHOWN_RESERVE);
}

/* To the limit, or above it. */
static void draw_heart(struct band *band)
{
    const struct rehearsal *rehearsal = band->rehearsal;

    band->least = HEART_LEAST_BPM;
    band->most = larger(HEART_LEAST_BPM + 1,
                        larger(rehearsal->summary.max_heart_bpm, rehearsal->heart_limit_bpm));
    draw_labels(band, "heart", "bpm");
    draw_bars(band, SHOWN_HEART);
}

static void draw_ends(const struct band *band)
{
    char text[16];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put_time(&writer, band->rehearsal->second_count * UINT64_C(1000));
    (void)canvas_text(band->canvas, band->column, band->row, STYLE_QUIET, "0:00");
    canvas_text_right(band->canvas, band->column + band->columns, band->row, STYLE_QUIET, text);
}

/* Where it goes wrong, and when that is. */
static void draw_trouble(const struct band *band)
{
    const struct rehearsal_place *place = &band->rehearsal->trouble_at;
    const uint64_t all_ms = band->rehearsal->second_count * UINT64_C(1000);
    const int at = (int)(place->at_ms * (uint64_t)(band->columns - 1) / all_ms);
    char text[16];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put_time(&writer, place->at_ms);
    canvas_put(band->canvas, band->column + at, band->row, STYLE_URGENT, UP);
    if (at + 2 + canvas_text_width(text) <= band->columns)
        (void)canvas_text(band->canvas, band->column + at + 2, band->row, STYLE_URGENT, text);
    else
        canvas_text_right(band->canvas, band->column + at - 1, band->row, STYLE_URGENT, text);
}

void rehearsal_draw(struct canvas *canvas, int column, int row, int columns, int rows,
                    const struct rehearsal *rehearsal)
{
    const bool has_all = rows >= REHEARSAL_ROWS_ALL;
    struct band band = {.canvas = canvas,
                        .rehearsal = rehearsal,
                        .column = column + LABEL_COLUMNS,
                        .row = row,
                        .columns = columns - LABEL_COLUMNS,
                        .rows = has_all ? rows - 1 - 2 * BAND_ROWS : rows - 1};

    if (columns < REHEARSAL_COLUMNS_MIN || rows < REHEARSAL_ROWS_MIN ||
        rehearsal->second_count == 0)
        return;
    draw_power(&band);
    if (has_all) {
        band.row += band.rows;
        band.rows = BAND_ROWS;
        draw_reserve(&band);
        band.row += BAND_ROWS;
        draw_heart(&band);
    }
    band.row += band.rows;
    if (rehearsal->trouble == REHEARSAL_FINE)
        draw_ends(&band);
    else
        draw_trouble(&band);
}
