/*
 * A block of five minutes on the stage that `afterset rehearse` uses, with its journal written.
 */
#ifndef BENCH_REHEARSAL_H
#define BENCH_REHEARSAL_H

#include "app/stage.h"

#define REHEARSAL_EVENTS_MAX 16384u

struct rehearsal {
    bool is_timed;          /* set: costs a look at the clock at each change of hands */
    struct event *events;   /* set, or NULL: REHEARSAL_EVENTS_MAX of them, kept here */
    uint32_t data_every_ms; /* set, or 0: 100 */
    uint64_t seed;          /* set, or 0: 1 */
    bool keeps_journal;     /* set: then `journal` has it, to be freed */
    size_t event_count, reading_count;
    uint64_t ride_ms; /* of the ride's time, from the link to the end */
    char *journal;
    size_t journal_length;
    struct summary summary;
    uint64_t share_ns[STAGE_HAND_COUNT]; /* STAGE_WATCH: the journal's */
};

void rehearsal_setup(struct ride_setup *ret); /* 0:30, 20/10 x 8, 0:30 */
/* Ends the program when the block was not ridden to its end. */
void rehearsal_run(struct rehearsal *rehearsal);

#endif
