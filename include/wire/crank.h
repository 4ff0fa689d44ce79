/*
 * Cadence from the two counters that power and cadence sensors send: whole turns of the crank, and
 * the time of the last one in 1/1024 s. Both wrap at 16 bits (the time every 64 s).
 *
 * Source of the counters: Cycling Power Service 1.1 and Cycling Speed and Cadence Service 1.0,
 * crank revolution data. What is made of a crank that stands still, of repeats and of jumps is left
 * to the receiver by both, and here common practice.
 */
#ifndef WIRE_CRANK_H
#define WIRE_CRANK_H

#include <stdbool.h>
#include <stdint.h>

#define CRANK_STILL_MS 3000u /* without a turn: 20 turns a minute cannot be told from none */
#define CRANK_RPM_MAX  250   /* what no rider turns: the counters were reset, or are garbage */

/* As it travels. */
struct crank_count {
    uint16_t turns;
    uint16_t t_1024; /* of the last whole turn, 1/1024 s */
};

/* Of one sensor on one link; zero it for each. */
struct crank {
    bool has_base, has_rpm;
    struct crank_count base; /* the last turn that was heard of */
    uint64_t base_t_ms;      /* when that was */
    int32_t rpm;             /* up to it */
};

/* Takes what a frame said. Whether the cadence is known, and then what it is at this moment: one
 * that falls while no turn comes, 0 once none came for CRANK_STILL_MS. One frame alone says
 * nothing. Times never go back. */
bool crank_take(struct crank *crank, uint64_t t_ms, struct crank_count count, int32_t *ret_rpm);

#endif
