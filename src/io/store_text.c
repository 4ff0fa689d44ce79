#include "io/store_text.h"

#include <assert.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* Well-formed sequences by their first octet; `low` and `high` bound the second, which is what
 * keeps out overlong forms, surrogates and what is above U+10FFFF. Source: RFC 3629, section 4,
 * "Syntax of UTF-8 Byte Sequences". */
static const struct lead {
    uint8_t first, last, low, high;
    size_t length;
} leads[] = {
    {0x20, 0x7E, 0, 0, 1},       /* printable ASCII */
    {0xC2, 0xC2, 0xA0, 0xBF, 2}, /* U+0080 to U+009F are control characters */
    {0xC3, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3}, {0xE1, 0xEC, 0x80, 0xBF, 3},
    {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3}, {0xF0, 0xF0, 0x90, 0xBF, 4},
    {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
};

static bool is_character(const struct lead *lead, const unsigned char *text)
{
    if (lead->length > 1 && (text[1] < lead->low || text[1] > lead->high))
        return false;
    for (size_t i = 2; i < lead->length; i++)
        if (text[i] < 0x80 || text[i] > 0xBF)
            return false;
    return true;
}

/* The octets of the character at `text`, or 0 when there is none to be shown. */
static size_t character_length(const unsigned char *text, size_t length)
{
    for (size_t i = 0; i < sizeof leads / sizeof leads[0]; i++)
        if (text[0] >= leads[i].first && text[0] <= leads[i].last)
            return leads[i].length <= length && is_character(&leads[i], text) ? leads[i].length : 0;
    return 0;
}

void store_clean_text(char *ret, size_t size, const unsigned char *text, size_t length)
{
    assert(size > 0);
    size_t at = 0, used = 0;
    while (at < length) {
        size_t taken = character_length(text + at, length - at);
        size_t put = taken > 0 ? taken : 1;
        if (put >= size - used)
            break;
        if (taken > 0)
            memcpy(ret + used, text + at, taken);
        else
            ret[used] = '?';
        at += put;
        used += put;
    }
    ret[used] = '\0';
}
