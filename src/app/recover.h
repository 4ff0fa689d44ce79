/*
 * Rides that were broken off: the program was killed, or the computer went down.
 */
#ifndef APP_RECOVER_H
#define APP_RECOVER_H

#include "port/store.h"

/* Ends every unfinished ride with what its journal says, marked as recovered, and says so on
 * stderr. The caller holds the store's lock, so none of them is under way. */
void recover_rides(struct store *store);

#endif
