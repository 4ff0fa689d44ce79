/*
 * A ride on the virtual bike, from the options to the saved journal, with the n-th write, memory
 * allocation, sync or opening of a file failing, alone or with all that follow, for every n: no
 * crash, the load goes, the exit status tells the truth, and what was saved can be read.
 *
 * This program has the calls of the C library that the ride and SQLite use under their own names,
 * and looks at what the ride writes to the bike. Under the address sanitizer every fortieth fault
 * is injected, and the ride is also looked through for leaks.
 */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "app/command.h"
#include "app/rerun.h"
#include "io/store_sqlite.h"
#include "wire/att.h"
#include "wire/ftms_control_point.h"

/* ---- what fails ---- */

enum kind { WRITE, ALLOCATION, SYNC, OPENING, KIND_COUNT };
static const char *const kind_names[KIND_COUNT] = {"write", "allocation", "sync", "opening"};
static const int kind_errors[KIND_COUNT] = {ENOSPC, ENOMEM, EIO, EMFILE};

/* Shared by the ride, which is a process of its own, and this one. */
struct shared {
    bool is_armed;
    enum kind kind;
    unsigned at; /* 0: none fails */
    bool goes_on;
    unsigned counts[KIND_COUNT];
    /* as written to the bike */
    bool was_loaded, is_loaded, is_stopped;
};
static struct shared *shared;

static bool fails(enum kind kind)
{
    if (shared == NULL || !shared->is_armed)
        return false;
    const unsigned n = ++shared->counts[kind];
    const bool is_meant = kind == shared->kind && shared->at != 0 &&
                          (shared->goes_on ? n >= shared->at : n == shared->at);
    if (is_meant)
        errno = kind_errors[kind];
    return is_meant;
}

/* The C library's own, or the sanitizer's, which must have them all. */
#ifdef __SANITIZE_ADDRESS__
void *__interceptor_malloc(size_t size);
void *__interceptor_calloc(size_t count, size_t size);
void *__interceptor_realloc(void *memory, size_t size);
#define REAL(name) __interceptor_##name
const char *__asan_default_options(void);
const char *__asan_default_options(void)
{
    return "exitcode=99";
}
/* Ten times slower: every fortieth, and every one without the sanitizer. */
#define STRIDE 40u
#else
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *memory, size_t size);
#define REAL(name) __libc_##name
#define STRIDE     1u
#endif

void *malloc(size_t size)
{
    return fails(ALLOCATION) ? NULL : REAL(malloc)(size);
}

void *calloc(size_t count, size_t size)
{
    return fails(ALLOCATION) ? NULL : REAL(calloc)(count, size);
}

void *realloc(void *memory, size_t size)
{
    return fails(ALLOCATION) ? NULL : REAL(realloc)(memory, size);
}

/* Where what went wrong is said it can be said. */
ssize_t write(int fd, const void *data, size_t length)
{
    return fd != STDERR_FILENO && fails(WRITE) ? -1 : syscall(SYS_write, fd, data, length);
}

ssize_t pwrite64(int fd, const void *data, size_t length, off_t offset)
{
    return fails(WRITE) ? -1 : syscall(SYS_pwrite64, fd, data, length, offset);
}

ssize_t pwrite(int fd, const void *data, size_t length, off_t offset)
{
    return pwrite64(fd, data, length, offset);
}

int ftruncate64(int fd, off_t length)
{
    return fails(WRITE) ? -1 : (int)syscall(SYS_ftruncate, fd, length);
}

int ftruncate(int fd, off_t length)
{
    return ftruncate64(fd, length);
}

