/*
 * How hard and how long a block is to be: what is proposed, and what the rider says instead.
 */
#ifndef APP_LOAD_CHOICE_H
#define APP_LOAD_CHOICE_H

#include "next_time.h"
#include "ride_options.h"

/* What the profile asks for as it is written, of this rider; value 0: nothing, or it makes no plan.
 */
struct asked load_choice_written(const struct profile *profile, const struct rider *rider,
                                 bool is_virtual);

/* Where --load was given: `options->wish` gets the load, and for --load next the length as well.
 * `about`, whose id, title, bike and kind say for which ride, gets what was proposed where the
 * rider chose otherwise. `store` may be NULL. Complains where there is nothing to follow. */
void load_choice_settle(struct store *store, const struct profile *profile,
                        const struct rider *rider, bool is_virtual, struct ride_options *options,
                        struct store_ride *about);

#endif
