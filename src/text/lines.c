#include "text/lines.h"

#include <string.h>

#include "text/utf8.h"

static bool is_blank(char character)
{
    return character == ' ' || character == '\t';
}

/* The text is known to be well formed here, so a character is an octet that continues none. */
static uint32_t column_of(const char *line_begin, const char *at)
{
    uint32_t column = 1;
    for (const char *octet = line_begin; octet < at; octet++)
        if (((unsigned char)*octet & 0xC0) != 0x80)
            column++;
    return column;
}

/* A line ends with LF or CR LF; a last CR before the end of the file is half of one. */
static size_t line_break(const char *text, size_t length)
{
    if (length >= 1 && text[0] == '\n')
        return 1;
    if (length >= 1 && text[0] == '\r' && (length == 1 || text[1] == '\n'))
        return length == 1 ? 1 : 2;
    return 0;
}

static enum result check_characters(const char *text, size_t length, struct text_fault *ret_fault)
{
    const char *line_begin = text;
    struct text_word place = {.line = 1};
    for (size_t at = 0; at < length;) {
        size_t octets = line_break(text + at, length - at);
        if (octets > 0) {
            place.line++;
            line_begin = text + at + octets;
        } else if ((octets = utf8_character(text + at, length - at)) == 0) {
            place.column = column_of(line_begin, text + at);
            text_fault_at(ret_fault, place, "UTF-8 text", "a control character or a broken octet");
            return RESULT_INVALID;
        }
        at += octets;
    }
    return RESULT_OK;
}

enum result text_lines_open(const char *text, size_t length, struct text_lines *ret,
                            struct text_fault *ret_fault)
{
    static const char mark[] = {'\xEF', '\xBB', '\xBF'}; /* U+FEFF */
    if (length >= sizeof(mark) && memcmp(text, mark, sizeof(mark)) == 0) {
        text += sizeof(mark);
        length -= sizeof(mark);
    }
    enum result result = check_characters(text, length, ret_fault);
    if (result != RESULT_OK)
        return result;
    *ret = (struct text_lines){.at = text, .end = text + length};
    return RESULT_OK;
}

/* Also gives the empty line behind a last line break, which is where the file ends. */
static bool read_line(struct text_lines *lines)
{
    if (lines->last)
        return false;
    const char *at = lines->at;
    const char *comment = NULL;
    size_t octets = 0;
    while (at < lines->end && (octets = line_break(at, (size_t)(lines->end - at))) == 0) {
        if (*at == '#' && comment == NULL)
            comment = at;
        at++;
    }
    lines->line_begin = lines->line_at = lines->at;
    lines->line_end = comment != NULL ? comment : at;
    lines->line++;
    lines->last = octets == 0;
    lines->at = at + octets;
    return true;
}

static void skip_blanks(struct text_lines *lines)
{
    while (lines->line_at < lines->line_end && is_blank(*lines->line_at))
        lines->line_at++;
}

bool text_lines_next(struct text_lines *lines)
{
    while (read_line(lines)) {
        skip_blanks(lines);
        if (lines->line_at < lines->line_end)
            return true;
    }
    lines->line_at = lines->line_end;
    return false;
}

static struct text_word word_here(const struct text_lines *lines, const char *end)
{
    return (struct text_word){
        .text = lines->line_at,
        .length = (size_t)(end - lines->line_at),
        .line = lines->line,
        .column = column_of(lines->line_begin, lines->line_at),
    };
}

struct text_word text_lines_word(struct text_lines *lines)
{
    skip_blanks(lines);
    const char *end = lines->line_at;
    while (end < lines->line_end && !is_blank(*end))
        end++;
    struct text_word word = word_here(lines, end);
    lines->line_at = end;
    return word;
}

struct text_word text_lines_rest(struct text_lines *lines)
{
    skip_blanks(lines);
    const char *end = lines->line_end;
    while (end > lines->line_at && is_blank(end[-1]))
        end--;
    struct text_word rest = word_here(lines, end);
    lines->line_at = lines->line_end;
    return rest;
}
