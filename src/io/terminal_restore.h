/*
 * Gives the terminal back when the program dies of a fault of its own.
 */
#ifndef IO_TERMINAL_RESTORE_H
#define IO_TERMINAL_RESTORE_H

#include <stddef.h>
#include <termios.h>

#define RESTORE_OCTETS_MAX 256u

/* From now on a crash writes the octets (copied; what is too long is left out) and sets the mode of
 * the terminal behind standard input before it goes on. Once at a time. */
void restore_on_crash(const char *octets, size_t length, const struct termios *mode);
void restore_no_more(void);

#endif
