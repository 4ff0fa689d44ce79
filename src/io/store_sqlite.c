#include "io/store_sqlite.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/store_private.h"
#include "io/store_schema.h"

#define OPEN_WAIT_MS 2000 /* another process may be bringing the file up to date */
#define RIDE_WAIT_MS 20   /* within a ride: shorter than anything the rider could feel */

/* A ride never waits for a disk. With the write-ahead log and synchronous=NORMAL a commit is a
 * plain write: kill -9 loses nothing that was committed, a power cut loses the last moments that
 * the kernel had not yet written, and the checksums in the log keep the file whole. Only a
 * checkpoint waits for the disk, so there is none by itself; closing the last connection makes one.
 * The schema of a file is not trusted: it could name functions with side effects.
 * The page cache is kept small, because a ride reads next to nothing. */
static const char settings[] = "PRAGMA journal_mode = WAL;"
                               "PRAGMA synchronous = NORMAL;"
                               "PRAGMA wal_autocheckpoint = 0;"
                               "PRAGMA foreign_keys = ON;"
                               "PRAGMA trusted_schema = OFF;"
                               "PRAGMA cache_size = -512;"; /* KiB */

enum result store_result(int sqlite_code)
{
    switch (sqlite_code & 0xFF) {
    case SQLITE_OK:
    case SQLITE_ROW:
    case SQLITE_DONE: return RESULT_OK;
    case SQLITE_FULL:
    case SQLITE_NOMEM: return RESULT_FULL;
    case SQLITE_BUSY:
    case SQLITE_LOCKED: return RESULT_BUSY;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB: return RESULT_INVALID;
    default: return RESULT_IO;
    }
}

enum result store_outcome(struct store *store, int sqlite_code)
{
    enum result result = store_result(sqlite_code);
    if (result != RESULT_OK)
        store->problem = sqlite3_errstr(sqlite_code);
    return result;
}

void store_roll_back(sqlite3 *database)
{
    if (sqlite3_get_autocommit(database) == 0)
        (void)sqlite3_exec(database, "ROLLBACK", NULL, NULL, NULL);
}

const char *store_problem(const struct store *store)
{
    return store->problem != NULL ? store->problem : result_text(RESULT_OK);
}

/* ---- opening ---- */

/* What to say behind the name of the file, and what the rider can do. */
static const char *const advice[RESULT_COUNT] = {
    [RESULT_INVALID] =
        "is damaged; move it away and a new one is made, or try: sqlite3 FILE .recover",
    [RESULT_REFUSED] = "belongs to another program; move it away and a new one is made",
    [RESULT_UNSUPPORTED] = "was written by a newer version of this program; use that one",
    [RESULT_FULL] = "has no space or memory left to work with; free some and try again",
    [RESULT_BUSY] = "is in use by another program; close that and try again",
    [RESULT_NOT_FOUND] = "does not exist",
    [RESULT_IO] = "cannot be read and written; look at the rights of the file and its folder",
};

static enum result explain(enum result result, const char *path, char *why, size_t why_size)
{
    const char *words = advice[result] != NULL ? advice[result] : result_text(result);
    snprintf(why, why_size, "%s %s", path, words);
    return result;
}

/* Makes an empty file with the mode that SQLite then also gives to the files it puts beside it. */
static enum result inspect_file(const char *path, enum store_mode mode)
{
    struct stat about;
    int flags = O_RDWR | O_CLOEXEC;
    int fd = open(path, mode == STORE_CREATE ? flags | O_CREAT : flags, 0600);
    if (fd < 0)
        return errno == ENOENT && mode == STORE_EXISTING ? RESULT_NOT_FOUND : RESULT_IO;
    enum result result = RESULT_REFUSED;
    if (fstat(fd, &about) == 0 && S_ISREG(about.st_mode))
        result = store_schema_inspect(fd);
    close(fd);
    return result;
}

