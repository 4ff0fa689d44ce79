/*
 * The store against what happens to files: full disks, kills, other processes, strangers.
 */
#include "support/store_fixture.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/store_schema.h"

static const struct store_summary summary = {.ending = STORE_ENDING_DONE, .work_j = 50000};

/* ---- no space ---- */

static void append_second(struct store *store, size_t *n)
{
    for (size_t i = 0; i < 16; i++)
        fixture_append_line(store, (*n)++);
}

static void allow_pages(int64_t count)
{
    char sql[64];
    snprintf(sql, sizeof sql, "PRAGMA max_page_count = %lld", (long long)count);
    (void)fixture_ask(fixture_database, sql);
}

/* A disk that is full for a minute in mid-ride, and again at the end. */
static void test_full_disk(void **state)
{
    size_t n = 0, full = 0;
    (void)state;
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    append_second(store, &n);
    assert_int_equal(store_commit(store), RESULT_OK);
    allow_pages(fixture_ask(fixture_database, "PRAGMA page_count"));
    for (size_t second = 0; second < 60; second++) {
        append_second(store, &n);
        enum result result = store_commit(store);
        assert_true(result == RESULT_OK || result == RESULT_FULL);
        full += result == RESULT_FULL;
    }
    assert_true(full > 50);
    assert_string_equal(store_problem(store), "database or disk is full");
    assert_int_equal(store_end(store, id, STORE_FINISHED, &summary), RESULT_FULL);
    assert_true(fixture_count_lines(store, id) < n);
    allow_pages(1000000);
    assert_int_equal(store_commit(store), RESULT_OK);
    assert_int_equal(fixture_count_lines(store, id), n);
    append_second(store, &n);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &summary), RESULT_OK);
    assert_int_equal(fixture_count_lines(store, id), n);
    store_close(store);
}

/* The system's own refusal, through a limit on the size of files. */
static int ride_under_a_limit(void)
{
    struct rlimit limit = {.rlim_cur = 96u << 10, .rlim_max = RLIM_INFINITY};
    size_t n = 0, failed = 0;
    signal(SIGXFSZ, SIG_IGN);
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    if (setrlimit(RLIMIT_FSIZE, &limit) != 0)
        return 2;
    for (size_t second = 0; second < 60; second++) {
        append_second(store, &n);
        failed += store_commit(store) != RESULT_OK;
    }
    if (failed == 0 || fixture_count_lines(store, id) >= n)
        return 3;
    limit.rlim_cur = RLIM_INFINITY;
    if (setrlimit(RLIMIT_FSIZE, &limit) != 0 || store_commit(store) != RESULT_OK)
        return 4;
    if (fixture_count_lines(store, id) != n)
        return 5;
    store_close(store);
    return 0;
}

static void test_system_refuses(void **state)
{
    (void)state;
    assert_int_equal(fixture_in_child(ride_under_a_limit), 0);
}

