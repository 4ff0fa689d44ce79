/*
 * The store of port/store.h in an SQLite file.
 */
#ifndef IO_STORE_SQLITE_H
#define IO_STORE_SQLITE_H

#include "port/store.h"

#define STORE_FILE_NAME "rides.db" /* in the data folder */

enum store_mode {
    STORE_EXISTING, /* RESULT_NOT_FOUND when there is no file */
    STORE_CREATE    /* made when there is none, for its owner alone (0600) */
};

/* Opens the file, brings an older one up to date, and keeps a lock file, PATH.lock, beside it for
 * store_lock(). A file that is damaged (RESULT_INVALID), not a store (RESULT_REFUSED) or newer than
 * this program (RESULT_UNSUPPORTED) is left as it is. On failure `why` gets a line for the rider:
 * which file, what is wrong, what to do. Free with store_close(). */
MUST_USE enum result store_open(const char *path, enum store_mode mode, char *why, size_t why_size,
                                struct store **ret);

#endif
