/*
 * From which numbers the reserve of a ride is reckoned.
 */
#ifndef APP_RESERVE_SOURCE_H
#define APP_RESERVE_SOURCE_H

#include "port/store.h"
#include "ride/reserve_run.h"

/* The rider's own settings where both are known (on the virtual bike they always are, see
 * ride_plan.h), else his best efforts of this kind where they tell W' well enough. Gives words for
 * which, or NULL where too little is known. `store` may be NULL; `is_said`: the settings had both
 * before anything was assumed. */
const char *reserve_source_find(struct store *store, const struct ride_setup *setup, bool is_said,
                                bool is_fresh, struct reserve_run *ret);

#endif
