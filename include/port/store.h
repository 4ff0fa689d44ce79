/*
 * What is remembered of rides.
 *
 * The text journal of a ride is the truth: events in, effects out. The summary beside it makes
 * lists fast and can be worked out of the journal again. Rides are numbered from 1 for the rider.
 *
 * A ride: store_lock(), store_begin(), then store_append() for every line and store_commit() once a
 * second, then store_end(). After a crash the ride is still in state STORE_RIDING with its journal
 * up to the last commit; store_next_unfinished() finds it at the next start. Hold the lock first,
 * or the ride found may be one that another process is riding.
 *
 * Every call gives RESULT_OK or: RESULT_FULL, no space; RESULT_BUSY, another process is writing;
 * RESULT_INVALID, the file is damaged; RESULT_IO, anything else. A call that failed changed nothing
 * and may be repeated. store_problem() has words for the last failure.
 */
#ifndef PORT_STORE_H
#define PORT_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/result.h"
#include "port/store_ride.h"

#define STORE_BUFFER_MAX  (2u << 20)  /* octets that wait for the disk: some half an hour of ride */
#define STORE_JOURNAL_MAX (64u << 20) /* octets of one journal; more is taken for damage */

struct store; /* opened by io, see io/store_sqlite.h */

/* Frees the lock too. Text that was not committed is lost. NULL is fine. */
void store_close(struct store *store);

/* One ride at a time: held until store_close() or the end of the process, however it ends, and by
 * children forked meanwhile. RESULT_BUSY: another process has it; *ret_pid is then its number, or 0
 * when it cannot be told. */
MUST_USE enum result store_lock(struct store *store, int64_t *ret_pid);

/* Another ride may begin; without a lock nothing is done. */
void store_unlock(struct store *store);

/* Makes the ride that store_append() and store_commit() are about. Of `ride` it ignores id, state,
 * summary and rating. */
MUST_USE enum result store_begin(struct store *store, const struct store_ride *ride,
                                 int64_t *ret_id);

/* Copies whole lines into memory; touches no disk. RESULT_FULL: STORE_BUFFER_MAX would be exceeded;
 * nothing of `lines` was taken. */
MUST_USE enum result store_append(struct store *store, const char *lines, size_t length);

/* Writes what waits in memory, in one transaction. What could not be written keeps waiting. */
MUST_USE enum result store_commit(struct store *store);

/* Writes what waits, the summary and the packed journal, in one transaction. `state` is
 * STORE_FINISHED or STORE_RECOVERED. RESULT_NOT_FOUND: there is no such ride under way. */
MUST_USE enum result store_end(struct store *store, int64_t id, enum store_state state,
                               const struct store_summary *summary);

/* Of a ride that has ended. `effort` -1 and `note` NULL leave what was said before; an empty note
 * takes it away. RESULT_RANGE: an effort or a note that does not fit. RESULT_NOT_FOUND: there is no
 * such ride, or it has not ended. */
MUST_USE enum result store_rate(struct store *store, int64_t id, int32_t effort, const char *note);

/* RESULT_NOT_FOUND: there is no such ride, or none further. */
MUST_USE enum result store_get(struct store *store, int64_t id, struct store_ride *ret);
/* The newest ride by its time that is older than ride `id`; begin with INT64_MAX. Leaves out those
 * that ended without a second ridden, for which nobody looks; store_get() has them. */
MUST_USE enum result store_next_older(struct store *store, int64_t id, struct store_ride *ret);
/* The oldest ride in state STORE_RIDING after number `id`; begin with 0. */
MUST_USE enum result store_next_unfinished(struct store *store, int64_t id, struct store_ride *ret);

/* The journal as committed, of a ride in any state; free it. A NUL behind it does not count.
 * RESULT_NOT_FOUND: also of a ride without one. */
MUST_USE enum result store_journal(struct store *store, int64_t id, char **ret_text,
                                   size_t *ret_length);

/* Words for the last failure, valid until the next call; never NULL. */
const char *store_problem(const struct store *store);

#endif
