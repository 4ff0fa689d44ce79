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
#include "ride/plan.h"

#define STORE_BIKE_MAX    127u /* octets of UTF-8, as for all text here */
#define STORE_PROFILE_MAX 1023u
#define STORE_REASON_MAX  127u
#define STORE_NOTE_MAX    240u
#define STORE_FEEL_MAX    5u
#define STORE_EFFORT_MAX  10u
#define STORE_BUFFER_MAX  (2u << 20)  /* octets that wait for the disk: some half an hour of ride */
#define STORE_JOURNAL_MAX (64u << 20) /* octets of one journal; more is taken for damage */

enum store_state {
    STORE_RIDING,    /* under way, or broken off by a crash */
    STORE_FINISHED,  /* ended by the ride itself */
    STORE_RECOVERED, /* ended at a later start, out of its journal */
    STORE_BY_HAND    /* written down by the rider: no journal */
};

enum store_ending {
    STORE_ENDING_UNKNOWN,
    STORE_ENDING_DONE,    /* the plan was ridden to its end */
    STORE_ENDING_STOPPED, /* the rider stopped */
    STORE_ENDING_CUT_OFF  /* the controller stopped */
};

/* Zero means not known for calories, heart and best power. */
struct store_summary {
    enum store_ending ending;
    char reason[STORE_REASON_MAX + 1]; /* words; empty when there is nothing to say */
    uint32_t duration_s;
    uint32_t work_j;
    uint32_t average_power_w;
    uint32_t work_s, work_power_w; /* of the work steps: whole seconds, mean power */
    uint32_t distance_m;
    uint32_t calories_kcal, calories_low_kcal, calories_high_kcal;
    bool has_in_range; /* the plan asked for something */
    uint32_t in_range_pct;
    uint32_t average_heart_bpm, max_heart_bpm;
    int32_t heart_fall_bpm; /* in the minute after the last work; below 0 it rose; 0: not known */
    uint32_t best_5s_w, best_30s_w, best_60s_w, best_180s_w; /* highest mean power so long */
};

/* What the rider says of a ride when it is over. */
struct store_rating {
    bool has_effort;
    uint32_t effort; /* 0, none, to STORE_EFFORT_MAX, all there was */
    char note[STORE_NOTE_MAX + 1];
};

/* Text read from a store is valid UTF-8 without control characters, whatever the file holds. */
struct store_ride {
    int64_t id;
    int64_t started_unix_s;
    char title[PLAN_TITLE_MAX + 1];
    char bike[STORE_BIKE_MAX + 1];       /* its address */
    char profile[STORE_PROFILE_MAX + 1]; /* its file; empty: not known, as of rides of old */
    uint32_t length_ms;                  /* of the plan: its intervals; 0: not known */
    uint32_t feel; /* of the legs, 1 bad to STORE_FEEL_MAX good; 0: not said */
    bool
        is_fresh; /* ridden without leg work before it; those of rides of old are taken for tired */
    /* What was proposed for it where the rider chose otherwise: the mean target of its work, in
     * watts or tenths of a level, and its length; 0: as was chosen, or nothing was proposed. */
    uint32_t proposed, proposed_length_ms;
    enum store_state state;
    struct store_summary summary; /* all zero while STORE_RIDING */
    struct store_rating rating;
};

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
