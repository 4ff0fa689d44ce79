/*
 * One ride of `afterset ride`: everything it holds, and what is made ready before it begins.
 */
#ifndef APP_RIDE_RUN_H
#define APP_RIDE_RUN_H

#include "app/profile_file.h"
#include "app/settings_file.h"
#include "beat.h"
#include "keys.h"
#include "ride_links.h"
#include "ride_options.h"
#include "ride_plan.h"
#include "ride_screen.h"
#include "session.h"

/* Everything that one ride holds, so that it can be let go in one place. */
struct ride_run {
    struct ride_options options;
    struct settings settings;
    struct profile profile;
    struct store_ride about;
    char fit_text[RIDE_FIT_TEXT_SIZE];
    struct ride_setup setup;
    bool shows_after;
    struct store *store;
    struct loop *loop;
    struct output *errors; /* what is complained of while a ride must not wait */
    struct ride_links links;
    struct keys *keys;
    struct beat beat;
    struct session session;
    struct ride_screen screen;
};

/* In this order; each complains when it fails. The store, unless the ride is not to be recorded:
 * locked, and rides that a crash broke off brought to their end. */
bool ride_prepare_store(struct ride_run *run);
/* The plan, for this rider and this day. */
bool ride_prepare_plan(struct ride_run *run);
/* Record, mark, reserve, sound and screen; the ride's links are called already. */
bool ride_prepare_session(struct ride_run *run);

#endif
