/*
 * What shows a ride, and where its text goes.
 */
#ifndef PORT_SCREEN_H
#define PORT_SCREEN_H

#include <stddef.h>

#include "ride/mark.h"
#include "ride/ride.h"

#define MARK_EVERY_S 10u /* how often lines tell of the mark */

/* Takes text and never blocks. */
struct sink {
    void (*put)(void *user, const char *text, size_t length);
    void *user;
};

/* What is known of a ride besides its state. Borrowed strings. */
struct ride_facts {
    int64_t ride_id; /* 0: not recorded */
    const char *version;
    const char *bike, *strap; /* as the rider named them; strap may be NULL */
    const char *fit;          /* what was done to the profile; NULL: nothing was asked for */
    const struct mark *mark;  /* runs beside the ride; NULL: none */
};

struct screen;

struct screen_operations {
    void (*hello)(struct screen *screen, const struct ride *ride, const struct ride_facts *facts);
    void (*effect)(struct screen *screen, const struct ride *ride, const struct effect *effect);
    /* Once a second of the ride's time. */
    void (*second)(struct screen *screen, const struct ride *ride);
};

struct screen {
    const struct screen_operations *operations;
    struct sink sink;
    const struct ride_facts *facts; /* set by hello */
    bool mark_is_beaten;            /* and the rider was told */
};

#endif
