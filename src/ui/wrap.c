#include "ui/wrap.h"

#include <stdbool.h>
#include <string.h>

static size_t blanks_at(const char *text, size_t length)
{
    size_t blanks = 0;

    while (blanks < length && text[blanks] == ' ')
        blanks++;
    return blanks;
}

static size_t word_at(const char *text, size_t length)
{
    size_t word = 0;

    while (word < length && text[word] != ' ')
        word++;
    return word;
}

/* Of UTF-8: octets that do not go on with a character. */
static size_t columns_of(const char *text, size_t length)
{
    size_t columns = 0;

    for (size_t i = 0; i < length; i++)
        columns += ((unsigned char)text[i] & 0xC0u) != 0x80u;
    return columns;
}

size_t wrap_columns(struct sink sink)
{
    const size_t columns = sink.columns != NULL ? sink.columns(sink.user) : 0;

    if (columns == 0 || columns > WRAP_COLUMNS)
        return WRAP_COLUMNS;
    return columns > WRAP_COLUMNS_MIN ? columns : WRAP_COLUMNS_MIN;
}

/* The column where a broken line goes on. */
static size_t text_column(const char *line, size_t length, size_t indent, size_t most)
{
    const size_t margin = blanks_at(line, length);
    size_t found = margin > indent ? margin : indent, column = margin;

    for (size_t at = margin; at < length;) {
        const size_t word = word_at(line + at, length - at);
        const size_t blanks = blanks_at(line + at + word, length - at - word);
        column += columns_of(line + at, word) + blanks;
        at += word + blanks;
        if (column > most / 2)
            break;
        if (blanks > 1 && at < length)
            found = column;
    }
    return found;
}

static void put_blanks(struct sink sink, size_t count)
{
    static const char blanks[WRAP_COLUMNS + 1] =
        "                                                                                ";

    sink.put(sink.user, blanks, count < WRAP_COLUMNS ? count : WRAP_COLUMNS);
}

static void put_line(struct sink sink, const char *line, size_t length, size_t indent)
{
    const size_t most = wrap_columns(sink);
    const size_t begin = text_column(line, length, indent, most);
    size_t column = 0, at = 0;

    while (at < length) {
        const size_t blanks = blanks_at(line + at, length - at);
        const char *word = line + at + blanks;
        const size_t octets = word_at(word, length - at - blanks);
        const size_t columns = columns_of(word, octets);
        if (column > begin && octets > 0 && column + blanks + columns > most &&
            begin + columns <= most) {
            sink.put(sink.user, "\n", 1);
            put_blanks(sink, begin);
            column = begin;
        } else {
            sink.put(sink.user, line + at, blanks);
            column += blanks;
        }
        sink.put(sink.user, word, octets);
        column += columns;
        at += blanks + octets;
    }
}

void wrap_put(struct sink sink, const char *text, size_t length, size_t indent)
{
    while (length > 0) {
        const char *end = memchr(text, '\n', length);
        const size_t line = end != NULL ? (size_t)(end - text) : length;
        put_line(sink, text, line, indent);
        if (end == NULL)
            return;
        sink.put(sink.user, "\n", 1);
        text += line + 1;
        length -= line + 1;
    }
}
