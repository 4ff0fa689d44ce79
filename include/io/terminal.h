/*
 * The terminal of the standard streams as a screen: shows a canvas, tells of keys.
 *
 * Nothing here waits for the terminal: what is drawn goes through an output (io/output.h), and
 * while that is behind, frames are left out, not queued. The terminal is given back as it was at
 * the close, and when the program dies of SIGSEGV, SIGBUS, SIGILL, SIGFPE or SIGABRT.
 *
 * One at a time in a process, since ncurses and signal handlers have room for one.
 */
#ifndef IO_TERMINAL_H
#define IO_TERMINAL_H

#include <stdbool.h>
#include <stdint.h>

#include "base/result.h"
#include "io/loop.h"
#include "io/output.h"
#include "ui/canvas.h"

enum terminal_key {
    TERMINAL_CHARACTER, /* printable, space included */
    TERMINAL_ENTER,
    TERMINAL_BACKSPACE,
    TERMINAL_DELETE,
    TERMINAL_ESCAPE,
    TERMINAL_TAB,
    TERMINAL_UP,
    TERMINAL_DOWN,
    TERMINAL_LEFT,
    TERMINAL_RIGHT,
    TERMINAL_HOME,
    TERMINAL_END,
    TERMINAL_OTHER /* anything else that was pressed */
};

struct terminal_press {
    enum terminal_key key;
    uint32_t character; /* Unicode, with TERMINAL_CHARACTER; else 0 */
};

/* Any may be NULL. Called out of the loop; they may show and close. */
struct terminal_listener {
    void (*pressed)(void *user, struct terminal_press press);
    /* Show again: the size is another, or a frame was left out and there is room now. */
    void (*redraw)(void *user);
    /* The terminal is gone, and with it whoever sat there. Once. */
    void (*gone)(void *user);
    void *user;
};

struct terminal;

/* Takes the terminal over. `output` is borrowed, goes to the same terminal and outlives it; nobody
 * else puts anything into it meanwhile. setlocale(LC_CTYPE, "") comes before.
 * RESULT_UNSUPPORTED: not a terminal, in the background, or of a kind that cannot be drawn on.
 * RESULT_FULL: no memory or no place in the loop. */
MUST_USE enum result terminal_open(struct loop *loop, struct output *output,
                                   const struct terminal_listener *listener, struct terminal **ret);

/* A canvas of the terminal's size and kind of characters, cleared; valid until the close. */
struct canvas *terminal_canvas(struct terminal *terminal);
/* Shows that canvas as it is now. False when it was left out, since the reader is behind: `redraw`
 * is called when there is room. */
bool terminal_show(struct terminal *terminal);
/* Upon SIGWINCH, and upon SIGCONT, after which a shell may have had it. Draws all of it again. */
void terminal_resized(struct terminal *terminal);
/* What to write to the terminal, besides setting its mode, when this process cannot any more; valid
 * until the close. */
const char *terminal_restore_text(const struct terminal *terminal);
/* Gives it back; what is then put into the output stands below what was there before. */
void terminal_close(struct terminal *terminal);

#endif
