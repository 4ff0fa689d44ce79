/*
 * Whose file it is, and what its tables look like in each version.
 */
#ifndef IO_STORE_SCHEMA_H
#define IO_STORE_SCHEMA_H

#include <sqlite3.h>

#include "base/result.h"

/* steps[n] leads from version n to n + 1; the last one is the version this program writes. */
extern const char *const store_schema_steps[];
extern const int store_schema_step_count;

/* Looks at an open file without changing it. RESULT_OK: empty, or a store. RESULT_INVALID: no
 * SQLite file at all. RESULT_REFUSED: some other program's. RESULT_IO: cannot be read. */
MUST_USE enum result store_schema_inspect(int fd);

/* Each step is a transaction: a failed one leaves the version before it. RESULT_UNSUPPORTED: the
 * file is newer than `count` steps lead. */
MUST_USE enum result store_schema_migrate(sqlite3 *database, const char *const *steps, int count);

#endif
