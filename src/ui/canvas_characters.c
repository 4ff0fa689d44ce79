#include "canvas_characters.h"

#include <stddef.h>

/* Scripts written from left to right, one column a character, in which no character joins the one
 * before it; punctuation, arrows, mathematics, boxes and blocks. After the Unicode charts and
 * Unicode Standard Annex 11, East Asian Width. Nothing else is known to stand still. */
static const struct {
    uint32_t first, last;
    int width;
} known[] = {
    {0x0020, 0x007E, 1},                      /* Latin */
    {0x00A0, 0x00AC, 1}, {0x00AE, 0x02FF, 1}, /* not the soft hyphen before it */
    {0x0391, 0x03A1, 1},                      /* Greek */
    {0x03A3, 0x0482, 1},                      /* and Cyrillic */
    {0x048A, 0x052F, 1}, {0x1E00, 0x1EFF, 1}, /* Latin, further */
    {0x2010, 0x2027, 1},                      /* punctuation */
    {0x2030, 0x205E, 1}, {0x2070, 0x2071, 1}, /* superscripts */
    {0x2074, 0x208E, 1}, {0x20A0, 0x20BF, 1}, /* currencies */
    {0x2100, 0x218B, 1},                      /* letter-like, fractions */
    {0x2190, 0x2319, 1},                      /* arrows, mathematics */
    {0x2500, 0x25FC, 1},                      /* boxes, blocks, shapes */
    {0x2800, 0x28FF, 1},                      /* braille */
    {0x3041, 0x3096, 2},                      /* Hiragana */
    {0x30A0, 0x30FF, 2},                      /* Katakana */
    {0x3400, 0x4DBF, 2},                      /* Han */
    {0x4E00, 0x9FFF, 2}, {0xAC00, 0xD7A3, 2}, /* Hangul */
    {0xFF01, 0xFF60, 2},                      /* full-width forms */
};

int character_width(uint32_t character)
{
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (character >= known[i].first && character <= known[i].last)
            return known[i].width;
    return 0;
}

static const struct {
    uint32_t drawn;
    char ascii;
} stand_ins[] = {
    {0x2588, '#'},                                               /* full block */
    {0x2593, '#'},                                               /* dark, medium, light shade */
    {0x2592, '+'},  {0x2591, '.'}, {0x2584, '_'},                /* lower half block */
    {0x2500, '-'},                                               /* lines, light and heavy */
    {0x2501, '='},  {0x2502, '|'}, {0x2503, '|'}, {0x25B2, '^'}, /* triangles */
    {0x25BC, 'v'},  {0x25C0, '<'}, {0x25B6, '>'}, {0x2013, '-'}, /* dash */
    {0x2019, '\''}, {0x00D7, 'x'}, {0x2026, '.'},                /* an ellipsis at the end */
};

uint32_t character_in_ascii(uint32_t character)
{
    if (character < 0x80)
        return character;
    for (size_t i = 0; i < sizeof stand_ins / sizeof stand_ins[0]; i++)
        if (stand_ins[i].drawn == character)
            return (uint32_t)stand_ins[i].ascii;
    return character >= 0x2800 && character <= 0x28FF ? '*' : '?'; /* dots of a drawing */
}

size_t character_encode(uint32_t character, char ret[4])
{
    if (character < 0x80) {
        ret[0] = (char)character;
        return 1;
    }
    const size_t length = character < 0x800 ? 2 : character < 0x10000 ? 3 : 4;
    for (size_t i = length - 1; i > 0; i--) {
        ret[i] = (char)(0x80u | (character & 0x3Fu));
        character >>= 6;
    }
    ret[0] = (char)((0xF00u >> length & 0xFFu) | character);
    return length;
}
