/*
 * A grid of characters in memory: what a terminal is to show, and what tests read as text.
 *
 * Everything is clipped: no position and no text can write outside. Text is hostile: what is no
 * UTF-8, and every character that would not stand still in one or two columns (controls, combining
 * marks, scripts written from right to left, which move the digits beside them), becomes '?'.
 *
 * Deterministic, no I/O, no locale. Columns and rows count from 0 at the upper left.
 */
#ifndef UI_CANVAS_H
#define UI_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CANVAS_COLUMNS_MAX 300
#define CANVAS_ROWS_MAX    100

/* What is meant; a terminal makes of it what it can. Zero is plain. */
enum style {
    STYLE_PLAIN,
    STYLE_QUIET,  /* labels, what is over */
    STYLE_STRONG, /* what is looked for first */
    STYLE_IN_RANGE,
    STYLE_BELOW,
    STYLE_ABOVE,
    STYLE_URGENT, /* stands out from everything else */
    STYLE_COUNT
};

#define CANVAS_COVERED 1u /* the second column of a double-width character */

struct cell {
    uint32_t character; /* Unicode; 0: blank */
    uint32_t style;     /* enum style */
};

/* About 240 kB: not for the stack. */
struct canvas {
    int columns, rows;
    bool ascii; /* drawings in ASCII, everything else beyond it becomes '?' */
    struct cell cells[CANVAS_COLUMNS_MAX * CANVAS_ROWS_MAX]; /* row after row of `columns` */
};

/* Blank, at that size: 1x1 at least, the largest at most. */
void canvas_clear(struct canvas *canvas, int columns, int rows, bool ascii);
/* A blank one outside. */
struct cell canvas_cell(const struct canvas *canvas, int column, int row);

/* One character: of text, or of a drawing (see canvas.c for what has a stand-in in ASCII). */
void canvas_put(struct canvas *canvas, int column, int row, enum style style, uint32_t character);
void canvas_fill(struct canvas *canvas, int column, int row, int columns, int rows,
                 enum style style, uint32_t character);

/* How many columns a text takes. */
int canvas_text_width(const char *text);
/* The column after the last one of the text, also where it was clipped. */
int canvas_text(struct canvas *canvas, int column, int row, enum style style, const char *text);
/* Ends before `end`. Too long, it begins at 0. */
void canvas_text_right(struct canvas *canvas, int end, int row, enum style style, const char *text);

/* "KEYS  Too small: 80x24": what a page says where it has no room, in the same words everywhere,
 * from `column` on in the first row. */
void canvas_too_small(struct canvas *canvas, int column, const char *keys, int columns, int rows);

/* Large signs: 0-9, ':', '-', ' ', '^' and 'v' (arrows up and down), CANVAS_SIGN_ROWS_MIN rows or
 * more in height. Every digit is as wide as every other, so that a number stands still while it
 * changes. Other characters count as ' '. */
#define CANVAS_SIGN_ROWS_MIN 5
int canvas_signs_width(int rows, const char *signs);
void canvas_signs(struct canvas *canvas, int column, int row, int rows, enum style style,
                  const char *signs);

/* A row as UTF-8 without the blanks at its end; cut at a whole character when `size` is too small
 * (4 octets a column and the NUL are always enough). */
#define CANVAS_ROW_TEXT_MAX ((size_t)CANVAS_COLUMNS_MAX * 4 + 1)
void canvas_row_text(const struct canvas *canvas, int row, char *ret, size_t size);

#endif
