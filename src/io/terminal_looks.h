/*
 * What each style looks like on this terminal.
 */
#ifndef IO_TERMINAL_LOOKS_H
#define IO_TERMINAL_LOOKS_H

#include <curses.h>

#include "ui/canvas.h"

/* After newterm(3). In colour where there is any and NO_COLOR is not set (no-color.org). */
void set_looks(attr_t attributes[STYLE_COUNT]);

#endif
