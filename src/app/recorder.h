/*
 * Keeps the journal of a ride: a line for every event and effect, saved once a second. Saving that
 * fails is tried again every second; at the end what could not be saved goes to a file of its own.
 */
#ifndef APP_RECORDER_H
#define APP_RECORDER_H

#include "port/store.h"
#include "ride/ride.h"

struct recorder {
    struct store *store; /* NULL: nothing is saved. Borrowed. */
    int64_t ride_id;     /* 0 before recorder_begin() */
    char *text;          /* a copy of the whole journal */
    size_t length, capacity;
    bool is_failing;
    bool is_incomplete; /* some lines are missing in the store */
    bool has_no_copy;   /* out of memory for it */
};

/* Begins the ride in the store, unless there is none. Fills in when it began, its title and its
 * length; the rest of `about` is the caller's: see store_begin(). */
MUST_USE enum result recorder_begin(struct recorder *recorder, const struct ride_setup *setup,
                                    const struct store_ride *about);
void recorder_event(struct recorder *recorder, const struct event *event);
void recorder_effects(struct recorder *recorder, const struct effects *effects);
/* Once a second. True when the state of saving changed: see is_failing. */
bool recorder_save(struct recorder *recorder);
/* Complains when the ride could not be saved, and says where it is instead. */
enum result recorder_end(struct recorder *recorder, const struct summary *summary);
void recorder_free(struct recorder *recorder);

/* The summary of a ride as the store keeps it. */
void summary_for_store(const struct summary *summary, struct store_summary *ret);

#endif
