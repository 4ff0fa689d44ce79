/*
 * Earlier blocks that a block is to be compared with.
 */
#ifndef APP_EARLIER_H
#define APP_EARLIER_H

#include "port/store.h"

#define EARLIER_MAX       16u
#define EARLIER_WORDS_MAX 200u

/* Newest first, at most EARLIER_MAX of those before `like`: same profile, by its title, and same
 * machine, ridden to their end, both after leg work or both fresh. How many. */
size_t earlier_find(struct store *store, const struct store_ride *like,
                    struct store_ride ret[EARLIER_MAX]);

/* What `now`, which was ridden to its end, is against those, the newest first: a line without a
 * full stop. False: there is none to compare with. */
bool earlier_compare(const struct store_ride *now, const struct store_ride *earlier, size_t count,
                     char *ret, size_t size);

/* The two together, for a ride in the store. */
bool earlier_words(struct store *store, int64_t id, char *ret, size_t size);

#endif
