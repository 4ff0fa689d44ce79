/*
 * The parts of the plain screen: its sentences go through plain_say(), which breaks them.
 */
#ifndef UI_PLAIN_SAY_H
#define UI_PLAIN_SAY_H

#include "port/screen.h"

__attribute__((format(printf, 2, 3))) void plain_say(const struct screen *screen,
                                                     const char *format, ...);

struct clock_text {
    char text[16];
};
struct clock_text plain_clock(uint32_t ms);

/* How the mark stands; there is one. */
void plain_mark(const struct screen *screen, const struct ride *ride, bool has_ended);
void plain_summary(const struct screen *screen, const struct ride *ride,
                   const struct summary *summary);

#endif
