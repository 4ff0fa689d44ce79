#include "ui/plot.h"

#define LIGHT_SHADE 0x2591u
#define BRAILLE     0x2800u /* and a bit for each dot */
#define BRAILLE_END 0x28FFu

/* The bits of a braille cell, row by row. Source: The Unicode Standard, Braille Patterns. */
static const uint32_t dot_bits[PLOT_DOTS_UP][PLOT_DOTS_ACROSS] = {
    {0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}};

/* From 0 at the bottom to `steps` - 1. */
static int height_of(const struct plot *plot, int steps, int64_t value)
{
    const int64_t span = plot->high - plot->low;

    if (span <= 0 || value <= plot->low)
        return 0;
    if (value >= plot->high)
        return steps - 1;
    return (int)(((value - plot->low) * (steps - 1) * 2 + span) / (span * 2));
}

void plot_band(struct canvas *canvas, const struct plot *plot, enum style style, int column,
               int64_t from, int64_t to)
{
    const int dots = plot->rows * PLOT_DOTS_UP;
    const int lowest = height_of(plot, dots, from) / PLOT_DOTS_UP;
    const int highest = height_of(plot, dots, to) / PLOT_DOTS_UP;

    if (column >= 0 && column < plot->columns)
        canvas_fill(canvas, plot->column + column, plot->row + plot->rows - 1 - highest, 1,
                    highest - lowest + 1, style, LIGHT_SHADE);
}

static void put_dot(struct canvas *canvas, const struct plot *plot, enum style style,
                    int dot_column, int height)
{
    const int column = plot->column + dot_column / PLOT_DOTS_ACROSS;
    const int from_top = plot->rows * PLOT_DOTS_UP - 1 - height;
    const int row = plot->row + from_top / PLOT_DOTS_UP;
    const uint32_t bit = dot_bits[from_top % PLOT_DOTS_UP][dot_column % PLOT_DOTS_ACROSS];
    const uint32_t there = canvas_cell(canvas, column, row).character;

    canvas_put(canvas, column, row, style,
               there >= BRAILLE && there <= BRAILLE_END ? there | bit : BRAILLE | bit);
}

void plot_dots(struct canvas *canvas, const struct plot *plot, enum style style, int dot_column,
               int64_t from, int64_t to)
{
    const int dots = plot->rows * PLOT_DOTS_UP;
    const int first = height_of(plot, dots, from < to ? from : to);
    const int last = height_of(plot, dots, from < to ? to : from);

    if (dot_column < 0 || dot_column >= plot->columns * PLOT_DOTS_ACROSS)
        return;
    for (int height = first; height <= last; height++)
        put_dot(canvas, plot, style, dot_column, height);
}
