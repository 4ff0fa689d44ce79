/*
 * The clock of the steps: on the floor and on the bike, with what ends a step before its time.
 */
#ifndef RIDE_RIDE_CLOCK_H
#define RIDE_RIDE_CLOCK_H

#include "ride/ride.h"

/* To `t_ms`; a jump is no time that was ridden. */
void ride_clock_move(struct ride *ride, uint64_t t_ms, struct effects *effects);
/* Once the event is taken: a step that has come to what ends it ends. */
void ride_clock_watch(struct ride *ride, struct effects *effects);

#endif
