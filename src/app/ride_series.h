/*
 * A ride second by second and step by step, out of its journal.
 */
#ifndef APP_RIDE_SERIES_H
#define APP_RIDE_SERIES_H

#include "port/store.h"
#include "ride/mark.h"
#include "text/lines.h"

/* How things stood after the last event of a second. There is none for seconds without an event, as
 * when the computer slept. */
struct ride_series_point {
    uint32_t second;      /* since the block began, holds included */
    uint32_t block_ms;    /* the block clock, holds left out */
    enum phase phase;     /* RIDING, HELD or EASY */
    size_t step;          /* index into the plan */
    struct load load;     /* what the machine had accepted */
    struct telemetry now; /* what was known and young enough; distance is that of the block */
    int64_t work_j;       /* of the block up to here */
};

/* A step as it was ridden; work and distance go to the step in which their reading came. */
struct ride_series_lap {
    size_t step;                  /* index into the plan */
    uint32_t begin_ms, end_ms;    /* since the block began, holds included */
    struct mark_point begin, end; /* on the block clock, and the sums */
};

/* Zeroed: nothing. */
struct ride_series {
    struct ride_setup setup;
    uint64_t before_ms; /* from the begin of the ride, as the store has it, to that of the block */
    size_t point_count, lap_count;
    struct ride_series_point *points;
    struct ride_series_lap laps[PLAN_STEPS_MAX]; /* a step begins once at most */
    struct summary summary; /* of a ride broken off: what it would be had it ended there */
    bool has_ended;
};

/* Of a ride in any state; free what is given with ride_series_free(). A journal that is damaged
 * gives what came before the damage, and RESULT_INVALID or so with its place in the fault; NULL
 * where that is nothing. RESULT_FULL: no memory. RESULT_NOT_FOUND: no ride, or no journal of it.
 * Else as store_journal(). But for damage the fault has no line and no message. */
MUST_USE enum result ride_series_read(struct store *store, int64_t id, struct ride_series **ret,
                                      struct text_fault *ret_fault);
void ride_series_free(struct ride_series *series);

#endif
