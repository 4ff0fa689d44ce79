/*
 * A plan rehearsed: the controller with its real step function, on the virtual bike, with a rider
 * made of what is known of the real one.
 *
 * The virtual bike has no noise, and its brake is made strong enough for every load, so that the
 * figures are those of the rider and the plan alone and stay the same. Where the rider's machine is
 * not told watts it is one of that kind, as strong as it is, and known from a ride before.
 */
#ifndef APP_REHEARSE_H
#define APP_REHEARSE_H

#include "io/virtual_machine.h"
#include "ride/fit.h"
#include "ride/ride.h"
#include "ui/rehearsal.h"

/* Fills in what a rehearsal cannot do without: what a ride on that bike assumes, and W' after its
 * critical power. `is_virtual`: no bike is remembered, so that is the one which would be ridden. */
void rehearse_complete(struct rider *rider, bool is_virtual);

/* Who rides it: critical power and W' are the rider's, the best power of a moment in proportion to
 * critical power as the built-in rider has it, the highest heart rate the one that the limits go
 * by. `rider` is complete. */
struct virtual_rider_config rehearse_rider(const struct rider *rider);

/* `plan` is borrowed by `ret`; `rider` is complete. `machine` NULL: one that holds whatever watts
 * may be asked. RESULT_RANGE: longer than REHEARSAL_SECONDS_MAX. RESULT_FULL: no memory.
 * RESULT_INVALID: a machine that cannot be served. */
MUST_USE enum result rehearse(const struct plan *plan, const struct rider *rider,
                              const struct virtual_machine_config *machine, struct rehearsal *ret);

/* There is nothing to rehearse in them, and no reading. */
void rehearse_leave_out_the_floor(struct plan *plan);

/* What a profile becomes for this rider, who is complete, today, without the floor.
 * Errors: those of profile_fit() and profile_plan(). */
MUST_USE enum result rehearse_plan(const struct profile *profile, const struct fit_wish *wish,
                                   const struct rider *rider, struct fit *ret_fit,
                                   struct plan *ret_plan);

#endif
