/*
 * Octets written the way people write them, for tests: "02 05 02".
 */
#ifndef TESTS_SUPPORT_OCTETS_H
#define TESTS_SUPPORT_OCTETS_H

#include <stddef.h>
#include <stdint.h>

#include "wire/usb_frame.h"

/* Fails the running test on anything but pairs of hexadecimal digits, spaces between or not. */
size_t octets_from_text(const char *text, uint8_t *ret, size_t capacity);

/* A message of an ANT receiver, written without sync, length and sum, as the octets that travel;
 * their number. `ret` holds USB_FRAME_MAX. */
size_t octets_of_frame(const char *text, uint8_t *ret);

/* Fails the running test, showing both, when the octets are not those of the text. */
void assert_octets(const uint8_t *octets, size_t length, const char *text);

#endif
