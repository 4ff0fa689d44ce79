/*
 * Two weeks on one screen: days by week, what was ridden on each, how it goes over months.
 *
 * Pure: no I/O, no clock.
 */
#ifndef UI_FORTNIGHT_H
#define UI_FORTNIGHT_H

#include "ui/canvas.h"
#include "ui/past.h"
#include "ui/press.h"

enum fortnight_act {
    FORTNIGHT_NOTHING,
    FORTNIGHT_EARLIER,
    FORTNIGHT_LATER,
    FORTNIGHT_PROFILE, /* the next kind of blocks to look at, after the last one all of them */
    FORTNIGHT_BIKE,
    FORTNIGHT_LEGS,
    FORTNIGHT_LEAVE
};

/* EARLIER and LATER only where there is something. */
enum fortnight_act fortnight_press(const struct past *past, struct press press);

#define FORTNIGHT_COLUMNS_MIN 60
#define FORTNIGHT_ROWS_MIN    24
/* For two weeks, keys in the last row. On a smaller canvas one line that says so. */
void fortnight_draw(const struct past *past, struct canvas *canvas);

/* For any number of weeks, on paper: no keys, an explanation of the words in their place. */
int fortnight_rows(const struct past *past);
void fortnight_print(const struct past *past, struct canvas *canvas);

#endif
