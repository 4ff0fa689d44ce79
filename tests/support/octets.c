#include "support/octets.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define TEXT_MAX 4096

size_t octets_from_text(const char *text, uint8_t *ret, size_t capacity)
{
    size_t length = 0;
    while (*text != '\0') {
        if (*text == ' ') {
            text++;
            continue;
        }
        if (!isxdigit((unsigned char)text[0]) || !isxdigit((unsigned char)text[1]))
            fail_msg("no pair of digits: '%s'", text);
        char pair[3] = {text[0], text[1], '\0'};
        assert_true(length < capacity);
        ret[length++] = (uint8_t)strtoul(pair, NULL, 16);
        text += 2;
    }
    return length;
}

void assert_octets(const uint8_t *octets, size_t length, const char *text)
{
    uint8_t wanted[TEXT_MAX / 2];
    char shown[TEXT_MAX] = "";
    size_t wanted_length = octets_from_text(text, wanted, sizeof wanted);
    if (length == wanted_length && (length == 0 || memcmp(octets, wanted, length) == 0))
        return;
    for (size_t i = 0; i < length && 3 * i + 4 < sizeof shown; i++)
        (void)snprintf(shown + 3 * i, 4, "%02X ", octets[i]);
    fail_msg("wanted '%s', got '%s'", text, shown);
}

size_t octets_of_frame(const char *text, uint8_t *ret)
{
    uint8_t message[1 + USB_PAYLOAD_MAX] = {0};
    const size_t length = octets_from_text(text, message, sizeof message);
    struct usb_frame frame = {.message = message[0], .length = (uint8_t)(length - 1)};

    memcpy(frame.payload, message + 1, length - 1);
    return usb_frame_encode(&frame, ret);
}
