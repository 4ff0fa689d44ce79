/*
 * A ride with somebody who listens, and a machine and a rider who do as they are told: the real
 * step function and its cues, millisecond by millisecond.
 */
#ifndef SUPPORT_EARS_H
#define SUPPORT_EARS_H

#include "ride/cues.h"

#define HEARD_MAX 2048u

struct ears {
    struct ride ride;
    struct cues cues;
    uint64_t t_ms, next_ms;
    int32_t off_w;     /* how far power is off the middle of the step */
    bool is_powerless; /* 0 W are told, whatever the legs do */
    bool is_stuck;     /* nothing comes at all: the program has no processor */
    size_t count;
    struct heard {
        enum cue cue;
        uint64_t t_ms;
    } heard[HEARD_MAX];
};

/* On a machine that takes power, without a strap, up to the count-in. */
void ears_begin(struct ears *ears, const struct plan *plan);
/* On one that takes nothing: the hand is at once where off_w says. */
void ears_begin_by_hand(struct ears *ears, const struct plan *plan);
/* An event at the time it is; the machine answers what it causes. */
void ears_take(struct ears *ears, struct event event);
void ears_tell(struct ears *ears, enum event_kind kind);
void ears_press(struct ears *ears, enum ride_key key);
/* Readings and ticks four times a second, a tick at each edge, the cues when they asked for it. */
void ears_pass(struct ears *ears, uint64_t ms);

#endif
