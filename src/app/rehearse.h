/*
 * A plan rehearsed: the controller with its real step function, on the virtual bike, with a rider
 * made of what is known of the real one.
 *
 * The virtual bike's brake is made strong enough for every load and has no noise, so that the
 * figures are those of the rider and the plan alone and stay the same.
 */
#ifndef APP_REHEARSE_H
#define APP_REHEARSE_H

#include "io/virtual_rider.h"
#include "ride/fit.h"
#include "ride/ride.h"
#include "ui/rehearsal.h"

/* Fills in what a rehearsal cannot do without: critical power as for a ride, and W' after it. */
void rehearse_complete(struct rider *rider);

/* Who rides it: critical power and W' are the rider's, the best power of a moment in proportion to
 * critical power as the built-in rider has it, the highest heart rate the one that the limits go
 * by. `rider` is complete. */
struct virtual_rider_config rehearse_rider(const struct rider *rider);

/* `plan` is borrowed by `ret`; `rider` is complete. RESULT_RANGE: longer than
 * REHEARSAL_SECONDS_MAX. RESULT_FULL: no memory. */
MUST_USE enum result rehearse(const struct plan *plan, const struct rider *rider,
                              struct rehearsal *ret);

/* There is nothing to rehearse in them, and no reading. */
void rehearse_leave_out_the_floor(struct plan *plan);

/* What a profile becomes for this rider, today, without the floor. `rider` need not be complete;
 * `ret_rider` is.
 * Errors: those of profile_fit() and profile_plan(). */
MUST_USE enum result rehearse_plan(const struct profile *profile, const struct fit_wish *wish,
                                   const struct rider *rider, struct fit *ret_fit,
                                   struct rider *ret_rider, struct plan *ret_plan);

#endif
