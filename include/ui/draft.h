/*
 * A profile that is being made: the document, what keys do to it, and its whole history.
 *
 * The document is the file as it was read, which stays as it is, and the profile beside it, which
 * is edited: text/profile.h writes the one over the other, so that comments stay. After every edit
 * the text that would be saved is written and read again; what the reader says of it is shown where
 * it belongs. What cannot be read yet can still be saved.
 *
 * No I/O and no clock. The history takes memory as it grows; where there is none an edit is
 * refused.
 */
#ifndef UI_DRAFT_H
#define UI_DRAFT_H

#include "text/profile.h"
#include "text/profile_field.h"
#include "ui/press.h"
#include "ui/rehearsal.h"

#define DRAFT_TYPED_MAX 120u

/* Rows: the title, the length, then the items. */
enum { DRAFT_ROW_TITLE, DRAFT_ROW_LENGTH, DRAFT_ROW_ITEMS };

enum draft_mode {
    DRAFT_WALKS, /* keys are commands */
    DRAFT_TYPES, /* keys go into the field under the hand */
    DRAFT_ADDS,  /* the next key says what */
    DRAFT_NAMES, /* keys go into the name of the file */
    DRAFT_LEAVES /* asked whether to leave what is not saved */
};

enum draft_act {
    DRAFT_NOTHING,
    DRAFT_SHOW,   /* something else is shown */
    DRAFT_EDITED, /* and the profile is another: rehearse it */
    DRAFT_SAVE,   /* under `wanted`; draft_saved() or draft_tell() says how it went */
    DRAFT_LEAVE
};

struct draft_history;

/* About 170 kB. Zero it, then draft_begin(). */
struct draft {
    const char *base; /* the file as it was read; borrowed */
    size_t base_length;
    struct profile profile;
    struct draft_history *history;
    /* the hand */
    enum draft_mode mode;
    size_t row;
    enum profile_field field; /* of a step */
    char typed[DRAFT_TYPED_MAX + 1];
    char message[160]; /* until the next key */
    /* what it comes to */
    char text[PROFILE_FILE_MAX + 1]; /* as it would be saved */
    size_t text_length;
    uint64_t saved_as; /* sign of the text that is on disk */
    bool is_new;       /* nothing of it is on disk yet */
    bool has_fault;
    struct text_fault fault;
    size_t fault_row;
    char name[DRAFT_TYPED_MAX + 1];    /* of the file; empty: has none yet */
    char wanted[DRAFT_TYPED_MAX + 1];  /* under which it is to be saved */
    const struct rehearsal *rehearsal; /* borrowed; NULL: there is nothing to rehearse yet */
};

/* `profile` is what profile_read() made of `base`; NULL for a new one, without a base. False: no
 * memory. */
MUST_USE bool draft_begin(struct draft *draft, const char *base, size_t base_length,
                          const struct profile *profile, const char *name);
void draft_end(struct draft *draft);

enum draft_act draft_press(struct draft *draft, struct press press);
/* The text is on disk now, under the wanted name; or it is not, as when the base was mended. */
void draft_saved(struct draft *draft);
void draft_unsaved(struct draft *draft);
/* Until the next key. A name that was not good is asked for again. */
void draft_tell(struct draft *draft, const char *message, bool asks_for_name);

bool draft_is_changed(const struct draft *draft); /* since it was read or saved */
size_t draft_rows(const struct draft *draft);
/* NULL: the row is the title or the length. */
const struct profile_item *draft_item(const struct draft *draft, size_t row);

#define DRAFT_COLUMNS_MIN 80
#define DRAFT_ROWS_MIN    24
/* On a smaller canvas one line that says so. */
void draft_draw(const struct draft *draft, struct canvas *canvas);

#endif
