#include "text/utf8.h"

#include <stdbool.h>
#include <stdint.h>

/* RFC 3629, section 4: the octets that may come second depend on the first. */
struct lead {
    uint8_t first, last; /* the range of the first octet */
    uint8_t second_low, second_high;
    uint8_t octets;
};

static const struct lead leads[] = {
    {0xC2, 0xC2, 0xA0, 0xBF, 2},                              /* U+0080-009F are controls */
    {0xC3, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3}, /* below: overlong */
    {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3}, /* above: surrogates */
    {0xEE, 0xEF, 0x80, 0xBF, 3}, {0xF0, 0xF0, 0x90, 0xBF, 4}, /* below: overlong */
    {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4}, /* above: past U+10FFFF */
};

static bool is_sequence(const struct lead *lead, const uint8_t *octets, size_t length)
{
    if (length < lead->octets || octets[1] < lead->second_low || octets[1] > lead->second_high)
        return false;
    for (size_t i = 2; i < lead->octets; i++)
        if (octets[i] < 0x80 || octets[i] > 0xBF)
            return false;
    return true;
}

size_t utf8_character(const char *text, size_t length)
{
    const uint8_t *octets = (const uint8_t *)text;
    if (length == 0)
        return 0;
    if (octets[0] < 0x80)
        return octets[0] == '\t' || (octets[0] >= 0x20 && octets[0] != 0x7F) ? 1 : 0;
    for (size_t i = 0; i < sizeof(leads) / sizeof(leads[0]); i++)
        if (octets[0] >= leads[i].first && octets[0] <= leads[i].last)
            return is_sequence(&leads[i], octets, length) ? leads[i].octets : 0;
    return 0;
}
