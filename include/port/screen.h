/*
 * What shows a ride, and where its text goes.
 */
#ifndef PORT_SCREEN_H
#define PORT_SCREEN_H

#include <stddef.h>

#include "ride/mark.h"
#include "ride/reserve_run.h"

#define ASIDE_EVERY_S 10u /* how often lines tell of mark and reserve */

/* Takes text and never blocks. */
struct sink {
    void (*put)(void *user, const char *text, size_t length);
    void *user;
    /* How many columns what shows it has now; 0, or no function: that is not known. */
    unsigned (*columns)(void *user);
};

/* What is known of a ride besides its state. Borrowed strings. */
struct ride_facts {
    int64_t ride_id; /* 0: not recorded */
    const char *version;
    const char *bike; /* as the rider named it, and those below, which may be NULL */
    const char *strap, *power, *cadence;
    const char *fit;         /* what was done to the profile; NULL: nothing was asked for */
    const struct mark *mark; /* runs beside the ride; NULL: none */
    const struct reserve_run *reserve; /* NULL: too little is known */
    const char *reserve_from;          /* whose numbers it goes by */
};

/* What the rider's hands did to the screen and not to the ride. */
struct screen_hands {
    uint64_t woken_t_ms; /* cautions given before this time of the ride are put away */
    bool saw_cut_off;    /* acknowledged it */
    bool asks_to_skip;   /* the skip key was pressed once and waits for the second time */
    bool is_muted;
};

struct screen;

struct screen_operations {
    void (*hello)(struct screen *screen, const struct ride *ride, const struct ride_facts *facts);
    void (*effect)(struct screen *screen, const struct ride *ride, const struct effect *effect);
    /* Once a second of the ride's time. */
    void (*second)(struct screen *screen, const struct ride *ride);
    /* After every tick, and when a key was pressed. */
    void (*moment)(struct screen *screen, const struct ride *ride,
                   const struct screen_hands *hands);
};

struct screen {
    const struct screen_operations *operations;
    struct sink sink;
    const struct ride_facts *facts; /* set by hello */
    bool silence_is_told;           /* of a bike that is ready */
    bool mark_is_beaten;            /* and the rider was told */
    bool difference_is_told;        /* of the power sensor from the bike */
    int32_t level_told_tenths;      /* the one set at the bike that was told last; 0: none */
    struct screen_hands hands;      /* as they were told last */
    void *user;                     /* of those that need more than this */
};

#endif
