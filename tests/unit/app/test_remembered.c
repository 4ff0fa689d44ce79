/*
 * afterset log and afterset show over a store of three invented rides.
 */
#include "support/store_fixture.h"
#include "support/unwrap.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"

/* Weak: the program's own take their place where they are linked. */
__attribute__((weak)) void complain(const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    fputs("afterset: ", stderr);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
}

__attribute__((weak)) bool data_path(const char *name, char *ret, size_t size)
{
    snprintf(ret, size, "%s/afterset/%s", getenv("XDG_DATA_HOME"), name);
    return true;
}

static char link_path[96];

static int set_up(void **state)
{
    if (fixture_set_up(state) != 0)
        return -1;
    snprintf(link_path, sizeof link_path, "%s/afterset", fixture_folder);
    setenv("XDG_DATA_HOME", fixture_folder, 1);
    setenv("XDG_CONFIG_HOME", fixture_folder, 1);
    setenv("TZ", "UTC", 1);
    return symlink(".", link_path);
}

static int tear_down(void **state)
{
    unlink(link_path);
    return fixture_tear_down(state);
}

/* What a run of a command came to. */
static struct {
    int status;
    char out[8192], err[1024];
} run;

static int redirect(int fd, int *ret_kept)
{
    char name[] = "/tmp/test_remembered.XXXXXX";
    int file = mkstemp(name);
    assert_true(file >= 0);
    unlink(name);
    *ret_kept = dup(fd);
    assert_int_equal(dup2(file, fd), fd);
    return file;
}

static void restore(int fd, int kept, int file, char *ret, size_t size)
{
    ssize_t got = pread(file, ret, size - 1, 0);
    ret[got > 0 ? got : 0] = '\0';
    dup2(kept, fd);
    close(kept);
    close(file);
}

/* Splits `line` at its blanks. */
static void run_command(const char *line)
{
    char words[128], *argv[8] = {NULL};
    int argc = 0, kept_out = -1, kept_err = -1;
    snprintf(words, sizeof words, "%s", line);
    for (char *word = strtok(words, " "); word != NULL; word = strtok(NULL, " "))
        argv[argc++] = word;
    fflush(NULL);
    int out = redirect(STDOUT_FILENO, &kept_out), err = redirect(STDERR_FILENO, &kept_err);
    const struct command *command = strcmp(argv[0], "log") == 0 ? &command_log : &command_show;
    run.status = command->run(argc, argv);
    fflush(NULL);
    restore(STDOUT_FILENO, kept_out, out, run.out, sizeof run.out);
    restore(STDERR_FILENO, kept_err, err, run.err, sizeof run.err);
    unwrap(run.err);
}

/* 1750000000 is 2025-06-15 15:06:40 UTC. */
static void remember_three(void)
{
    static const struct store_summary done = {.ending = STORE_ENDING_DONE,
                                              .duration_s = 421,
                                              .work_j = 61234,
                                              .average_power_w = 243,
                                              .distance_m = 3120,
                                              .calories_kcal = 62,
                                              .calories_low_kcal = 55,
                                              .calories_high_kcal = 70,
                                              .has_in_range = true,
                                              .in_range_pct = 91,
                                              .average_heart_bpm = 148,
                                              .max_heart_bpm = 181,
                                              .best_5s_w = 702};
    static const struct store_summary cut = {
        .ending = STORE_ENDING_CUT_OFF, .reason = "heart rate above the limit", .duration_s = 30};
    for (int i = 0; i < 3; i++) {
        struct store *store = fixture_open();
        int64_t id = fixture_begin(store);
        fixture_append_line(store, 0);
        assert_int_equal(store_commit(store), RESULT_OK);
        if (i < 2)
            assert_int_equal(store_end(store, id, STORE_FINISHED, i == 0 ? &done : &cut),
                             RESULT_OK);
        store_close(store);
    }
}

struct row {
    const char *line;
    int status;
    const char *out, *err; /* must be in what is printed; NULL: nothing is */
};

