/*
 * The brake of a bike that takes levels, or is turned by hand, from ride to ride.
 */
#ifndef APP_BRAKE_H
#define APP_BRAKE_H

#include "port/store.h"
#include "ride/ride.h"

/* What earlier rides on this bike learned of its brake, and where they left it; unchanged without
 * any, or without a store.
 */
void brake_recall(struct store *store, const char *bike, struct ride_setup *setup);
/* After a ride. Nothing is kept of a bike whose levels were not used, or told. */
void brake_keep(struct store *store, const char *bike, const struct ride *ride);

/* What one step more of the brake, a level or a number of its knob, would add to the legs' power_w,
 * watts; 0: it goes by watts, has no such steps, or its curve is not known well enough. */
uint32_t brake_step_w(const struct ride *ride, uint32_t power_w);

#endif
