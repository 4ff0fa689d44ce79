/*
 * A text that grows and shrinks by the character, as it is typed.
 */
#ifndef UI_TYPING_H
#define UI_TYPING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* As UTF-8. False: it would have more than `octets_max` octets; `text` has room for one more. */
bool typing_add(char *text, size_t octets_max, uint32_t character);
/* An octet that is not the first of its character. */
bool typing_goes_on(char octet);
/* The last character; false when there is none. */
bool typing_take_back(char *text);

#endif