static void test_busy(void **state)
{
    sqlite3 *other = NULL;
    size_t n = 0;
    (void)state;
    struct store *store = fixture_open();
    int64_t id = fixture_begin(store);
    append_second(store, &n);
    assert_int_equal(sqlite3_open(fixture_path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(store_commit(store), RESULT_BUSY);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &summary), RESULT_BUSY);
    assert_int_equal(sqlite3_exec(other, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    append_second(store, &n);
    assert_int_equal(store_commit(store), RESULT_OK);
    assert_int_equal(fixture_count_lines(store, id), n);
    sqlite3_close(other);
    store_close(store);
}

/* ---- kill -9 ---- */

/* A child that rides for ever and tells how many lines were committed; every tenth commit it ends
 * the ride and begins the next. */
static _Noreturn void ride_for_ever(int fd)
{
    struct store *store = fixture_open();
    for (;;) {
        size_t n = 0;
        int64_t id = fixture_begin(store);
        for (size_t second = 0; second < 10; second++) {
            append_second(store, &n);
            if (store_commit(store) != RESULT_OK)
                _exit(1);
            int64_t told[2] = {id, (int64_t)n};
            if (write(fd, told, sizeof told) != sizeof told)
                _exit(1);
        }
        if (store_end(store, id, STORE_FINISHED, &summary) != RESULT_OK)
            _exit(1);
    }
}

/* Kills the child a while after it has told `count` times; gives what it told last. */
static void kill_after(size_t count, useconds_t wait_us, int64_t ret_told[2])
{
    int ends[2], status = 0;
    int64_t told[2];
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        ride_for_ever(ends[1]);
    close(ends[1]);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(read(ends[0], ret_told, sizeof told), sizeof told);
    usleep(wait_us);
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
    while (read(ends[0], told, sizeof told) == sizeof told)
        memcpy(ret_told, told, sizeof told);
    close(ends[0]);
}

static void assert_whole(struct store *store, const int64_t told[2])
{
    struct store_ride ride = {0};
    for (int64_t id = told[0]; store_get(store, id, &ride) == RESULT_OK; id++) {
        size_t count = fixture_count_lines(store, id);
        assert_int_equal(count % 16, 0);
        if (id == told[0])
            assert_true((int64_t)count >= told[1]);
        if (ride.state == STORE_FINISHED)
            assert_int_equal(count, 160);
        else
            assert_int_equal(store_end(store, id, STORE_RECOVERED, &summary), RESULT_OK);
        assert_int_equal(fixture_count_lines(store, id), count);
    }
    assert_int_equal(store_next_unfinished(store, 0, &ride), RESULT_NOT_FOUND);
    assert_int_equal(fixture_ask(fixture_database, "SELECT count(*) FROM journal_chunk"), 0);
}

static void test_killed(void **state)
{
    (void)state;
    size_t unfinished = 0;
    for (size_t round = 0; round < 24; round++) {
        int64_t told[2] = {0};
        struct store_ride ride = {0};
        kill_after(1 + round % 12, (useconds_t)(round * 97 % 1500), told);
        struct store *store = fixture_open();
        unfinished += store_next_unfinished(store, 0, &ride) == RESULT_OK;
        assert_whole(store, told);
        store_close(store);
    }
    assert_true(unfinished > 0);
}

/* ---- one ride at a time ---- */

static int take_lock(void)
{
    int64_t pid = 0;
    struct store *store = fixture_open();
    enum result result = store_lock(store, &pid);
    store_close(store);
    if (result == RESULT_BUSY)
        return pid == getppid() ? 1 : 2;
    return result == RESULT_OK ? 0 : 3;
}

static int die_with_lock(void)
{
    int64_t pid = 0;
    struct store *store = fixture_open();
    if (store_lock(store, &pid) == RESULT_OK)
        raise(SIGKILL);
    return 1;
}

static void test_lock(void **state)
{
    int64_t pid = 0;
    (void)state;
    assert_int_equal(fixture_in_child(die_with_lock), 1000 + SIGKILL);
    struct store *store = fixture_open();
    assert_int_equal(store_lock(store, &pid), RESULT_OK);
    assert_int_equal(store_lock(store, &pid), RESULT_OK);
    assert_int_equal(fixture_in_child(take_lock), 1);
    store_close(store);
    assert_int_equal(fixture_in_child(take_lock), 0);
}

/* ---- whose file it is ---- */

static void assert_open_fails(enum store_mode mode, enum result expected, const char *words)
{
    char why[256] = "";
    struct store *store = NULL;
    assert_int_equal(store_open(fixture_path, mode, why, sizeof why, &store), expected);
    assert_null(store);
    assert_non_null(strstr(why, fixture_path));
    if (strstr(why, words) == NULL)
        fail_msg("'%s' is not in '%s'", words, why);
}

static void write_at(off_t at, const void *data, size_t length)
{
    int fd = open(fixture_path, O_WRONLY | O_CREAT, 0600);
    assert_true(fd >= 0);
    assert_int_equal(pwrite(fd, data, length, at), length);
    close(fd);
}

static size_t read_all(char *ret, size_t size)
{
    int fd = open(fixture_path, O_RDONLY);
    assert_true(fd >= 0);
    ssize_t got = read(fd, ret, size);
    assert_in_range(got, 1, size - 1);
    close(fd);
    return (size_t)got;
}

/* Opening fails so and leaves every octet as it was. */
static void assert_left_alone(enum result expected, const char *words)
{
    static char before[256u << 10], after[256u << 10];
    size_t length = read_all(before, sizeof before);
    assert_open_fails(STORE_CREATE, expected, words);
    assert_open_fails(STORE_EXISTING, expected, words);
    assert_int_equal(read_all(after, sizeof after), length);
    assert_memory_equal(before, after, length);
}

static void test_missing(void **state)
{
    (void)state;
    assert_open_fails(STORE_EXISTING, RESULT_NOT_FOUND, "does not exist");
    assert_int_equal(access(fixture_path, F_OK), -1);
}

static void test_no_database(void **state)
{
    (void)state;
    write_at(0, "Dear diary, today I rode.\n", 26);
    assert_left_alone(RESULT_INVALID, "move it away");
}

static void test_header_alone(void **state)
{
    (void)state;
    write_at(0, "SQLite format 3", 16);
    assert_left_alone(RESULT_INVALID, "is damaged");
}

static void test_damaged(void **state)
{
    char junk[4000];
    (void)state;
    memset(junk, 0xA5, sizeof junk);
    store_close(fixture_open());
    write_at(100, junk, sizeof junk - 100);
    assert_left_alone(RESULT_INVALID, "is damaged");
}

static void test_cut_off_file(void **state)
{
    (void)state;
    store_close(fixture_open());
    assert_int_equal(truncate(fixture_path, 5000), 0);
    assert_left_alone(RESULT_INVALID, "is damaged");
}

static void test_foreign(void **state)
{
    (void)state;
    fixture_execute("CREATE TABLE recipe (name TEXT); INSERT INTO recipe VALUES ('soup')");
    assert_left_alone(RESULT_REFUSED, "another program");
}

static void test_newer(void **state)
{
    (void)state;
    store_close(fixture_open());
    fixture_execute("PRAGMA user_version = 99");
    assert_left_alone(RESULT_UNSUPPORTED, "newer version");
}

static void test_folder_in_place(void **state)
{
    (void)state;
    assert_int_equal(mkdir(fixture_path, 0700), 0);
    assert_open_fails(STORE_CREATE, RESULT_IO, "rights");
    assert_int_equal(rmdir(fixture_path), 0);
}

static void test_pipe_in_place(void **state)
{
    (void)state;
    assert_int_equal(mkfifo(fixture_path, 0600), 0);
    assert_open_fails(STORE_CREATE, RESULT_REFUSED, "another program");
}

/* Rights do not bind root, so the child becomes nobody. */
static int open_as_nobody(void)
{
    if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
        return 1;
    assert_open_fails(STORE_CREATE, RESULT_IO, "rights");
    return 0;
}

static void test_read_only_folder(void **state)
{
    (void)state;
    assert_int_equal(chmod(fixture_folder, 0555), 0);
    assert_int_equal(fixture_in_child(open_as_nobody), 0);
    assert_int_equal(chmod(fixture_folder, 0700), 0);
    store_close(fixture_open());
    assert_int_equal(chmod(fixture_path, 0666), 0);
    assert_int_equal(chmod(fixture_folder, 0555), 0);
    assert_int_equal(fixture_in_child(open_as_nobody), 0);
    assert_int_equal(chmod(fixture_folder, 0700), 0);
}

static void test_modes(void **state)
{
    static const char *const endings[] = {"", "-wal", "-shm", ".lock"};
    int64_t pid = 0;
    (void)state;
    mode_t mask = umask(0);
    struct store *store = fixture_open();
    (void)fixture_begin(store);
    assert_int_equal(store_lock(store, &pid), RESULT_OK);
    umask(mask);
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
        char name[160];
        struct stat about;
        snprintf(name, sizeof name, "%s%s", fixture_path, endings[i]);
        assert_int_equal(stat(name, &about), 0);
        assert_int_equal(about.st_mode & 07777, 0600);
    }
    store_close(store);
}

/* ---- versions ---- */

static void test_migrates(void **state)
{
    static const char *const steps[] = {"CREATE TABLE a (x); INSERT INTO a VALUES (1)",
                                        "UPDATE a SET x = x + 10",
                                        "UPDATE a SET x = 0; CREATE TABLE a (twice)"};
    sqlite3 *database = NULL;
    (void)state;
    assert_int_equal(sqlite3_open(fixture_path, &database), SQLITE_OK);
    assert_int_equal(store_schema_migrate(database, steps, 1), RESULT_OK);
    assert_int_equal(fixture_ask(database, "SELECT x FROM a"), 1);
    assert_int_equal(store_schema_migrate(database, steps, 3), RESULT_IO);
    assert_int_equal(fixture_ask(database, "PRAGMA user_version"), 2);
    assert_int_equal(fixture_ask(database, "SELECT x FROM a"), 11);
    assert_int_equal(store_schema_migrate(database, steps, 2), RESULT_OK);
    assert_int_equal(store_schema_migrate(database, steps, 1), RESULT_UNSUPPORTED);
    assert_int_equal(fixture_ask(database, "SELECT x FROM a"), 11);
    sqlite3_close(database);
}

/* A store as the first version of this program made it, with a ride in it. */
static void test_first_version(void **state)
{
    struct store_ride ride = {0};
    sqlite3 *database = NULL;
    char *text = NULL;
    size_t length = 0;
    (void)state;
    assert_int_equal(sqlite3_open(fixture_path, &database), SQLITE_OK);
    assert_int_equal(store_schema_migrate(database, store_schema_steps, 1), RESULT_OK);
    sqlite3_close(database);
    fixture_execute("INSERT INTO ride (started_unix_s, title, bike, state, ending, duration_s,"
                    " work_j, journal, journal_length) VALUES (1750000000, 'of old', 'virtual', 1,"
                    " 'done', 421, 61234, x'789c4b040000620062', 1)");
    struct store *store = fixture_open();
    assert_int_equal(fixture_ask(fixture_database, "PRAGMA user_version"), store_schema_step_count);
    assert_int_equal(store_next_older(store, INT64_MAX, &ride), RESULT_OK);
    assert_string_equal(ride.title, "of old");
    assert_int_equal(ride.summary.work_j, 61234);
    assert_string_equal(ride.profile, "");
    assert_int_equal(ride.length_ms, 0);
    assert_int_equal(ride.feel, 0);
    assert_false(ride.is_fresh);
    assert_int_equal(ride.summary.work_power_w, 0);
    assert_int_equal(ride.summary.heart_fall_bpm, 0);
    assert_false(ride.rating.has_effort);
    assert_int_equal(store_journal(store, 1, &text, &length), RESULT_OK);
    assert_string_equal(text, "a");
    free(text);
    assert_int_equal(store_rate(store, 1, 6, "still here"), RESULT_OK);
    assert_int_equal(store_get(store, 1, &ride), RESULT_OK);
    assert_int_equal(ride.rating.effort, 6);
    assert_int_equal(fixture_begin(store), 2);
    store_close(store);
}

/* A file made by a start that ended before it could write anything. */
static void test_adopts_empty_file(void **state)
{
    (void)state;
    write_at(0, "", 0);
    struct store *store = fixture_open();
    assert_int_equal(fixture_begin(store), 1);
    assert_int_equal(fixture_ask(fixture_database, "PRAGMA user_version"), store_schema_step_count);
    store_close(store);
}

int main(void)
{
#define TEST(func) cmocka_unit_test_setup_teardown(func, fixture_set_up, fixture_tear_down)
    static const struct CMUnitTest tests[] = {
        TEST(test_full_disk),
        TEST(test_system_refuses),
        TEST(test_busy),
        TEST(test_killed),
        TEST(test_lock),
        TEST(test_missing),
        TEST(test_no_database),
        TEST(test_header_alone),
        TEST(test_damaged),
        TEST(test_cut_off_file),
        TEST(test_foreign),
        TEST(test_newer),
        TEST(test_folder_in_place),
        TEST(test_pipe_in_place),
        TEST(test_read_only_folder),
        TEST(test_modes),
        TEST(test_migrates),
        TEST(test_first_version),
        TEST(test_adopts_empty_file),
    };
#undef TEST
    return cmocka_run_group_tests_name("store: faults", tests, NULL, NULL);
}
