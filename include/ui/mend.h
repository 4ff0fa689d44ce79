/*
 * A file that is no profile yet: its lines as they are, and the fault where it is, until the reader
 * takes it.
 *
 * Pure: no I/O, no clock.
 */
#ifndef UI_MEND_H
#define UI_MEND_H

#include "text/profile.h"
#include "ui/canvas.h"
#include "ui/press.h"

#define MEND_LINE_MAX 200u /* octets that can be typed */

/* About 100 kB. Zero it, then mend_begin(). */
struct mend {
    const char *name; /* of the file; borrowed, as is what was read */
    const char *original;
    size_t original_length;
    char text[PROFILE_FILE_MAX + 1];
    size_t length;
    struct text_fault fault;
    struct profile profile; /* once the text is one */
    bool is_sound;
    uint32_t line; /* under the hand: that of the fault, but for one that is being added */
    bool is_typing;
    char typed[MEND_LINE_MAX + 1];
};

enum mend_act { MEND_NOTHING, MEND_SHOW, MEND_LEAVE };

/* At most PROFILE_FILE_MAX octets. */
void mend_begin(struct mend *mend, const char *name, const char *text, size_t length);
/* Look at is_sound afterwards. */
enum mend_act mend_press(struct mend *mend, struct press press);
void mend_draw(const struct mend *mend, struct canvas *canvas);

#endif
