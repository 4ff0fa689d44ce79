/* The part of text/lines.h that looks into words: comparing, taking apart, complaining. */
#include <string.h>

#include "base/text.h"
#include "text/lines.h"
#include "text/utf8.h"

enum { QUOTE_MAX = 32 }; /* octets of a word that a message repeats */

struct text_word text_word(const char *text)
{
    return (struct text_word){.text = text, .length = strlen(text)};
}

bool text_word_is(struct text_word word, const char *text)
{
    return word.length == strlen(text) && memcmp(word.text, text, word.length) == 0;
}

static void drop(struct text_word *word, size_t octets)
{
    word->text += octets;
    word->length -= octets;
    word->column += (uint32_t)octets; /* only ASCII is ever taken */
}

bool text_take(struct text_word *word, const char *literal)
{
    size_t length = strlen(literal);
    if (word->length < length || memcmp(word->text, literal, length) != 0)
        return false;
    drop(word, length);
    return true;
}

static bool begins_with_digit(struct text_word word)
{
    return word.length > 0 && word.text[0] >= '0' && word.text[0] <= '9';
}

static uint32_t append_digit(uint32_t value, uint32_t digit)
{
    return value > (UINT32_MAX - digit) / 10 ? UINT32_MAX : value * 10 + digit;
}

static uint32_t take_digit(struct text_word *word)
{
    uint32_t digit = (uint32_t)(word->text[0] - '0');
    drop(word, 1);
    return digit;
}

bool text_take_number(struct text_word *word, unsigned decimals, uint32_t *ret)
{
    if (!begins_with_digit(*word))
        return false;
    uint32_t value = 0;
    while (begins_with_digit(*word))
        value = append_digit(value, take_digit(word));

    struct text_word fraction = *word;
    bool has_fraction = decimals > 0 && text_take(&fraction, ".") && begins_with_digit(fraction);
    if (has_fraction)
        *word = fraction;
    for (unsigned i = 0; i < decimals; i++) {
        bool given = has_fraction && begins_with_digit(*word);
        value = append_digit(value, given ? take_digit(word) : 0);
    }
    *ret = value;
    return true;
}

bool text_take_range(struct text_word *word, unsigned decimals, uint32_t *ret_low,
                     uint32_t *ret_high)
{
    struct text_word rest = *word;
    uint32_t low, high;
    if (!text_take_number(&rest, decimals, &low) || !text_take(&rest, "..") ||
        !text_take_number(&rest, decimals, &high))
        return false;
    *word = rest;
    *ret_low = low;
    *ret_high = high;
    return true;
}

bool text_take_time(struct text_word *word, uint32_t *ret_ms)
{
    struct text_word rest = *word;
    uint32_t minutes;
    if (!text_take_number(&rest, 0, &minutes) || !text_take(&rest, ":"))
        return false;
    uint32_t seconds = 0;
    for (int i = 0; i < 2; i++) {
        if (!begins_with_digit(rest))
            return false;
        seconds = append_digit(seconds, take_digit(&rest));
    }
    if (seconds > 59)
        return false;
    *word = rest;
    uint64_t duration_ms = ((uint64_t)minutes * 60 + seconds) * 1000;
    *ret_ms = duration_ms > UINT32_MAX ? UINT32_MAX : (uint32_t)duration_ms;
    return true;
}

/* An argument may hold anything, so what is no character is shown as a question mark. */
static void put_quoted(struct text_writer *message, struct text_word word)
{
    size_t at = 0;
    text_put_char(message, '\'');
    while (at < word.length) {
        size_t octets = utf8_character(word.text + at, word.length - at);
        if (at + octets > QUOTE_MAX || at == QUOTE_MAX) {
            text_put(message, "...");
            break;
        }
        if (octets == 0 || word.text[at] == '\t')
            text_put_char(message, octets == 0 ? '?' : ' ');
        else
            text_put_part(message, word.text + at, octets);
        at += octets == 0 ? 1 : octets;
    }
    text_put_char(message, '\'');
}

static struct text_writer begin_fault(struct text_fault *ret, struct text_word word,
                                      const char *expected)
{
    ret->line = word.line;
    ret->column = word.column;
    struct text_writer message = text_writer(ret->message, sizeof(ret->message));
    text_put(&message, "expected ");
    text_put(&message, expected);
    text_put(&message, ", found ");
    return message;
}

void text_fault_at(struct text_fault *ret, struct text_word word, const char *expected,
                   const char *found)
{
    struct text_writer message = begin_fault(ret, word, expected);
    text_put(&message, found);
}

void text_fault_word(struct text_fault *ret, struct text_word word, const char *expected)
{
    struct text_writer message = begin_fault(ret, word, expected);
    if (word.length == 0)
        text_put(&message, word.line == 0 ? "nothing" : "the end of the line");
    else
        put_quoted(&message, word);
}
