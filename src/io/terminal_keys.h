/*
 * What ncurses reads, as a press of a key.
 */
#ifndef IO_TERMINAL_KEYS_H
#define IO_TERMINAL_KEYS_H

#include <wchar.h>

#include "io/terminal.h"

/* `code` as wget_wch(3) gives it. */
struct terminal_press press_of(bool is_function_key, wint_t code);

#endif
