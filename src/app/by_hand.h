/*
 * A block written down by hand as a ride of the store.
 */
#ifndef APP_BY_HAND_H
#define APP_BY_HAND_H

#include "port/store.h"
#include "text/hand.h"

/* The block is finished; its date is of the rider's time zone. False: it is later than tomorrow, or
 * no time at all. Calories that were not written down are worked out of the work. */
bool by_hand_ride(const struct hand_block *block, int64_t now_unix_s, struct store_ride *ret);

#endif
