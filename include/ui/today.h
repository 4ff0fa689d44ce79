/*
 * What to ride today: what is chosen, the keys that choose, how it is shown.
 *
 * Pure: no I/O, no clock.
 */
#ifndef UI_TODAY_H
#define UI_TODAY_H

#include "base/text.h"
#include "ride/fit.h"
#include "ui/canvas.h"
#include "ui/press.h"
#include "ui/verdict.h"

/* A profile to choose from. */
struct today_profile {
    const char *path; /* borrowed */
    char title[PLAN_TITLE_MAX + 1];
    uint32_t length_ms; /* as written */
    bool bends;         /* then the span counts */
    struct fit_span span;
};

/* Zeroed: nothing is known, nothing chosen. Texts are borrowed. */
struct today {
    const struct today_profile *profiles; /* one at least, to be shown */
    size_t profile_count;
    /* Which, and whether they are in reach. Sensors are not told of where none is kept. */
    const char *bike, *strap, *power, *cadence;
    const char *last;       /* the last comparable block; NULL or empty: none */
    bool is_first;          /* a first block, whatever is chosen: see ride/fit.h */
    uint32_t written;       /* mean target of its work as it is written; 0: not known */
    enum verdict_unit unit; /* of that */
    /* What is proposed after the last block; `next` NULL or empty: nothing. */
    const char *next; /* in a sentence */
    int32_t proposed_pct;
    uint32_t proposed_length_ms; /* 0: not known */
    /* chosen */
    size_t profile;
    uint32_t length_ms; /* wanted; 0: as the profile is written */
    uint32_t feel;      /* 0: not said */
    int32_t load_pct;   /* of the targets as written */
    bool is_fresh;
};

enum today_act {
    TODAY_NOTHING,
    TODAY_DRAW,    /* something else is shown */
    TODAY_LOOK_UP, /* so is it, and what was before is that of another profile or kind */
    TODAY_RIDE,
    TODAY_LEAVE
};

enum today_act today_press(struct today *today, struct press press);

/* Chooses what is proposed; nothing, where nothing is. */
void today_follow(struct today *today);
bool today_has_proposal(const struct today *today);

/* How long the chosen profile will be: as close to what is wanted as it comes. */
uint32_t today_length_ms(const struct today *today);

#define TODAY_COLUMNS_MIN 64
#define TODAY_ROWS_MIN    20
/* On a smaller canvas one line that says so, and that the keys work all the same. */
void today_draw(const struct today *today, struct canvas *canvas);
/* The same as lines of text. */
void today_put(const struct today *today, struct text_writer *writer);

/* Of feel 1 to 5: "bad", "poor", "as usual", "good", "very good"; else "not said". */
const char *today_feel_text(uint32_t feel);

#endif
