/*
 * The plan of a ride, made of a profile for this rider and today.
 */
#ifndef APP_RIDE_PLAN_H
#define APP_RIDE_PLAN_H

#include "ride/ride.h"
#include "ride_options.h"

#define RIDE_FIT_TEXT_SIZE 256u

/* Where it is not known. Low on purpose (common practice): too easy a first block is soon mended.
 */
#define ASSUMED_CRITICAL_POWER_W 120

/* Fits the profile to the options' wish, completes setup->rider (whose is_new counts) where
 * something is not known, and makes setup->plan. `ret_fit`, of RIDE_FIT_TEXT_SIZE octets, says what
 * was fitted; empty: nothing was. Complains and gives false when that cannot be done. */
bool ride_plan_make(const struct ride_options *options, struct profile *profile, bool is_virtual,
                    struct ride_setup *setup, char *ret_fit);

/* What a plan for shares of critical power needs, where the rider has not said it. Without a word.
 */
void ride_plan_complete_rider(struct rider *rider, bool is_virtual);

#endif
