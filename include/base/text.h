/*
 * Bounded writing of text, without printf and therefore without a locale.
 *
 * The text in `data` always ends with a NUL. The failure is sticky: what does not fit is left out
 * as a whole, so is everything after it, and `failed` stays set. So a writer of a line puts all its
 * fields and asks once at the end.
 */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct text_writer {
    char *data; /* borrowed */
    size_t capacity;
    size_t length; /* without the NUL */
    bool failed;
};

struct text_writer text_writer(char *data, size_t capacity);
void text_put(struct text_writer *writer, const char *text);
void text_put_part(struct text_writer *writer, const char *text, size_t length);
void text_put_char(struct text_writer *writer, char character);
void text_put_unsigned(struct text_writer *writer, uint64_t value);
void text_put_signed(struct text_writer *writer, int64_t value);
/* With zeros in front until there are `digits` (20 at most); more digits than that stay. */
void text_put_padded(struct text_writer *writer, uint64_t value, unsigned digits);
/* `value` counts units of the last place: -1234 with 2 decimals is -12.34. At most 18 decimals. */
void text_put_fixed(struct text_writer *writer, int64_t value, unsigned decimals);
/* Minutes and seconds, cut to the second: 3:05, 75:00. */
void text_put_time(struct text_writer *writer, uint64_t duration_ms);

/* How many octets of a text go on a line of so many columns, one a character: up to its last blank
 * that fits, or the whole of a first word that does not. What is left begins with that blank. */
size_t text_line_octets(const char *text, size_t columns);

#endif
