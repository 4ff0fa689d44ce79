/*
 * The lexer that our text files share: lines of words, and numbers, times and ranges in them.
 *
 * Words are parted by blanks and tabs. `#` begins a comment that reaches to the end of the line.
 * A byte order mark and CRLF are let through. Numbers are decimal whatever the locale: digits, and
 * where it is allowed a point and decimals. Times are m:ss, ranges are low..high without a blank.
 * Lines and columns count from 1; a column is a character, not an octet.
 */
#ifndef TEXT_LINES_H
#define TEXT_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/result.h"

struct text_fault {
    uint32_t line, column; /* 0: not from a file */
    char message[160];     /* "expected …, found …", no full stop */
};

struct text_word {
    const char *text; /* borrowed from the file, no NUL behind it */
    size_t length;    /* 0: there was none, the place is the end of the line */
    uint32_t line, column;
};

struct text_lines {
    const char *at, *end;   /* what comes after this line */
    const char *line_begin; /* this line, and how far its words are taken */
    const char *line_at, *line_end;
    uint32_t line;
    bool last;
};

/* `text` must outlive `ret` and every word. RESULT_INVALID: a character that has no place in a text
 * file (see text/utf8.h), with its place in the fault. */
MUST_USE enum result text_lines_open(const char *text, size_t length, struct text_lines *ret,
                                     struct text_fault *ret_fault);
/* On to the next line with a word in it. False at the end, where text_lines_word() gives an empty
 * word that stands at the end of the file. */
bool text_lines_next(struct text_lines *lines);
struct text_word text_lines_word(struct text_lines *lines);
/* What is left of the line, without blanks around it. */
struct text_word text_lines_rest(struct text_lines *lines);

/* A word that is not from a file, such as an argument; line and column are 0. */
struct text_word text_word(const char *text);
bool text_word_is(struct text_word word, const char *text);

/* These take something off the front of a word and leave the rest of it; without success the word
 * stays as it was. Numbers too large for the type become its maximum, so a check of the range finds
 * them. */
bool text_take(struct text_word *word, const char *literal);
/* In units of the last decimal: with one decimal allowed, "8" and "8.0" are 80. */
bool text_take_number(struct text_word *word, unsigned decimals, uint32_t *ret);
bool text_take_range(struct text_word *word, unsigned decimals, uint32_t *ret_low,
                     uint32_t *ret_high);
bool text_take_time(struct text_word *word, uint32_t *ret_ms);

/* "expected EXPECTED, found 'WORD'", the word cut short and made printable, or "… found the end of
 * the line" for an empty one. */
void text_fault_word(struct text_fault *ret, struct text_word word, const char *expected);
/* "expected EXPECTED, found FOUND" at the place of the word. */
void text_fault_at(struct text_fault *ret, struct text_word word, const char *expected,
                   const char *found);

#endif
