/*
 * Earlier blocks that a block can be compared with, out of the store.
 */
#ifndef APP_EARLIER_H
#define APP_EARLIER_H

#include "body/compare.h"
#include "port/store.h"

#define EARLIER_LINE_MAX 160u

/* Comparable: see body/compare.h and ruler.h. Zeroed: there are none. */
struct earlier {
    struct compare_history history;
    struct store_ride last; /* the newest, whatever measured it; id 0: there is none */
    double last_factor;     /* takes it to the source of power of this one; 0: that is not known */
    int64_t last_ridden_id; /* the newest by the same source that has a journal; 0: there is none */
    uint32_t other_sources; /* so many more of another source cannot be taken to this one's */
    /* To be set where critical power is known, so that other lengths can be compared. */
    struct compare_slope slope;
};

/* Those before ride `like->id`, of the same profile by its title. */
MUST_USE enum result earlier_find(struct store *store, const struct store_ride *like,
                                  struct earlier *ret);
/* The same, one by one, for rides that are in memory: begins zeroed, takes those before `like` from
 * the newest to the oldest, leaves out what is not comparable. */
void earlier_add(struct earlier *earlier, const struct store_ride *like,
                 const struct store_ride *ride);
void earlier_added(struct earlier *earlier);

/* Zeroed where `now` was not ridden to its end. */
struct comparison earlier_compare(const struct earlier *earlier, const struct store_ride *now);
/* What comes of it in a word, for scripts: "learning", "alone", "other_source", "lower", "noise",
 * "better"; NULL where it was not ridden to its end. */
const char *earlier_word(const struct earlier *earlier, const struct store_ride *now);

/* What the last one was: "Tue 17 Nov: 4:00, 61.2 kJ, 243 W in the work". */
void earlier_last(const struct earlier *earlier, char *ret, size_t size);
/* How far `now` is from the last one: "+3.1 kJ on last time (Tue 17 Nov)". Empty where that says
 * nothing: there is none, or it was not ridden to its end. */
void earlier_facts(const struct earlier *earlier, const struct store_ride *now, char *ret,
                   size_t size);
/* Whether it was better than the last few, or why that cannot be said. */
void earlier_verdict(const struct earlier *earlier, const struct store_ride *now, char *ret,
                     size_t size);
/* Of a block like the last one: the rider's own, or the default. */
double earlier_typical_error_pct(const struct earlier *earlier);
/* And from which numbers; empty where there is no verdict. */
void earlier_reckoning(const struct earlier *earlier, const struct store_ride *now, char *ret,
                       size_t size);

#endif
