/*
 * The inside of the SQLite store, shared by its files: store_sqlite.c opens and closes,
 * store_ride.c reads and writes rides, store_journal.c packs and unpacks, store_schema.c knows the
 * tables.
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
    STORE_SELECT_RIDE,
    STORE_SELECT_OLDER,
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

/* What a ride's row keeps of its journal. */
struct store_packed {
    void *data; /* free it */
    size_t length;
    size_t text_length;
};

/* Packs the chunks of a ride. */
MUST_USE enum result store_pack(struct store *store, int64_t id, struct store_packed *ret);

#endif
