/*
 * A block of five minutes, as the benches ride it on the stage that rehearsals have.
 */
#ifndef BENCH_BLOCK_H
#define BENCH_BLOCK_H

#include "ride/ride.h"

#define BLOCK_EVENTS_MAX 16384u

struct block {
    struct event *events; /* BLOCK_EVENTS_MAX of them, kept here */
    size_t event_count, reading_count;
    uint64_t ride_ms; /* of the ride's time, from the link to the end */
    size_t journal_length;
};

void block_setup(struct ride_setup *ret); /* 0:30, 20/10 x 8, 0:30 */
/* With ten readings a second and a journal. Ends the program when it was not ridden to its end. */
void block_ride(struct block *block);

#endif
