/*
 * Critical power out of the rider's own best efforts, after leg work and fresh each for itself.
 */
#ifndef APP_OWN_POWER_H
#define APP_OWN_POWER_H

#include "body/critical_power.h"
#include "port/store.h"

/* The best work over each of some lengths of time, in the last rides of that kind by the source of
 * power of the newest: efforts by two rulers are on no line. Rides of a virtual bike count only
 * where there are no others. */
#define OWN_POWER_WINDOWS 6u
struct own_power {
    uint32_t rides;
    int32_t best_j[OWN_POWER_WINDOWS];
};

struct own_power own_power_collect(struct store *store, bool is_fresh);
/* RESULT_NEED_MORE: efforts over fewer than three lengths of time. RESULT_RANGE: they fit no
 * critical power, since they were not all that the rider had. Else the work-time form, with errors.
 */
MUST_USE enum result own_power_fit(const struct own_power *efforts, struct critical_power *ret);

/* Lines on stdout for each kind: what the last rides come to, or why nothing. Says nothing when no
 * ride is remembered. */
void print_own_power(void);

#endif
