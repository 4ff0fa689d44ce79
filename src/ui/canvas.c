#include "ui/canvas.h"

#include <string.h>

#include "base/text.h"
#include "canvas_characters.h"
#include "text/utf8.h"

static int within(int value, int low, int high)
{
    return value < low ? low : value > high ? high : value;
}

void canvas_clear(struct canvas *canvas, int columns, int rows, bool ascii)
{
    canvas->columns = within(columns, 1, CANVAS_COLUMNS_MAX);
    canvas->rows = within(rows, 1, CANVAS_ROWS_MAX);
    canvas->ascii = ascii;
    memset(canvas->cells, 0, (size_t)(canvas->columns * canvas->rows) * sizeof canvas->cells[0]);
}

static bool is_inside(const struct canvas *canvas, int column, int row)
{
    return column >= 0 && column < canvas->columns && row >= 0 && row < canvas->rows;
}

static struct cell *cell_at(struct canvas *canvas, int column, int row)
{
    return &canvas->cells[row * canvas->columns + column];
}

struct cell canvas_cell(const struct canvas *canvas, int column, int row)
{
    if (!is_inside(canvas, column, row))
        return (struct cell){0};
    return canvas->cells[row * canvas->columns + column];
}

/* ---- characters ---- */

static void set_cell(struct canvas *canvas, int column, int row, enum style style,
                     uint32_t character)
{
    if (is_inside(canvas, column, row))
        *cell_at(canvas, column, row) = (struct cell){character, (uint32_t)style};
}

/* Half of a double-width character that is about to be overwritten must not stay behind. */
static void make_room(struct canvas *canvas, int column, int row)
{
    if (canvas_cell(canvas, column, row).character == CANVAS_COVERED)
        set_cell(canvas, column - 1, row, STYLE_PLAIN, 0);
    if (canvas_cell(canvas, column + 1, row).character == CANVAS_COVERED)
        set_cell(canvas, column + 1, row, STYLE_PLAIN, 0);
}

/* How many columns it took; nothing is put where it would be cut in half. */
static int put(struct canvas *canvas, int column, int row, enum style style, uint32_t character)
{
    if (canvas->ascii)
        character = character_in_ascii(character);
    int width = character_width(character);
    if (width == 0) {
        character = '?';
        width = 1;
    }
    if (width == 2 && column == canvas->columns - 1)
        return width;
    for (int i = 0; i < width; i++) {
        make_room(canvas, column + i, row);
        set_cell(canvas, column + i, row, style, i == 0 ? character : CANVAS_COVERED);
    }
    return width;
}

void canvas_put(struct canvas *canvas, int column, int row, enum style style, uint32_t character)
{
    if (is_inside(canvas, column, row))
        (void)put(canvas, column, row, style, character);
}

void canvas_fill(struct canvas *canvas, int column, int row, int columns, int rows,
                 enum style style, uint32_t character)
{
    const int from = within(column, 0, canvas->columns), first = within(row, 0, canvas->rows);
    const int64_t to = (int64_t)column + columns, last = (int64_t)row + rows;

    for (int y = first; y < canvas->rows && y < last; y++)
        for (int x = from; x < canvas->columns && x < to; x++)
            (void)put(canvas, x, y, style, character);
}

/* ---- text ---- */

/* Takes the next character off the text; what is no character goes one octet at a time. */
static uint32_t next_character(const char **text)
{
    const uint8_t *octets = (const uint8_t *)*text;
    const size_t length = utf8_character(*text, strnlen(*text, 4));

    if (length <= 1) {
        (*text)++;
        return length == 1 ? octets[0] : 0xFFFFFFFFu;
    }
    uint32_t character = octets[0] & (0xFFu >> (length + 1));
    for (size_t i = 1; i < length; i++)
        character = character << 6 | (octets[i] & 0x3Fu);
    *text += length;
    return character;
}

/* A text of any length has a width that can be added to a column. */
#define TEXT_COLUMNS_MAX 10000

int canvas_text_width(const char *text)
{
    int width = 0;

    while (*text != '\0' && width < TEXT_COLUMNS_MAX) {
        const int of_character = character_width(next_character(&text));
        width += of_character > 0 ? of_character : 1;
    }
    return width;
}

int canvas_text(struct canvas *canvas, int column, int row, enum style style, const char *text)
{
    column = within(column, -TEXT_COLUMNS_MAX, CANVAS_COLUMNS_MAX);
    const int end = column + canvas_text_width(text);

    while (*text != '\0' && column < canvas->columns) {
        const uint32_t character = next_character(&text);
        const int width = character_width(character);
        if (column >= 0 && row >= 0 && row < canvas->rows)
            (void)put(canvas, column, row, style, character);
        column += width > 0 ? width : 1;
    }
    return end;
}

void canvas_text_right(struct canvas *canvas, int end, int row, enum style style, const char *text)
{
    const int column = within(end, 0, CANVAS_COLUMNS_MAX) - canvas_text_width(text);
    (void)canvas_text(canvas, column > 0 ? column : 0, row, style, text);
}

/* ---- out ---- */

void canvas_row_text(const struct canvas *canvas, int row, char *ret, size_t size)
{
    size_t length = 0, kept = 0;

    for (int column = 0; column < canvas->columns; column++) {
        const uint32_t character = canvas_cell(canvas, column, row).character;
        char octets[4];
        if (character == CANVAS_COVERED)
            continue;
        const size_t count = character_encode(character != 0 ? character : ' ', octets);
        if (length + count >= size)
            break;
        memcpy(ret + length, octets, count);
        length += count;
        if (character != 0 && character != ' ')
            kept = length;
    }
    if (size > 0)
        ret[kept] = '\0';
}

void canvas_too_small(struct canvas *canvas, int column, const char *keys, int columns, int rows)
{
    char text[80];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put(&writer, keys);
    text_put(&writer, "  Too small: ");
    text_put_signed(&writer, columns);
    text_put_char(&writer, 'x');
    text_put_signed(&writer, rows);
    (void)canvas_text(canvas, column, 0, STYLE_STRONG, text);
}
