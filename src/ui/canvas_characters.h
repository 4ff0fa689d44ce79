/*
 * Which characters stand still in a cell, how wide they are, and what stands for them in ASCII.
 */
#ifndef UI_CANVAS_CHARACTERS_H
#define UI_CANVAS_CHARACTERS_H

#include <stddef.h>
#include <stdint.h>

/* 1 or 2 columns; 0: not one that may be shown. */
int character_width(uint32_t character);
/* '?' for what has none. */
uint32_t character_in_ascii(uint32_t character);
/* As UTF-8; gives the octets. */
size_t character_encode(uint32_t character, char ret[4]);

#endif
