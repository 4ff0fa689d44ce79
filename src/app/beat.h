/*
 * The block that is to be beaten, out of the store.
 */
#ifndef APP_BEAT_H
#define APP_BEAT_H

#include "port/store.h"
#include "ride/mark.h"

/* Zeroed: there is none. Must not move. */
struct beat {
    struct mark_curve *curve;
    struct mark mark;
};

/* The curve of a ride, for free(). NULL: its journal cannot be read. */
struct mark_curve *load_curve(struct store *store, int64_t id);

/* The last block like ride `like->id` of that title, machine and kind. Complains and gives false
 * where there is none: riding goes on without. */
bool beat_find(struct beat *beat, struct store *store, const struct store_ride *like,
               enum mark_measure measure, const struct ride_setup *setup);
void beat_free(struct beat *beat);

/* What profiles ask for shares of: the mean power in the work of that last block, as
 * the machine measures it: pedals that read more would raise the target from block to block. 0: not
 * known. */
uint16_t beat_power_w(struct store *store, const struct store_ride *like);

#endif
