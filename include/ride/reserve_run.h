/*
 * The reserve along a ride: body/reserve, fed with what the machine reads.
 *
 * Held or not: legs recover while the block clock stands. Between two readings power goes straight
 * from one to the other; a gap of more than TOTALS_GAP_MS is left out, as nobody knows what was
 * spent in it. To be looked at: nothing here, and nothing that reads it, touches a load.
 */
#ifndef RIDE_RESERVE_RUN_H
#define RIDE_RESERVE_RUN_H

#include "body/reserve.h"
#include "ride/ride.h"

/* Zeroed: critical power or W' is not known, and there is nothing to show. */
struct reserve_run {
    struct reserve reserve;
    double w_prime_error_pct; /* a standard error; 0: not known */
    bool has_power;           /* the last reading: */
    uint64_t t_ms;
    int32_t power_w;
};

/* Full, before a ride of this plan; its rests set the time constant of the integral model. Both
 * numbers above 0. */
struct reserve_run reserve_run_of(const struct plan *plan, double critical_power_w,
                                  double w_prime_j, double w_prime_error_pct);
bool reserve_run_is_known(const struct reserve_run *run);
/* After every event of the ride. */
void reserve_run_step(struct reserve_run *run, const struct ride *ride);

#endif