static struct row rows[] = {
    {"log", EXIT_DONE, " 2 Jun to 15 Jun 2025   3 blocks, 61.2 kJ, 62 kcal\n", NULL},
    {"log", EXIT_DONE,
     "Sun 15 +1\n ride                                                                 2    3\n",
     NULL},
    {"log --before 2025-06-15", EXIT_DONE, " 2 Jun to 15 Jun 2025   3 blocks", NULL},
    {"log --before 2025-06-16 --weeks 1", EXIT_DONE, " 9 Jun to 15 Jun 2025   3 blocks", NULL},
    {"log --before 2025-06-09", EXIT_DONE, " 26 May to 8 Jun 2025   no blocks\n", NULL},
    {"log --weeks 8", EXIT_DONE, " 21 Apr to 15 Jun 2025   3 blocks", NULL},
    {"log --bike else", EXIT_FAILED, NULL, "--bike 'else': there is no such ride; there are '"},
    {"log --after fresh", EXIT_DONE, " only fresh\n", NULL},
    {"log --last 3", EXIT_DONE, "\n   3  2025-06-15 15:06  Twenty on, ten off ", NULL},
    {"log --last 3", EXIT_DONE, "Twenty on, ten off   7:01   61.2   243    62  done\n", NULL},
    {"log --last 3", EXIT_DONE, "     -      -     -     -  unfinished\n", NULL},
    {"log --last 3 --jsonl", EXIT_DONE, "\"end\":\"cut_off\",\"reason\":\"heart rate above", NULL},
    {"log --jsonl", EXIT_DONE, "\"verdict\":\"learning\"}\n", NULL},
    {"log --jsonl --last 1", EXIT_DONE, "\"note\":null,\"verdict\":null}\n", NULL},
    {"log --jsonl --before 2025-06-09", EXIT_DONE, NULL, NULL},
    {"log --jsonl --after fresh", EXIT_DONE, NULL, NULL},
    {"log --last 5 --bike else", EXIT_FAILED, NULL, "--bike 'else': there is no such ride"},
    {"log --last 0", EXIT_WRONG_USE, NULL, "--last takes a number from 1, not '0'"},
    {"log --last 1x", EXIT_WRONG_USE, NULL, "not '1x'"},
    {"log --last 9999999999999999999", EXIT_WRONG_USE, NULL, "--last takes a number"},
    {"log --last", EXIT_WRONG_USE, NULL, "--last needs a number"},
    {"log --before 2025-02-29", EXIT_WRONG_USE, NULL, "--before takes a day such as 2025-11-10"},
    {"log --before 9.6.2025", EXIT_WRONG_USE, NULL, "--before takes a day such as 2025-11-10"},
    {"log --before", EXIT_WRONG_USE, NULL, "--before needs a word behind it"},
    {"log --weeks 9", EXIT_WRONG_USE, NULL, "log: --weeks wants a whole number from 1 to 8"},
    {"log --after work", EXIT_WRONG_USE, NULL, "--after takes fresh or legs, not 'work'"},
    {"log --all", EXIT_WRONG_USE, NULL, "unknown option --all; see afterset log --help"},
    {"log 3", EXIT_WRONG_USE, NULL, "'3' is one too many"},
    {"show 1", EXIT_DONE, "  Burnt          62 kcal, between 55 and 70\n", NULL},
    {"show 1", EXIT_DONE, "  Time           7 min 01 s\n  Work           61.2 kJ\n", NULL},
    {"show 1", EXIT_DONE, "  Best power     702 W in 5 s\n", NULL},
    {"show 2", EXIT_DONE, "  End            cut off: heart rate above the limit\n", NULL},
    {"show 1 --jsonl", EXIT_DONE, "\"work_j\":61234,", NULL},
    {"show 1 --jsonl", EXIT_DONE, "\"best_180s_w\":null,", NULL},
    {"show 3 --jsonl", EXIT_DONE, "\"state\":\"riding\",\"end\":null,\"after\":\"legs\",", NULL},
    {"show --journal 1", EXIT_DONE, "0 data power=200 cadence=85 heart=120\n", NULL},
    {"show --journal 3", EXIT_DONE, "0 data power=200 cadence=85 heart=120\n", NULL},
    {"show 4", EXIT_FAILED, NULL, "there is no ride 4"},
    {"show --journal 4", EXIT_FAILED, NULL, "there is no ride 4"},
    {"show", EXIT_WRONG_USE, NULL, "the number of one ride"},
    {"show 1 2", EXIT_WRONG_USE, NULL, "the number of one ride"},
    {"show one", EXIT_WRONG_USE, NULL, "'one' is not the number"},
    {"show 1 --jsonl --journal", EXIT_WRONG_USE, NULL, "exclude each other"},
    {"show 1 --all", EXIT_WRONG_USE, NULL, "unknown option --all; see afterset show --help"},
};

