/*
 * The inside of the SQLite store, shared by its files: store_sqlite.c opens and closes,
 * store_ride.c reads and writes rides, store_history.c looks for those alike and takes in those
 * from elsewhere, store_device.c says under what devices are kept, store_journal.c packs and
 * unpacks, store_schema.c knows the tables.
 */
#ifndef IO_STORE_PRIVATE_H
#define IO_STORE_PRIVATE_H

#include <sqlite3.h>

#include "port/store.h"

enum store_statement {
    STORE_INSERT_RIDE,
    STORE_INSERT_CHUNK,
    STORE_UPDATE_RIDE,
    STORE_UPDATE_RATING,
    STORE_DELETE_CHUNKS,
    STORE_INSERT_JOURNAL,
    STORE_SELECT_RIDE,
    STORE_SELECT_OLDER,
    STORE_SELECT_ALIKE,
    STORE_SELECT_SAME_TIME,
    STORE_SELECT_UNFINISHED,
    STORE_SELECT_JOURNAL,
    STORE_SELECT_CHUNKS,
    STORE_STATEMENT_COUNT
};

extern const char *const store_statement_sql[STORE_STATEMENT_COUNT];

struct store {
    sqlite3 *database;
    sqlite3_stmt *statements[STORE_STATEMENT_COUNT];
    const char *problem; /* words for the last failure, static; NULL: there was none */
    int lock_fd;         /* -1: not locked */
    int64_t ride_id;     /* what the buffer is of; 0: no ride was begun */
    size_t buffered;
    char *buffer; /* STORE_BUFFER_MAX octets; pages never written to take no memory */
};

enum result store_result(int sqlite_code);

/* The result of a call, remembered for store_problem(). */
MUST_USE enum result store_outcome(struct store *store, int sqlite_code);

/* After a failure within a transaction; does nothing when SQLite has already ended it. */
void store_roll_back(sqlite3 *database);

/* The journal of a ride that ends, out of its chunks; or that ended elsewhere. */
MUST_USE enum result store_pack_chunks(struct store *store, int64_t id);
MUST_USE enum result store_pack_text(struct store *store, int64_t id, const char *text,
                                     size_t length);

/* The row of a ride in state STORE_RIDING, and what it came to. */
MUST_USE enum result store_put_ride(struct store *store, const struct store_ride *ride,
                                    int64_t *ret_id);
MUST_USE enum result store_put_summary(struct store *store, int64_t id, enum store_state state,
                                       const struct store_summary *summary);

/* The first row of a query about rides, whose parameters are bound with this code. RESULT_NOT_FOUND
 * when there is none. */
MUST_USE enum result store_take_ride(struct store *store, enum store_statement statement, int code,
                                     struct store_ride *ret);

MUST_USE enum result store_execute(struct store *store, const char *sql);

#endif
