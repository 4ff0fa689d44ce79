#include "ui/mend.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "typing.h"

static void look_again(struct mend *mend)
{
    mend->is_sound =
        profile_read(mend->text, mend->length, &mend->profile, &mend->fault) == RESULT_OK;
    mend->line = mend->fault.line;
}

static void take_original(struct mend *mend)
{
    mend->length = mend->original_length;
    if (mend->length > 0)
        memcpy(mend->text, mend->original, mend->length);
    look_again(mend);
}

void mend_begin(struct mend *mend, const char *name, const char *text, size_t length)
{
    mend->name = name;
    mend->original = text;
    mend->original_length = length < PROFILE_FILE_MAX ? length : PROFILE_FILE_MAX;
    take_original(mend);
}

/* ---- lines ---- */

struct line {
    size_t begin, length; /* without its break */
    size_t octets;        /* with it; 0 behind the last line */
};

static struct line line_at(const struct mend *mend, uint32_t number)
{
    struct line line = {0};

    for (uint32_t i = 1;; i++) {
        const char *begin = mend->text + line.begin;
        const size_t left = mend->length - line.begin;
        const char *feed = left > 0 ? memchr(begin, '\n', left) : NULL;
        line.length = feed != NULL ? (size_t)(feed - begin) : left;
        line.octets = line.length + (feed != NULL ? 1 : 0);
        if (i >= number || line.octets == 0)
            break;
        line.begin += line.octets;
    }
    if (line.length > 0 && mend->text[line.begin + line.length - 1] == '\r')
        line.length--;
    return line;
}

/* Puts `with` where so many octets are now; false when there is no room. */
static bool replace(struct mend *mend, size_t begin, size_t octets, const char *with, size_t length)
{
    char *at = mend->text + begin;

    if (mend->length - octets + length > PROFILE_FILE_MAX)
        return false;
    memmove(at + length, at + octets, mend->length - begin - octets);
    memcpy(at, with, length);
    mend->length += length - octets;
    look_again(mend);
    return true;
}

/* ---- keys ---- */

/* With what stands there, unless that is more than can be typed. */
static enum mend_act begin_typing(struct mend *mend)
{
    const struct line line = line_at(mend, mend->line);

    mend->typed[0] = '\0';
    if (line.length <= MEND_LINE_MAX) {
        memcpy(mend->typed, mend->text + line.begin, line.length);
        mend->typed[line.length] = '\0';
    }
    mend->is_typing = true;
    return MEND_SHOW;
}

static enum mend_act keep_typed(struct mend *mend)
{
    const struct line line = line_at(mend, mend->line);

    mend->is_typing = false;
    (void)replace(mend, line.begin, line.length, mend->typed, strlen(mend->typed));
    return MEND_SHOW;
}

static enum mend_act press_typing(struct mend *mend, struct press press)
{
    switch (press.kind) {
    case PRESS_CHARACTER:
        (void)typing_add(mend->typed, MEND_LINE_MAX, press.character);
        return MEND_SHOW;
    case PRESS_BACKSPACE: (void)typing_take_back(mend->typed); return MEND_SHOW;
    case PRESS_ENTER: return keep_typed(mend);
    case PRESS_ESCAPE:
        mend->is_typing = false;
        mend->line = mend->fault.line;
        return MEND_SHOW;
    case PRESS_UP:
    case PRESS_DOWN:
    case PRESS_LEFT:
    case PRESS_RIGHT:
    case PRESS_OTHER: break;
    }
    return MEND_NOTHING;
}

static enum mend_act add_line(struct mend *mend)
{
    const uint32_t number = mend->line;

    if (!replace(mend, line_at(mend, number).begin, 0, "\n", 1))
        return MEND_NOTHING;
    mend->line = number;
    return begin_typing(mend);
}

static enum mend_act take_out_line(struct mend *mend)
{
    const struct line line = line_at(mend, mend->line);
    return replace(mend, line.begin, line.octets, "", 0) ? MEND_SHOW : MEND_NOTHING;
}

