/*
 * Text out of a file that anybody may have written.
 */
#ifndef IO_STORE_TEXT_H
#define IO_STORE_TEXT_H

#include <stddef.h>

/* Copies as many whole characters as fit and ends them with a NUL. Octets that are no valid UTF-8
 * (RFC 3629) and control characters become '?', so that the copy is fit for a terminal. */
void store_clean_text(char *ret, size_t size, const unsigned char *text, size_t length);

#endif
