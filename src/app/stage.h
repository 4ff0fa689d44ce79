/*
 * A ride on the virtual bike in no time: the controller and the machine's peer as in any ride, with
 * function calls where the link would be, and a clock that waits for nobody.
 *
 * A brake that is turned by hand is turned as the ride tells, by app/virtual_hand. The same setup,
 * machine, rider and seed give the same ride.
 */
#ifndef APP_STAGE_H
#define APP_STAGE_H

#include "io/virtual_bike.h"
#include "ride/ride.h"

/* Who had the hand until now. */
enum stage_hand { STAGE_BIKE, STAGE_WIRE, STAGE_RIDE, STAGE_WATCH, STAGE_HAND_COUNT };

/* Who looks on, and what he has a hand in. All but `effects` may be NULL. */
struct stage_watch {
    void (*event)(void *user, const struct event *event); /* before the step that it causes */
    /* After it; false ends the ride there. */
    bool (*effects)(void *user, const struct ride *ride, const struct effects *effects);
    /* A key, at a tick; KEY_NONE: none is pressed. */
    enum ride_key (*key)(void *user);
    /* Whether what the bike says arrives. */
    bool (*arrives)(void *user, struct virtual_bike *bike, const uint8_t *pdu, size_t length);
    /* Neither side has more to say; time goes on. */
    void (*settled)(void *user, const struct virtual_bike *bike);
    void (*hand)(void *user, enum stage_hand hand); /* at each change of hands */
    void *user;
};

/* RESULT_FULL: no memory. RESULT_INVALID: a machine that cannot be served. */
MUST_USE enum result stage_ride(const struct ride_setup *setup,
                                const struct virtual_machine_config *machine,
                                const struct virtual_rider_config *rider, uint64_t seed,
                                const struct stage_watch *watch);

#endif
