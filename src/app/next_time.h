/*
 * What to ask next time, out of the store.
 */
#ifndef APP_NEXT_TIME_H
#define APP_NEXT_TIME_H

#include "body/rider.h"
#include "port/store.h"

/* One sentence without a full stop on what to ask after ride `now` and the comparable one before
 * it. Empty where there is nothing to say: `now` is under way, or its journal cannot be read. */
void next_time(struct store *store, const struct store_ride *now, const struct rider *rider,
               char *ret, size_t size);

#endif
