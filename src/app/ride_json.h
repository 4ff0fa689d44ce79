/*
 * A ride of the store as a JSON object, and back, by one table.
 */
#ifndef APP_RIDE_JSON_H
#define APP_RIDE_JSON_H

#include <jansson.h>

#include "port/store.h"

#define RIDE_JSON_FORMAT  "afterset-ride"
#define RIDE_JSON_VERSION 1

/* All of a ride but its number and its journal. NULL: no memory, or a text that is no UTF-8. */
json_t *ride_json(const struct store_ride *ride);

struct ride_json_fault {
    const char *key;  /* of the object; "" for all of it */
    const char *what; /* "is missing", "is not a number from 0 to 10", … */
};

/* RESULT_INVALID, and what is wrong: a key that is missing, of the wrong kind, out of its range, or
 * at odds with another one. */
MUST_USE enum result ride_json_read(const json_t *object, struct store_ride *ret,
                                    struct ride_json_fault *ret_fault);

#endif
