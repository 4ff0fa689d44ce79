/*
 * The lines that afterset ready prints, one a thing, and what they leave for the exit status.
 */
#ifndef APP_READY_LINES_H
#define APP_READY_LINES_H

#include <stdbool.h>

/* STATE_TO_DO: one can ride without it. STATE_MISSING: not the ride that is set up. */
enum ready_state { STATE_OK, STATE_TO_DO, STATE_MISSING };

/* Zeroed: for a person, and nothing is missing yet. */
struct ready_lines {
    bool jsonl;
    bool failed; /* something is missing */
};

void ready_tell(struct ready_lines *lines, enum ready_state state, const char *thing,
                const char *format, ...) __attribute__((format(printf, 4, 5)));

#endif
