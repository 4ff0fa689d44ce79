/*
 * Blocks of the past as lists, drawings and pages show them: what app gathers from the store.
 *
 * A day is a number that goes up by one from each day of the rider's calendar to the next; weeks
 * begin on Monday. Whoever gathers turns times into days and names them: nothing here knows a time
 * zone.
 */
#ifndef UI_PAST_H
#define UI_PAST_H

#include "ride/plan.h"

/* What a block came to, against the comparable ones before it: see body/compare.h. */
enum past_outcome {
    PAST_NOT_COMPARED, /* as when it is not known what it was ridden on */
    PAST_TOO_FEW,      /* too few before it to say */
    PAST_LOWER,
    PAST_EVEN, /* within the noise */
    PAST_BETTER,
    PAST_STOPPED, /* not ridden to its end, and compared with nothing */
    PAST_CUT_OFF,
    PAST_BROKEN_OFF, /* the program ended in mid-ride */
    PAST_UNFINISHED, /* under way, or broken off and not recovered yet */
    PAST_OUTCOME_COUNT
};

struct past_date {
    int year, month, day; /* month and day from 1 */
};

/* Zero is not known, but for `effort`. */
struct past_block {
    int64_t ride_id, started_unix_s;
    int32_t day;
    char title[PLAN_TITLE_MAX + 1];
    uint32_t length_s; /* of the intervals; where that is not known, of all of it */
    uint32_t work_j, power_w /* in the work */, calories_kcal;
    enum past_outcome outcome;
    uint32_t feel; /* of the legs, 1 to 5 */
    bool is_fresh, has_effort;
    uint32_t effort; /* 0 to 10 */
};

/* A value of a day, for a trend. */
struct past_point {
    int32_t day, value;
};

/* The first of a month. */
struct past_month {
    int32_t day;
    int month; /* from 1 */
};

#define PAST_WEEKS_MAX  8u
#define PAST_MONTHS_MAX 13u

struct past_trend {
    int32_t first_day, last_day;
    const struct past_point *points; /* by day; borrowed */
    size_t count, month_count;
    struct past_month months[PAST_MONTHS_MAX];
    /* What came of blocks by other bikes or sensors, in words, up to 49 octets; empty: there are
     * none. Borrowed */
    const char *sources;
};

#define PAST_BEST_COUNT 4u

/* The highest mean power over a time, and when; 0: there is none. */
struct past_best {
    const char *span; /* "30 s"; borrowed */
    uint32_t power_w;
    int64_t ride_id;
    struct past_date date;
};

/* Weeks, what was ridden in them, and how that stands in time. */
struct past {
    uint32_t weeks;                  /* 1 to PAST_WEEKS_MAX */
    int32_t first_day;               /* a Monday */
    const struct past_date *dates;   /* of each of these days; borrowed */
    const struct past_block *blocks; /* in these weeks, by day and time; borrowed */
    size_t block_count;
    struct past_trend trend;
    struct past_best bests[PAST_BEST_COUNT];
    const char *only; /* which blocks are looked at, in words; empty: all. Borrowed */
    bool has_earlier, has_later;
};

/* Four letters at most, for cells; and a word or two, for lines. */
const char *past_outcome_short(enum past_outcome outcome);
const char *past_outcome_text(enum past_outcome outcome);
const char *past_month_text(int month); /* "Jan"; "?" for no month */
const char *past_weekday_text(int32_t days_from_monday);

/* "3 Nov to 16 Nov 2025" */
#define PAST_SPAN_MAX 48u
void past_span(const struct past *past, char *ret, size_t size);
/* "8 blocks, 489.2 kJ, 586 kcal, 2 beat those before" */
#define PAST_SUMS_MAX 120u
void past_sums(const struct past *past, char *ret, size_t size);

#endif
