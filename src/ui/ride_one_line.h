/*
 * A ride on a canvas that has no room for it: one line, and below it what must be seen at any size.
 */
#ifndef UI_RIDE_ONE_LINE_H
#define UI_RIDE_ONE_LINE_H

#include "ui/canvas.h"
#include "ui/view.h"

void ride_one_line(const struct view *view, struct canvas *canvas);

#endif
