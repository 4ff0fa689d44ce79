/*
 * The best mean power over 5, 30, 60 and 180 s.
 *
 * Windows begin and end on whole seconds after the first sample, and none reaches across a gap in
 * the samples, nor across a hold: seconds that did not follow one another are no best power,
 * however little the legs rested between them. Between samples power is taken as a straight line,
 * as in body/energy.
 */
#ifndef BODY_BEST_H
#define BODY_BEST_H

#include <stdbool.h>
#include <stdint.h>

enum best_window { BEST_5_S, BEST_30_S, BEST_60_S, BEST_180_S, BEST_WINDOW_COUNT };

#define BEST_LONGEST_S 180u

/* Zeroed: nothing seen yet. */
struct best_powers {
    bool begun;
    uint64_t t_ms; /* of the last sample, and its power */
    int32_t power_w;
    int64_t half_mj;     /* from the start of this stretch without a gap to the last sample */
    uint64_t stretch_ms; /* likewise, the time */
    int64_t half_mj_at[BEST_LONGEST_S + 1]; /* after second n of the stretch: a ring */
    bool known[BEST_WINDOW_COUNT];
    int64_t best_half_mj[BEST_WINDOW_COUNT];
};

/* As work_add() in body/energy. */
void best_add(struct best_powers *best, uint64_t t_ms, int32_t power_w, uint32_t gap_limit_ms);
/* To the nearest watt. False: there was no stretch as long as the window. */
bool best_power_w(const struct best_powers *best, enum best_window window, int32_t *ret);

#endif
