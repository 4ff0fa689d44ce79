/*
 * Where what a ride shows stands on a canvas of any size.
 */
#ifndef UI_RIDE_LAYOUT_H
#define UI_RIDE_LAYOUT_H

#include "ui/canvas.h"
#include "ui/view.h"

/* A smaller canvas gets one line: the large number, how to stop, whether it is held or cut off and
 * for how long, what is wrong with the link, and what it would take. */
#define RIDE_COLUMNS_MIN 80
#define RIDE_ROWS_MIN    24

/* `canvas` is cleared and of its size. */
void ride_layout(const struct view *view, struct canvas *canvas);

#endif
