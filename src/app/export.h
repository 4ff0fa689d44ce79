/*
 * A remembered ride as the octets of a file that other programs read.
 */
#ifndef APP_EXPORT_H
#define APP_EXPORT_H

#include "port/store.h"
#include "ride_series.h"

struct export_ride {
    struct store_ride ride;
    struct ride_series *series; /* NULL: there is none, as of a ride written down by hand */
    char *journal;              /* likewise */
    size_t journal_length;
};

struct export_file {
    char *octets; /* free it */
    size_t length;
};

/* RESULT_FULL: no memory. RESULT_UNSUPPORTED: the ride has no seconds, and the kind of file is one
 * of seconds. RESULT_RANGE: it began at a time that FIT cannot say. RESULT_INVALID: its journal is
 * no text, so JSON cannot hold it. */
MUST_USE enum result export_csv(const struct export_ride *from, struct export_file *ret);
MUST_USE enum result export_fit(const struct export_ride *from, struct export_file *ret);
MUST_USE enum result export_json(const struct export_ride *from, struct export_file *ret);

#endif
