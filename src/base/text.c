#include "base/text.h"

#include <assert.h>
#include <string.h>

enum { DIGITS_MAX = 20, DECIMALS_MAX = 18 }; /* 2^64 has 20 digits */

/* A number of several parts is put together in so much room first, to be left out as a whole. */
enum { NUMBER_SIZE = 32 };

struct text_writer text_writer(char *data, size_t capacity)
{
    if (capacity > 0)
        data[0] = '\0';
    return (struct text_writer){.data = data, .capacity = capacity};
}

void text_put_part(struct text_writer *writer, const char *text, size_t length)
{
    /* The NUL needs a place, too. */
    if (writer->failed || writer->length > writer->capacity ||
        length >= writer->capacity - writer->length) {
        writer->failed = true;
        return;
    }
    if (length > 0)
        memcpy(writer->data + writer->length, text, length);
    writer->length += length;
    writer->data[writer->length] = '\0';
}

void text_put(struct text_writer *writer, const char *text)
{
    text_put_part(writer, text, strlen(text));
}

void text_put_char(struct text_writer *writer, char character)
{
    text_put_part(writer, &character, 1);
}

void text_put_padded(struct text_writer *writer, uint64_t value, unsigned digits)
{
    assert(digits <= DIGITS_MAX);
    char places[DIGITS_MAX];
    size_t first = DIGITS_MAX;
    for (size_t i = 0; i < DIGITS_MAX && (i == 0 || i < digits || value > 0); i++) {
        places[--first] = (char)('0' + value % 10);
        value /= 10;
    }
    text_put_part(writer, places + first, DIGITS_MAX - first);
}

void text_put_unsigned(struct text_writer *writer, uint64_t value)
{
    text_put_padded(writer, value, 1);
}

/* Also right for INT64_MIN, whose magnitude no int64_t holds. */
static uint64_t magnitude(int64_t value)
{
    return value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
}

void text_put_signed(struct text_writer *writer, int64_t value)
{
    text_put_fixed(writer, value, 0);
}

void text_put_fixed(struct text_writer *writer, int64_t value, unsigned decimals)
{
    assert(decimals <= DECIMALS_MAX);
    char data[NUMBER_SIZE];
    struct text_writer number = text_writer(data, sizeof(data));
    uint64_t unit = 1;
    for (unsigned i = 0; i < decimals; i++)
        unit *= 10;
    if (value < 0)
        text_put_char(&number, '-');
    text_put_unsigned(&number, magnitude(value) / unit);
    if (decimals > 0) {
        text_put_char(&number, '.');
        text_put_padded(&number, magnitude(value) % unit, decimals);
    }
    text_put_part(writer, number.data, number.length);
}

void text_put_time(struct text_writer *writer, uint64_t duration_ms)
{
    char data[NUMBER_SIZE];
    struct text_writer time = text_writer(data, sizeof(data));
    uint64_t seconds = duration_ms / 1000;
    text_put_unsigned(&time, seconds / 60);
    text_put_char(&time, ':');
    text_put_padded(&time, seconds % 60, 2);
    text_put_part(writer, time.data, time.length);
}

size_t text_line_octets(const char *text, size_t columns)
{
    size_t taken = 0, width = 0;

    for (size_t i = 0;; i++) {
        if ((text[i] == ' ' || text[i] == '\0') && (taken == 0 || width <= columns))
            taken = i;
        if (text[i] == '\0' || (width > columns && taken > 0))
            return taken;
        width += ((unsigned char)text[i] & 0xC0u) != 0x80u; /* UTF-8: not within a character */
    }
}