int fsync(int fd)
{
    return fails(SYNC) ? -1 : (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd)
{
    return fails(SYNC) ? -1 : (int)syscall(SYS_fdatasync, fd);
}

int open64(const char *path, int flags, ...)
{
    va_list arguments;

    va_start(arguments, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(arguments, mode_t) : 0;
    va_end(arguments);
    return fails(OPENING) ? -1 : (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

int open(const char *path, int flags, ...)
{
    va_list arguments;

    va_start(arguments, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(arguments, mode_t) : 0;
    va_end(arguments);
    return open64(path, flags, mode);
}

FILE *fopen(const char *path, const char *mode)
{
    static FILE *(*real)(const char *, const char *);

    if (real == NULL)
        *(void **)&real = dlsym(RTLD_NEXT, "fopen");
    return fails(OPENING) ? NULL : real(path, mode);
}

/* ---- what reaches the bike ---- */

static void look_at(const uint8_t *pdu, size_t length)
{
    if (length < 5 || pdu[0] != ATT_WRITE_REQUEST)
        return;
    if (pdu[3] == FTMS_SET_POWER && length == 6) {
        shared->is_loaded = (pdu[4] | pdu[5] << 8) > 0; /* the least of the built-in bike is 0 W */
        shared->was_loaded = shared->was_loaded || shared->is_loaded;
        shared->is_stopped = false;
    }
    shared->is_stopped = shared->is_stopped || pdu[3] == FTMS_STOP_OR_PAUSE;
}

ssize_t send(int fd, const void *data, size_t length, int flags)
{
    if (shared != NULL)
        look_at(data, length);
    return syscall(SYS_sendto, fd, data, length, flags, NULL, 0);
}

/* ---- the ride ---- */

/* Stopped at the console after 12 s, ridden out until the legs stand still. */
static const char machine[] = "name Invented bike with buttons\nstop-at 12 s\n";
static const char rider[] = "name Invented rider who stops\nrest-at 13 s\nrest-for 60 s\n";
static const char profile[] = "title Invented\nlength 3:00..3:00\nwork 3:00 power 200..220 W\n";

static char folder[64], paths[4][96];
enum { PROFILE, MACHINE, RIDER, ERRORS };

static void put_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static _Noreturn void ride(void)
{
    char verb[] = "ride", rate[] = "--rate", fast[] = "10000", with[] = "--machine",
         ridden_by[] = "--virtual-rider";
    char *arguments[] = {verb,      rate,         fast,           with, paths[MACHINE],
                         ridden_by, paths[RIDER], paths[PROFILE], NULL};
    const int nowhere = open("/dev/null", O_RDWR);
    const int errors = open(paths[ERRORS], O_WRONLY | O_CREAT | O_TRUNC, 0600);

    (void)dup2(nowhere, STDIN_FILENO);
    (void)dup2(nowhere, STDOUT_FILENO);
    (void)dup2(errors, STDERR_FILENO);
    shared->is_armed = true;
    const int status = command_ride.run(8, arguments);
    shared->is_armed = false;
    exit(status);
}

static char trying[64];
#define broken(...)                    \
    do {                               \
        print_message("%s: ", trying); \
        fail_msg(__VA_ARGS__);         \
    } while (0)

static int exit_status_with(enum kind kind, unsigned at, bool goes_on)
{
    int status;

    *shared = (struct shared){.kind = kind, .at = at, .goes_on = goes_on};
    const pid_t child = fork();
    if (child == 0)
        ride();
    assert_int_equal(waitpid(child, &status, 0), child);
    if (!WIFEXITED(status))
        broken("ended by signal %d", WTERMSIG(status));
    return WEXITSTATUS(status);
}

/* ---- what must hold ---- */

static void check_words(int status)
{
    char text[4096] = "", *save = NULL;
    FILE *file = fopen(paths[ERRORS], "r");

    assert_non_null(file);
    text[fread(text, 1, sizeof text - 1, file)] = '\0';
    assert_int_equal(fclose(file), 0);
    if (status != EXIT_DONE && status != EXIT_FAILED)
        broken("status %d: %s", status, text);
    if ((status == EXIT_FAILED) != (text[0] != '\0'))
        broken("status %d, and it says '%s'", status, text);
    for (char *line = strtok_r(text, "\n", &save); line != NULL; line = strtok_r(NULL, "\n", &save))
        if (strncmp(line, "afterset: ", 10) != 0 && strncmp(line, "  ", 2) != 0) /* it goes on */
            broken("not a line for the rider: %s", line);
}

static void check_journal(struct store *store, int64_t id)
{
    static struct rerun rerun;
    struct text_fault fault;
    size_t length;
    char *text;

    assert_int_equal(store_journal(store, id, &text, &length), RESULT_OK);
    /* A ride that failed in its first second has nothing written yet. */
    if (length > 0 && rerun_journal(text, length, &rerun, &fault) != RESULT_OK)
        broken("the journal cannot be read at %u:%u: %s", fault.line, fault.column, fault.message);
    if (length > 0 && rerun.different_line != 0)
        broken("line %u: '%s', not '%s'", rerun.different_line, rerun.found, rerun.wanted);
    free(text);
}

/* The store opens again whatever happened to it, and has what the exit status promises. */
static void check_store(int status)
{
    char path[128], why[256] = "";
    struct store *store;
    struct store_ride found;
    unsigned finished = 0;

    (void)snprintf(path, sizeof path, "%s/afterset/%s", folder, STORE_FILE_NAME);
    if (access(path, F_OK) != 0) {
        assert_int_equal(status, EXIT_FAILED);
        return;
    }
    if (store_open(path, STORE_CREATE, why, sizeof why, &store) != RESULT_OK)
        broken("%s", why);
    /* By number, since one that was left at once is in no list. */
    for (int64_t id = 1; store_get(store, id, &found) == RESULT_OK; id++) {
        finished += found.state == STORE_FINISHED;
        check_journal(store, found.id);
    }
    store_close(store);
    if (status == EXIT_DONE)
        assert_int_equal(finished, 1);
}

static void remove_store(void)
{
    static const char *const names[] = {"", "-wal", "-shm", "-journal", ".lock"};
    char path[128];

    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        (void)snprintf(path, sizeof path, "%s/afterset/%s%s", folder, STORE_FILE_NAME, names[i]);
        (void)unlink(path);
    }
}

static void check(int status)
{
    check_words(status);
    if (shared->is_loaded || (shared->was_loaded && !shared->is_stopped))
        broken("the bike was left with its load");
    check_store(status);
    remove_store();
}

static unsigned injected;

static void fail_every(enum kind kind, bool goes_on)
{
    unsigned count = 0;

    for (unsigned at = 1; at == 1 || shared->counts[kind] >= at - STRIDE; at += STRIDE) {
        (void)snprintf(trying, sizeof trying, "%s %u%s", kind_names[kind], at,
                       goes_on ? " and all that follow" : "");
        const int status = exit_status_with(kind, at, goes_on);
        count += shared->counts[kind] >= at;
        check(status);
    }
    injected += count;
    print_message("%u faults injected: %s %s\n", count, kind_names[kind],
                  goes_on ? "number n and all that follow" : "number n alone");
}

static void nothing_fails(void **state)
{
    (void)state;
    const int status = exit_status_with(WRITE, 0, false);
    check(status);
    assert_int_equal(status, EXIT_DONE);
    assert_true(shared->was_loaded);
    for (unsigned kind = 0; kind < KIND_COUNT; kind++)
        assert_true(shared->counts[kind] > 0);
}

static void fails_once(void **state)
{
    fail_every(*(const enum kind *)*state, false);
}

static void fails_from_then_on(void **state)
{
    fail_every(*(const enum kind *)*state, true);
}

static int set_up(void **state)
{
    (void)state;
    shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    assert_ptr_not_equal(shared, MAP_FAILED);
    (void)strcpy(folder, access("/dev/shm", W_OK) == 0 ? "/dev/shm/afterset-faults.XXXXXX"
                                                       : "/tmp/afterset-faults.XXXXXX");
    assert_non_null(mkdtemp(folder));
    static const char *const names[] = {"profile", "machine", "rider", "errors"};
    for (size_t i = 0; i < 4; i++)
        (void)snprintf(paths[i], sizeof paths[i], "%s/%s", folder, names[i]);
    put_file(paths[PROFILE], profile);
    put_file(paths[MACHINE], machine);
    put_file(paths[RIDER], rider);
    for (const char *const *name = (const char *const[]){"HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME",
                                                         "XDG_CACHE_HOME", "TMPDIR", NULL};
         *name != NULL; name++)
        assert_int_equal(setenv(*name, folder, 1), 0);
    return 0;
}

static int tear_down(void **state)
{
    char command[96];
    (void)state;
    (void)snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

int main(void)
{
    static enum kind kinds[] = {WRITE, ALLOCATION, SYNC, OPENING};
    struct CMUnitTest tests[1 + 2 * KIND_COUNT] = {cmocka_unit_test(nothing_fails)};

    for (size_t i = 0; i < KIND_COUNT; i++) {
        tests[1 + 2 * i] = (struct CMUnitTest){kind_names[i], fails_once, NULL, NULL, &kinds[i]};
        tests[2 + 2 * i] =
            (struct CMUnitTest){kind_names[i], fails_from_then_on, NULL, NULL, &kinds[i]};
    }
    const int failed = cmocka_run_group_tests_name("faults", tests, set_up, tear_down);
    print_message("%u faults injected in all\n", injected);
    return failed;
}
