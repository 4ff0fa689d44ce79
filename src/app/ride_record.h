/*
 * What `log` and `show` share: the store of the rider, and a remembered ride as words and as JSON.
 */
#ifndef APP_RIDE_RECORD_H
#define APP_RIDE_RECORD_H

#include "io/store_sqlite.h"

/* Opens the rider's store and never makes one. RESULT_NOT_FOUND when there is none yet; complains
 * about every other failure. */
MUST_USE enum result ride_record_open(struct store **ret);

/* One word for how it ended: "done", "cut off", "recovered", … */
const char *ride_record_end(const struct store_ride *ride);

/* When it began, in the rider's local time: "2025-06-15 17:06", or "?" when that cannot be told. */
void ride_record_started(const struct store_ride *ride, char *ret, size_t size);

/* The day of it: "Tue 17 Nov", or "?". */
void ride_record_day(const struct store_ride *ride, char *ret, size_t size);

/* One object on one line of stdout; what is not known is null, and there is no summary of a ride
 * that is unfinished. `verdict` is what it came to against those before it, see earlier_word(), or
 * NULL. False: out of memory. */
bool ride_record_print_json(const struct store_ride *ride, const char *verdict);

/* "afterset: VERB: cannot read …": for a RESULT that the store or ride_record_print_json() gave. */
void ride_record_complain(const char *verb, const struct store *store, enum result result);

/* A whole number from 1, as a rider types it. */
bool ride_record_parse_number(const char *text, int64_t *ret);

/* Flushes stdout. Complains when what was printed could not be written. */
bool ride_record_flush(void);

#endif
