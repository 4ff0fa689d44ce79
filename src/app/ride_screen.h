/*
 * The ride on the whole terminal, as a screen (port/screen.h).
 */
#ifndef APP_RIDE_SCREEN_H
#define APP_RIDE_SCREEN_H

#include "io/terminal.h"
#include "session.h"

/* Zeroed: not open. */
struct ride_screen {
    struct session *session;
    struct terminal *terminal;
    struct screen plain; /* says the summary, once the terminal is given back */
    uint64_t drawn_ms;   /* by the clock on the wall */
};

/* Makes it the session's screen; keys go to the session. RESULT_UNSUPPORTED: the standard streams
 * are no terminal that can be drawn on; nothing has changed. */
MUST_USE enum result ride_screen_open(struct ride_screen *screen, struct session *session,
                                      struct sink sink);
/* The terminal has another size, or somebody else had it. */
void ride_screen_resized(struct ride_screen *screen);
/* Gives the terminal back, where that has not been done at the end of the ride. */
void ride_screen_close(struct ride_screen *screen);

#endif
