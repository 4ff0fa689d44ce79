/*
 * Rides of the past: looked for by what they are, and taken in from elsewhere.
 *
 * Results and store_problem() are as in port/store.h.
 */
#ifndef PORT_STORE_HISTORY_H
#define PORT_STORE_HISTORY_H

#include "port/store.h"

/* The newest ride older than ride `id`, as store_next_older(), that has ended and is like `like` in
 * title, bike and is_fresh. Takes no longer for a longer history. */
MUST_USE enum result store_next_alike(struct store *store, const struct store_ride *like,
                                      int64_t id, struct store_ride *ret);

/* Between begin and end all is kept or nothing: end with `keep` false after a failure, and also
 * when store_add_end() itself fails. Not while a ride is under way: hold the lock. */
MUST_USE enum result store_add_begin(struct store *store);
MUST_USE enum result store_add_end(struct store *store, bool keep);

/* A ride that has ended, whole; of `ride` it ignores the id. `journal` is NULL for STORE_BY_HAND
 * and for no other state. RESULT_RANGE: an effort or a note that does not fit, or a journal of more
 * than STORE_JOURNAL_MAX octets. */
MUST_USE enum result store_add(struct store *store, const struct store_ride *ride,
                               const char *journal, size_t length, int64_t *ret_id);

/* The ride that began at the same time and has the same journal; without one, that came to the same
 * time, work and distance on a profile of the same title. RESULT_NOT_FOUND: there is none. */
MUST_USE enum result store_find_same(struct store *store, const struct store_ride *ride,
                                     const char *journal, size_t length, int64_t *ret_id);

#endif
