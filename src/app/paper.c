#include "paper.h"

#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/output.h"

#define COLUMNS     80
#define COLUMNS_MIN 60 /* on less the lines are broken, and no drawing is worth having */

static int columns_behind_stdout(void)
{
    const unsigned columns = output_columns(STDOUT_FILENO);

    if (columns == 0 || columns >= COLUMNS)
        return COLUMNS;
    return columns > COLUMNS_MIN ? (int)columns : COLUMNS_MIN;
}

struct canvas *paper_new(int rows)
{
    struct canvas *canvas = malloc(sizeof *canvas);

    if (canvas != NULL)
        canvas_clear(canvas, columns_behind_stdout(), rows,
                     strcmp(nl_langinfo(CODESET), "UTF-8") != 0);
    return canvas;
}

void paper_print(const struct canvas *canvas)
{
    char text[CANVAS_ROW_TEXT_MAX];
    int blank = 0;

    for (int row = 0; row < canvas->rows; row++) {
        canvas_row_text(canvas, row, text, sizeof text);
        if (text[0] == '\0') {
            blank++;
            continue;
        }
        for (; blank > 0; blank--)
            putchar('\n');
        puts(text);
    }
}
