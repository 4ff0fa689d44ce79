/*
 * Curves and bands on a canvas. A cell has PLOT_DOTS_ACROSS by PLOT_DOTS_UP dots, of braille; in
 * ASCII a cell with any of them is an asterisk.
 */
#ifndef UI_PLOT_H
#define UI_PLOT_H

#include "ui/canvas.h"

#define PLOT_DOTS_ACROSS 2
#define PLOT_DOTS_UP     4

/* Where it stands, one cell or more each way, and what its lowest and its highest dots stand for,
 * the one below the other. Values beyond them stand at the edge. */
struct plot {
    int column, row, columns, rows;
    int64_t low, high;
};

/* Shades every cell of that column that has a value from `from` to `to` in it. To be drawn before
 * the curves, which leave no trace of it where they pass. */
void plot_band(struct canvas *canvas, const struct plot *plot, enum style style, int column,
               int64_t from, int64_t to);
/* The dots of one dot column that stand for these values, whichever is the greater: a curve without
 * gaps goes from each value to the next. */
void plot_dots(struct canvas *canvas, const struct plot *plot, enum style style, int dot_column,
               int64_t from, int64_t to);

#endif
