/*
 * The trend on the canvas of the log: curve, scale, months, and whose power it is.
 */
#ifndef FORTNIGHT_TREND_H
#define FORTNIGHT_TREND_H

#include "ui/canvas.h"
#include "ui/past.h"

#define FORTNIGHT_LABEL_AT 1
#define FORTNIGHT_CELLS_AT 9

/* In `rows`, 2 or more. */
void fortnight_draw_trend(const struct past_trend *trend, struct canvas *canvas, int row, int rows);

#endif
