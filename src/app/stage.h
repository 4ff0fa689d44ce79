/*
 * A ride on the virtual bike in no time: the controller and the machine's peer as in any ride, with
 * function calls where the link would be, and a clock that waits for nobody.
 *
 * The same setup, machine, rider and seed give the same ride.
 */
#ifndef APP_STAGE_H
#define APP_STAGE_H

#include "io/virtual_machine.h"
#include "io/virtual_rider.h"
#include "ride/ride.h"

/* `event`, which may be NULL, comes before the step that it causes, `effects` after it; false from
 * that ends the ride there. */
struct stage_watch {
    void (*event)(void *user, const struct event *event);
    bool (*effects)(void *user, const struct ride *ride, const struct effects *effects);
    void *user;
};

/* RESULT_FULL: no memory. RESULT_INVALID: a machine that cannot be served. */
MUST_USE enum result stage_ride(const struct ride_setup *setup,
                                const struct virtual_machine_config *machine,
                                const struct virtual_rider_config *rider, uint64_t seed,
                                const struct stage_watch *watch);

#endif
