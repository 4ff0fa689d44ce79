/*
 * Lines that fit what shows them, 80 columns at most, broken between words.
 *
 * What is broken goes on below the cell that it was in: a line such as "  --mute      no sound" is
 * made of cells with two blanks or more between them, and the last of these in the left half of the
 * line is where the text begins. A line without cells goes on at `indent`, or as far in as it
 * began. A word too long for that, such as a path, stays whole. Columns are characters.
 */
#ifndef UI_WRAP_H
#define UI_WRAP_H

#include <stddef.h>

#include "port/screen.h"

#define WRAP_COLUMNS     80u /* longer lines are hard to read, whatever shows them */
#define WRAP_COLUMNS_MIN 20u /* with fewer there would be a word a line */

/* How long a line into it may be now. */
size_t wrap_columns(struct sink sink);

/* Whole lines, each with its newline; what stands behind the last one counts as a line too. */
void wrap_put(struct sink sink, const char *text, size_t length, size_t indent);

#endif