static int prepare_statements(struct store *store)
{
    int code = SQLITE_OK;
    for (size_t i = 0; i < STORE_STATEMENT_COUNT && code == SQLITE_OK; i++)
        code = sqlite3_prepare_v3(store->database, store_statement_sql[i], -1,
                                  SQLITE_PREPARE_PERSISTENT, &store->statements[i], NULL);
    return code;
}

static enum result open_database(struct store *store, const char *path)
{
    int code = sqlite3_open_v2(path, &store->database,
                               SQLITE_OPEN_READWRITE | SQLITE_OPEN_EXRESCODE, NULL);
    if (code != SQLITE_OK)
        return store_result(code);
    sqlite3_busy_timeout(store->database, OPEN_WAIT_MS);
    enum result result =
        store_schema_migrate(store->database, store_schema_steps, store_schema_step_count);
    if (result != RESULT_OK)
        return result;
    code = sqlite3_exec(store->database, settings, NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = prepare_statements(store);
    sqlite3_busy_timeout(store->database, RIDE_WAIT_MS);
    return store_result(code);
}

static struct store *allocate(void)
{
    struct store *store = calloc(1, sizeof *store);
    if (store == NULL)
        return NULL;
    store->lock_fd = -1;
    store->buffer = malloc(STORE_BUFFER_MAX);
    if (store->buffer == NULL) {
        free(store);
        return NULL;
    }
    return store;
}

enum result store_open(const char *path, enum store_mode mode, char *why, size_t why_size,
                       struct store **ret)
{
    enum result result = inspect_file(path, mode);
    if (result != RESULT_OK)
        return explain(result, path, why, why_size);
    struct store *store = allocate();
    result = store != NULL ? open_database(store, path) : RESULT_FULL;
    if (result != RESULT_OK) {
        store_close(store);
        return explain(result, path, why, why_size);
    }
    *ret = store;
    return RESULT_OK;
}

void store_close(struct store *store)
{
    if (store == NULL)
        return;
    for (size_t i = 0; i < STORE_STATEMENT_COUNT; i++)
        sqlite3_finalize(store->statements[i]);
    sqlite3_close(store->database);
    if (store->lock_fd >= 0)
        close(store->lock_fd);
    free(store->buffer);
    free(store);
}

/* ---- one ride at a time ---- */

static int64_t read_pid(int fd)
{
    char text[24] = "";
    if (pread(fd, text, sizeof text - 1, 0) <= 0)
        return 0;
    return strtoll(text, NULL, 10);
}

/* For the words to a second process only; the lock itself is the kernel's. */
static void write_pid(int fd)
{
    char text[24];
    int length = snprintf(text, sizeof text, "%lld\n", (long long)getpid());
    if (ftruncate(fd, 0) != 0 || pwrite(fd, text, (size_t)length, 0) != length)
        return;
}

/* The lock file is never removed: another process may have it open already and would then hold a
 * lock on a file that nobody else sees. */
enum result store_lock(struct store *store, int64_t *ret_pid)
{
    char path[4096];
    const char *database = sqlite3_db_filename(store->database, "main");
    if (store->lock_fd >= 0)
        return RESULT_OK;
    if ((size_t)snprintf(path, sizeof path, "%s.lock", database) >= sizeof path)
        return store_outcome(store, SQLITE_CANTOPEN);
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (fd < 0)
        return store_outcome(store, SQLITE_CANTOPEN);
    if (flock(fd, LOCK_EX | LOCK_NB) != 0) {
        enum result result =
            store_outcome(store, errno == EWOULDBLOCK ? SQLITE_BUSY : SQLITE_IOERR);
        *ret_pid = read_pid(fd);
        close(fd);
        return result;
    }
    write_pid(fd);
    store->lock_fd = fd;
    return RESULT_OK;
}

void store_unlock(struct store *store)
{
    if (store->lock_fd >= 0)
        close(store->lock_fd);
    store->lock_fd = -1;
}
