/*
 * What a rehearsal tells of a brake that is not told watts: how often a hand is to turn it, and
 * where a third of a step is over before its power is there.
 *
 * There is where two thirds of the way from the power before have been come: where a knob's numbers
 * lie wide apart a range may never be met, and that is no lack of time.
 */
#ifndef REHEARSE_TURNS_H
#define REHEARSE_TURNS_H

#include "ride/ride.h"
#include "ui/rehearsal.h"

/* Zero it, and set `result`. */
struct turn_watch {
    struct rehearsal_turns *result;
    enum knob_turn standing; /* what was told last */
    uint64_t told_t_ms;
    struct rehearsal_place begun; /* this step */
    int32_t from_w, to_w; /* middles of the steps before, and of this; equal: no way to go */
    bool is_there;
    bool is_slow; /* the legs were told so in this step */
};

void turn_watch_effect(struct turn_watch *turns, const struct ride *ride,
                       const struct effect *effect);
/* The plan is over, or left. */
void turn_watch_end(struct turn_watch *turns, const struct ride *ride);

#endif
