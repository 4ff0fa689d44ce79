/*
 * What is kept of a ride besides its journal, and what comes after it.
 */
#ifndef APP_AFTERWARDS_H
#define APP_AFTERWARDS_H

#include "io/output.h"
#include "port/store.h"
#include "ride/effect.h"
#include "ride_options.h"

/* For recorder_begin(). `store` may be NULL. */
struct store_ride afterwards_about(struct store *store, const struct ride_options *options);

/* What a saved ride is against those before, in lines, and how to rate it. */
void afterwards_say(struct store *store, int64_t id, const struct rider *rider,
                    struct output *output);
/* The page on which the rider says how it was; then the same lines, which go by what was said. */
void afterwards_show(struct store *store, int64_t id, const struct rider *rider,
                     const struct summary *summary);

#endif
