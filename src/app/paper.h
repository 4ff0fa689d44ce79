/*
 * Drawings on stdout: a canvas printed as lines, as wide as the terminal behind it, or 80 columns.
 */
#ifndef APP_PAPER_H
#define APP_PAPER_H

#include "ui/canvas.h"

/* Cleared, of so many rows; free it. NULL: no memory. Drawings are in ASCII where the locale has
 * nothing else. */
struct canvas *paper_new(int rows);
/* Without blank rows at the end. */
void paper_print(const struct canvas *canvas);

#endif
