/*
 * What is legal in a profile and yet unwise.
 */
#ifndef RIDE_UNWISE_H
#define RIDE_UNWISE_H

#include "ride/plan.h"

enum unwise {
    UNWISE_NO_WARM_UP,   /* work with no warm-up before it */
    UNWISE_NO_COOL_DOWN, /* nothing to ride out in */
    UNWISE_FIRST_BLOCKS, /* too long for a new rider, however it is fitted: see ride/fit.h */
    UNWISE_COUNT
};

/* `profile` is sound. `*ret_line` is where in its file, 0 where it is in none. */
bool profile_is_unwise(const struct profile *profile, enum unwise what, uint32_t *ret_line);
/* A clause without a full stop, never NULL. */
const char *unwise_text(enum unwise what);

#endif
