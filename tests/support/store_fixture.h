/*
 * A store in a folder of its own, for tests. All names and numbers in it are invented.
 *
 * The SQLite handle of the store opened last is caught through sqlite3_auto_extension(), so that a
 * full disk can be had without a hook in the product.
 */
#ifndef SUPPORT_STORE_FIXTURE_H
#define SUPPORT_STORE_FIXTURE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sqlite3.h>

#include "io/store_sqlite.h"

extern char fixture_folder[64], fixture_path[128];
extern sqlite3 *fixture_database;

/* Set-up and tear-down for cmocka. */
int fixture_set_up(void **state);
int fixture_tear_down(void **state);

struct store *fixture_open(void);
int64_t fixture_begin(struct store *store);

/* Line n of a journal that can be checked by counting. */
void fixture_append_line(struct store *store, size_t n);
/* Checks that the journal is lines 0, 1, 2… without a gap or a broken line, and counts them. */
size_t fixture_count_lines(struct store *store, int64_t id);

/* One number out of a query. */
int64_t fixture_ask(sqlite3 *database, const char *sql);
/* Runs SQL on the file through a connection of its own. */
void fixture_execute(const char *sql);

/* Runs `func` in a child and gives its exit status, or 1000 + the signal that ended it. */
int fixture_in_child(int (*func)(void));

#endif
