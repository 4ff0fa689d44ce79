/*
 * What counts as a character in our files: well-formed UTF-8 (RFC 3629) that is no control.
 */
#ifndef TEXT_UTF8_H
#define TEXT_UTF8_H

#include <stddef.h>

/* How many octets the first character has, 1 to 4. 0 when there is none: nothing left, a broken or
 * overlong sequence, a surrogate, or a control other than the tab (U+0000-001F, U+007F-009F). */
size_t utf8_character(const char *text, size_t length);

#endif
