#include "typing.h"

#include <string.h>

#include "canvas_characters.h"
#include "ui/canvas.h"

static bool goes_on(char octet)
{
    return ((unsigned char)octet & 0xC0u) == 0x80u;
}

bool typing_add(char *text, size_t octets_max, uint32_t character)
{
    const size_t length = strlen(text);
    char octets[4];
    const size_t count = character_encode(character, octets);

    if (length + count > octets_max)
        return false;
    memcpy(text + length, octets, count);
    text[length + count] = '\0';
    return true;
}

bool typing_take_back(char *text)
{
    size_t length = strlen(text);

    if (length == 0)
        return false;
    do
        length--;
    while (length > 0 && goes_on(text[length]));
    text[length] = '\0';
    return true;
}

const char *typing_tail(const char *text, int columns)
{
    while (canvas_text_width(text) > columns) {
        text++;
        while (goes_on(*text))
            text++;
    }
    return text;
}
