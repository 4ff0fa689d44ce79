#include "ui/canvas.h"

/*
 * Large signs of bars, which can be drawn at any height. A cell is about twice as high as wide, so
 * a bar that lies is half as many rows as one that stands has columns.
 *
 *    -A-
 *   F   B
 *    -G-
 *   E   C
 *    -D-
 */
enum { A = 1, B = 2, C = 4, D = 8, E = 16, F = 32, G = 64 };

#define FULL_BLOCK 0x2588u

static unsigned bars_of(char sign)
{
    static const unsigned digits[] = {
        A | B | C | D | E | F, B | C,         A | B | G | E | D,
        A | B | G | C | D,     F | G | B | C, A | F | G | C | D,
        A | F | G | E | C | D, A | B | C,     A | B | C | D | E | F | G,
        A | B | C | D | F | G,
    };

    if (sign >= '0' && sign <= '9')
        return digits[sign - '0'];
    return sign == '-' ? G : 0;
}

/* How thick a bar that lies is; one that stands has twice as many columns. */
static int bar_rows(int rows)
{
    return rows < 11 ? 1 : rows / 6;
}

static int sign_width(int rows, char sign)
{
    return sign == ':' ? 2 * bar_rows(rows) : rows + 1;
}

int canvas_signs_width(int rows, const char *signs)
{
    int width = 0;

    for (const char *sign = signs; *sign != '\0'; sign++)
        width += sign_width(rows, *sign) + (sign != signs ? 2 * bar_rows(rows) : 0);
    return width;
}

static void draw_bars(struct canvas *canvas, int x, int y, int rows, enum style style,
                      unsigned bars)
{
    const int lies = bar_rows(rows), stands = 2 * lies, width = rows + 1;
    const int middle = (rows - lies) / 2, lower = rows - middle;

    if (bars & A)
        canvas_fill(canvas, x, y, width, lies, style, FULL_BLOCK);
    if (bars & G)
        canvas_fill(canvas, x, y + middle, width, lies, style, FULL_BLOCK);
    if (bars & D)
        canvas_fill(canvas, x, y + rows - lies, width, lies, style, FULL_BLOCK);
    if (bars & F)
        canvas_fill(canvas, x, y, stands, middle + lies, style, FULL_BLOCK);
    if (bars & B)
        canvas_fill(canvas, x + width - stands, y, stands, middle + lies, style, FULL_BLOCK);
    if (bars & E)
        canvas_fill(canvas, x, y + middle, stands, lower, style, FULL_BLOCK);
    if (bars & C)
        canvas_fill(canvas, x + width - stands, y + middle, stands, lower, style, FULL_BLOCK);
}

static void draw_colon(struct canvas *canvas, int x, int y, int rows, enum style style)
{
    const int lies = bar_rows(rows);

    canvas_fill(canvas, x, y + rows / 3 - lies / 2, 2 * lies, lies, style, FULL_BLOCK);
    canvas_fill(canvas, x, y + rows - rows / 3 - (lies + 1) / 2, 2 * lies, lies, style, FULL_BLOCK);
}

/* The head is a triangle over the upper half, the shaft as thick as a bar that stands. Both are odd
 * where the sign is, so that they have the same middle. */
static void draw_arrow(struct canvas *canvas, int x, int y, int rows, enum style style, bool up)
{
    const int width = rows + 1, odd = width % 2, head = rows / 2 + 1;
    const int shaft = 2 * bar_rows(rows) + odd;

    for (int i = 0; i < rows; i++) {
        const int grown = 2 * i + 2 - odd < width ? 2 * i + 2 - odd : width;
        const int columns = i < head ? grown : shaft;
        canvas_fill(canvas, x + (width - columns) / 2, up ? y + i : y + rows - 1 - i, columns, 1,
                    style, FULL_BLOCK);
    }
}

void canvas_signs(struct canvas *canvas, int column, int row, int rows, enum style style,
                  const char *signs)
{
    for (const char *sign = signs; *sign != '\0'; sign++) {
        if (*sign == ':')
            draw_colon(canvas, column, row, rows, style);
        else if (*sign == '^' || *sign == 'v')
            draw_arrow(canvas, column, row, rows, style, *sign == '^');
        else
            draw_bars(canvas, column, row, rows, style, bars_of(*sign));
        column += sign_width(rows, *sign) + 2 * bar_rows(rows);
    }
}
