/*
 * The drawings on the ride's screen.
 */
#ifndef UI_RIDE_DRAWINGS_H
#define UI_RIDE_DRAWINGS_H

#include "ui/canvas.h"
#include "ui/view.h"

#define GAUGE_ROWS 3

/* A reading on a scale of which its range is a part: the ends of the range, the scale, and a needle
 * below it with words. From `column`, `columns` wide. Nothing where nothing is asked. */
void draw_gauge(struct canvas *canvas, int column, int row, int columns,
                const struct view_reading *reading, const char *unit);

/* The whole block: work stands as high as `rows`, everything else lies in the last one; what is
 * done is solid. */
void draw_strip(struct canvas *canvas, int column, int row, int columns, int rows,
                const struct view *view);

enum style style_of_stand(enum stand stand);
/* "in range", "12 W low": in words. */
struct view_line words_of_stand(const struct view_reading *reading, const char *unit);

#endif
