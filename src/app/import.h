/*
 * Rides out of files, to be added to the store.
 */
#ifndef APP_IMPORT_H
#define APP_IMPORT_H

#include "port/store.h"

/* Grows as files are read; zeroed: empty. */
struct import {
    size_t count;
    struct import_ride {
        struct store_ride ride;
        char *journal; /* NULL: written down by hand */
        size_t journal_length;
        const char *path; /* where it is from; the caller's */
        uint32_t line;    /* in a table; 0: the whole file */
    } * rides;
};

/* Each complains, naming the file and the place in it, and gives false. */
bool import_json(struct import *import, const char *path, const char *text, size_t length);
bool import_table(struct import *import, const char *path, const char *text, size_t length);

/* The next one to be filled in; complains and gives NULL when there are too many of them or there
 * is no memory. It counts once import->count does. */
struct import_ride *import_next(struct import *import, const char *path);
void import_free(struct import *import);

/* Everything or nothing, in one go: one that is there already is a fault. Complains and gives false
 * then. `ret_first_id` is that of the first one. */
bool import_keep(const char *verb, struct import *import, int64_t *ret_first_id);

#endif
