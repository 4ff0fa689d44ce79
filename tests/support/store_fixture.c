#include "support/store_fixture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

char fixture_folder[64], fixture_path[128];
sqlite3 *fixture_database;

static int catch_connection(sqlite3 *database)
{
    fixture_database = database;
    return SQLITE_OK;
}

int fixture_set_up(void **state)
{
    (void)state;
    strcpy(fixture_folder, "/tmp/test_store.XXXXXX");
    if (mkdtemp(fixture_folder) == NULL)
        return -1;
    snprintf(fixture_path, sizeof fixture_path, "%s/rides.db", fixture_folder);
    /* SQLite's own documentation has the cast; the other arguments go unread. */
    return sqlite3_auto_extension((void (*)(void))catch_connection);
}

int fixture_tear_down(void **state)
{
    static const char *const endings[] = {"", "-wal", "-shm", "-journal", ".lock"};
    (void)state;
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
        char name[160];
        snprintf(name, sizeof name, "%s%s", fixture_path, endings[i]);
        unlink(name);
    }
    sqlite3_reset_auto_extension();
    return rmdir(fixture_folder);
}

struct store *fixture_open(void)
{
    char why[256] = "";
    struct store *store = NULL;
    enum result result = store_open(fixture_path, STORE_CREATE, why, sizeof why, &store);
    if (result != RESULT_OK)
        print_error("%s\n", why);
    assert_int_equal(result, RESULT_OK);
    return store;
}

int64_t fixture_begin(struct store *store)
{
    static const struct store_ride ride = {
        .started_unix_s = 1750000000, .title = "Twenty on, ten off", .bike = "virtual"};
    int64_t id = 0;
    assert_int_equal(store_begin(store, &ride, &id), RESULT_OK);
    return id;
}

static void line_text(size_t n, char *ret, size_t size)
{
    snprintf(ret, size, "%zu data power=%zu cadence=%zu heart=%zu\n", n * 250, 200 + n % 37,
             85 + n % 11, 120 + n % 40);
}

void fixture_append_line(struct store *store, size_t n)
{
    char line[96];
    line_text(n, line, sizeof line);
    assert_int_equal(store_append(store, line, strlen(line)), RESULT_OK);
}

size_t fixture_count_lines(struct store *store, int64_t id)
{
    char *text = NULL, line[96];
    size_t length = 0, at = 0, n = 0;
    assert_int_equal(store_journal(store, id, &text, &length), RESULT_OK);
    assert_int_equal(strlen(text), length);
    for (; at < length; n++) {
        line_text(n, line, sizeof line);
        assert_int_equal(strncmp(text + at, line, strlen(line)), 0);
        at += strlen(line);
    }
    assert_int_equal(at, length);
    free(text);
    return n;
}

int64_t fixture_ask(sqlite3 *database, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    assert_int_equal(sqlite3_prepare_v2(database, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return value;
}

void fixture_execute(const char *sql)
{
    sqlite3 *database = NULL, *kept = fixture_database;
    assert_int_equal(sqlite3_open(fixture_path, &database), SQLITE_OK);
    assert_int_equal(sqlite3_exec(database, sql, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_close(database), SQLITE_OK);
    fixture_database = kept;
}

int fixture_in_child(int (*func)(void))
{
    int status = 0;
    fflush(NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        _exit(func());
    assert_int_equal(waitpid(child, &status, 0), child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 1000 + WTERMSIG(status);
}
