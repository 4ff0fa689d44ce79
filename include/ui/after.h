/*
 * After a ride: what was done, and what the rider says of it. All is saved before it is shown, so
 * it may be left at any time.
 *
 * Pure: no I/O, no clock.
 */
#ifndef UI_AFTER_H
#define UI_AFTER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ride/effect.h"
#include "ui/canvas.h"
#include "ui/press.h"

#define AFTER_NOTE_MAX   240u /* octets of UTF-8 */
#define AFTER_EFFORT_MAX 10

/* Zeroed is valid. Texts are borrowed; NULL or empty: nothing to say. */
struct after {
    struct summary summary;
    int64_t ride_id;             /* 0: not saved, and nothing is asked */
    const char *facts, *verdict; /* against earlier blocks */
    const char *next;            /* what to ask next time */
    const char *trouble;         /* what was said could not be saved */
    /* what the rider says */
    bool has_effort;
    int32_t effort; /* 0 to AFTER_EFFORT_MAX */
    char note[AFTER_NOTE_MAX + 1];
    /* while the note is written */
    bool is_writing;
    char draft[AFTER_NOTE_MAX + 1];
};

enum after_act {
    AFTER_NOTHING,
    AFTER_DRAW,        /* something else is shown */
    AFTER_SAVE_EFFORT, /* so is it, and this is to be saved */
    AFTER_SAVE_NOTE,
    AFTER_LEAVE
};

enum after_act after_press(struct after *after, struct press press);

#define AFTER_COLUMNS_MIN 64
#define AFTER_ROWS_MIN    20
/* On a smaller canvas one line that says so. */
void after_draw(const struct after *after, struct canvas *canvas);

#endif
