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
/* The last character; false when there is none. */
bool typing_take_back(char *text);
/* The end of the text, as much of it as has room: where the hand is. */
const char *typing_tail(const char *text, int columns);

#endif