enum mend_act mend_press(struct mend *mend, struct press press)
{
    if (mend->is_typing)
        return press_typing(mend, press);
    if (press.kind == PRESS_ENTER)
        return begin_typing(mend);
    if (press.kind != PRESS_CHARACTER)
        return MEND_NOTHING;
    switch (press.character) {
    case 'a': return add_line(mend);
    case 'd': return take_out_line(mend);
    case 'u': take_original(mend); return MEND_SHOW;
    case 'q': return MEND_LEAVE;
    default: return MEND_NOTHING;
    }
}

/* ---- as a picture ---- */

#define TEXT_AT   6
#define TOP_ROWS  2
#define LAST_ROWS 6

static void draw_text(const struct mend *mend, struct canvas *canvas, int row, struct line line,
                      enum style style)
{
    char text[4 * CANVAS_COLUMNS_MAX + 1];
    size_t length = 0;

    for (; length < line.length && length < sizeof text - 1; length++) {
        text[length] = mend->text[line.begin + length];
        if (text[length] == '\t' || text[length] == '\0')
            text[length] = ' ';
    }
    text[length] = '\0';
    (void)canvas_text(canvas, TEXT_AT, row, style, text);
}

static void draw_number(struct canvas *canvas, int row, uint32_t number)
{
    char text[16];

    (void)snprintf(text, sizeof text, "%" PRIu32, number);
    canvas_text_right(canvas, TEXT_AT - 1, row, STYLE_QUIET, text);
}

/* The line itself or what is typed in its place, and below it where in it the fault is. */
static void draw_faulty(const struct mend *mend, struct canvas *canvas, int row, struct line line)
{
    (void)canvas_text(canvas, 0, row, STYLE_URGENT, ">");
    if (mend->is_typing) {
        const char *typed = typing_tail(mend->typed, canvas->columns - TEXT_AT - 1);
        const int end = canvas_text(canvas, TEXT_AT, row, STYLE_STRONG, typed);
        canvas_put(canvas, end, row, STYLE_STRONG, '_');
        return;
    }
    draw_text(mend, canvas, row, line, STYLE_STRONG);
    if (mend->fault.column > 0 && mend->fault.column < CANVAS_COLUMNS_MAX)
        canvas_put(canvas, TEXT_AT + (int)mend->fault.column - 1, row + 1, STYLE_URGENT, '^');
}

static void draw_lines(const struct mend *mend, struct canvas *canvas)
{
    const int end = canvas->rows - LAST_ROWS;
    const uint32_t before = (uint32_t)(end - TOP_ROWS) / 2;
    uint32_t number = mend->line > before ? mend->line - before : 1;

    for (int row = TOP_ROWS; row < end; row++, number++) {
        const struct line line = line_at(mend, number);
        if (line.octets == 0 && number > mend->line)
            break;
        draw_number(canvas, row, number);
        if (number == mend->line)
            draw_faulty(mend, canvas, row++, line);
        else
            draw_text(mend, canvas, row, line, STYLE_PLAIN);
    }
}

void mend_draw(const struct mend *mend, struct canvas *canvas)
{
    const int row = canvas->rows - LAST_ROWS + 1;
    char where[64];

    if (canvas->columns < 40 || canvas->rows < 12) {
        (void)canvas_text(canvas, 0, 0, STYLE_STRONG, "Too small: 40x12.");
        return;
    }
    (void)canvas_text(canvas, 1, 0, STYLE_STRONG, mend->name);
    draw_lines(mend, canvas);
    (void)snprintf(where, sizeof where, "Line %" PRIu32 ", column %" PRIu32 ":", mend->fault.line,
                   mend->fault.column);
    (void)canvas_text(canvas, 1, row, STYLE_URGENT, where);
    (void)canvas_text(canvas, 1, row + 1, STYLE_URGENT, mend->fault.message);
    (void)canvas_text(canvas, 1, row + 3, STYLE_QUIET,
                      mend->is_typing ? "Enter  keep it   Esc  as it was"
                                      : "Enter  type it anew   a  add a line before it   "
                                        "d  delete it");
    if (!mend->is_typing)
        (void)canvas_text(canvas, 1, row + 4, STYLE_QUIET,
                          "u  all as it was read   q  leave   Nothing is saved before you say so.");
}