static void assert_printed(const char *text, const char *expected)
{
    if (expected == NULL)
        assert_string_equal(text, "");
    else if (strstr(text, expected) == NULL)
        fail_msg("'%s' is not in '%s'", expected, text);
}

static void test_row(void **state)
{
    const struct row *row = *state;
    void *nothing = NULL;
    assert_int_equal(set_up(&nothing), 0);
    remember_three();
    run_command(row->line);
    assert_int_equal(run.status, row->status);
    assert_printed(run.out, row->out);
    assert_printed(run.err, row->err);
    assert_int_equal(tear_down(&nothing), 0);
}

static size_t count_lines(const char *text)
{
    size_t count = 0;
    for (; *text != '\0'; text++)
        count += *text == '\n';
    return count;
}

static void test_no_store(void **state)
{
    (void)state;
    run_command("log");
    assert_int_equal(run.status, EXIT_DONE);
    assert_printed(run.out, "No rides yet.");
    run_command("log --jsonl");
    assert_int_equal(run.status, EXIT_DONE);
    assert_printed(run.out, NULL);
    run_command("show 1");
    assert_int_equal(run.status, EXIT_FAILED);
    assert_printed(run.err, "there is no ride 1");
    assert_int_equal(access(fixture_path, F_OK), -1);
}

static void test_damaged_store(void **state)
{
    (void)state;
    int fd = open(fixture_path, O_WRONLY | O_CREAT, 0600);
    assert_int_equal(write(fd, "junk", 4), 4);
    close(fd);
    run_command("log");
    assert_int_equal(run.status, EXIT_FAILED);
    assert_printed(run.out, NULL);
    assert_printed(run.err, "move it away");
    assert_int_equal(count_lines(run.err), 1);
}

/* 80 columns, for the longest title there is. */
static void test_fits_a_terminal(void **state)
{
    struct store_ride ride = {.started_unix_s = 1750000000};
    int64_t id = 0;
    (void)state;
    memset(ride.title, 'x', PLAN_TITLE_MAX);
    for (int i = 0; i < 21; i++) {
        struct store *store = fixture_open();
        assert_int_equal(store_begin(store, &ride, &id), RESULT_OK);
        store_close(store);
    }
    run_command("log --last 20");
    assert_int_equal(count_lines(run.out), 1 + 20);
    const char *row = strchr(run.out, '\n') + 1;
    size_t ellipsis_octets = 3; /* U+2026, one column */
    assert_in_range(strcspn(row, "\n") - ellipsis_octets + 1, 70, 80);
    run_command("log");
    for (const char *line = run.out; *line != '\0'; line += strcspn(line, "\n") + 1)
        assert_in_range(strcspn(line, "\n"), 0, 80);
}

int main(void)
{
    enum { ROWS = sizeof rows / sizeof rows[0] };
    static const struct CMUnitTest plain[] = {
        cmocka_unit_test_setup_teardown(test_no_store, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_damaged_store, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_fits_a_terminal, set_up, tear_down),
    };
    struct CMUnitTest tests[ROWS] = {{0}};
    for (size_t i = 0; i < ROWS; i++)
        tests[i] = (struct CMUnitTest){
            .name = rows[i].line, .test_func = test_row, .initial_state = &rows[i]};
    int failed = cmocka_run_group_tests_name("remembered", plain, NULL, NULL);
    return failed + cmocka_run_group_tests_name("remembered: lines", tests, NULL, NULL);
}
