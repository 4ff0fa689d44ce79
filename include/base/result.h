/*
 * One enum for every way a call can end, and its text.
 *
 * A function that can fail returns this; what it gives back goes through parameters named ret_…,
 * written only when the result is RESULT_OK.
 */
#ifndef BASE_RESULT_H
#define BASE_RESULT_H

enum result {
    RESULT_OK = 0,
    RESULT_NEED_MORE,   /* right so far, but too short */
    RESULT_INVALID,     /* breaks the format */
    RESULT_RANGE,       /* well formed, but outside what is allowed */
    RESULT_FULL,        /* a fixed limit is used up */
    RESULT_BUSY,        /* something else is under way, or holds the thing */
    RESULT_TIMEOUT,     /* no answer in time */
    RESULT_CLOSED,      /* the other side is gone */
    RESULT_REFUSED,     /* the other side said no */
    RESULT_UNSUPPORTED, /* the other side cannot do this */
    RESULT_NOT_FOUND,   /* no such thing */
    RESULT_IO,          /* the operating system said no; errno has the reason */
    RESULT_COUNT
};

#define MUST_USE __attribute__((warn_unused_result))

/* A few words in lower case without a full stop, never NULL, also for values outside the enum. */
const char *result_text(enum result result);

#endif
