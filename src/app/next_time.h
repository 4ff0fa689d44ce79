/*
 * What to ask next time, out of the store.
 */
#ifndef APP_NEXT_TIME_H
#define APP_NEXT_TIME_H

#include "asked.h"
#include "body/rider.h"
#include "port/store.h"

#define NEXT_TIME_BLOCKS 2u

/* Zeroed: there is nothing to go by. */
struct next_time {
    size_t count;
    int64_t ids[NEXT_TIME_BLOCKS]; /* of the rides it comes from, oldest first */
    struct progress_block blocks[NEXT_TIME_BLOCKS];
    int64_t other_source_id; /* the one before, left out since another source measured it; or 0 */
    enum verdict_unit unit;
    struct progress progress;
};

/* After ride `now` and the comparable one before it, where the same source of power measured both:
 * what is in range by one may not be by the other. Nothing where `now` did not end by itself,
 * ended before its work, or has no journal that can be read. */
void next_time_after(struct store *store, const struct store_ride *now, const struct rider *rider,
                     struct next_time *ret);
/* For a ride of that title, machine and kind, after those before `like->id`. */
void next_time_for(struct store *store, const struct store_ride *like, const struct rider *rider,
                   struct next_time *ret);

/* One sentence without a full stop, and the numbers it comes from; empty where there is nothing. */
void next_time_say(const struct next_time *next, char *ret, size_t size);
void next_time_reckon(const struct next_time *next, char *ret, size_t size);

/* In per cent of what the profile asks for as it is written, within FIT_LOAD_MAX_PCT; 0 where the
 * two cannot be compared. */
int32_t next_time_load_pct(const struct next_time *next, const struct asked *written);

#endif
