/*
 * Text on its way to readers that are slow, stand still or are gone.
 */
#include "io/output.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#define LINE_LENGTH 50u

static struct loop *loop;
static struct output *output;
static int reader, writer;
static unsigned gone;
static int gone_error;

static void on_gone(void *user, int error)
{
    assert_ptr_equal(user, &gone);
    gone++;
    gone_error = error;
    output_put(output, "nobody reads this", 17); /* as a ride does that ends because of it */
}

static int set_up(void **state)
{
    int ends[2];
    (void)state;
    gone = 0;
    gone_error = -1;
    if (pipe2(ends, O_CLOEXEC) != 0)
        return -1;
    reader = ends[0];
    writer = ends[1];
    loop = loop_new(LOOP_REAL, 1);
    output = output_new(loop, writer, on_gone, &gone);
    return loop != NULL && output != NULL ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    output_free(output);
    loop_free(loop);
    close(reader);
    close(writer);
    return 0;
}

static uint64_t system_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

/* Line `n` can be told from every other one. */
static void make_line(unsigned n, char *ret)
{
    (void)snprintf(ret, LINE_LENGTH + 1, "%*u\n", (int)LINE_LENGTH - 1, n);
}

static void put_lines(unsigned first, unsigned count)
{
    char line[LINE_LENGTH + 1];
    for (unsigned n = first; n < first + count; n++) {
        make_line(n, line);
        output_put(output, line, LINE_LENGTH);
    }
}

/* Lines `first` and up, as they come, until there is nothing in the pipe; how many. */
static unsigned read_lines(unsigned first)
{
    char line[LINE_LENGTH + 1], wanted[LINE_LENGTH + 1];
    struct pollfd polled = {.fd = reader, .events = POLLIN};
    unsigned n = first;
    size_t have = 0;

    while (poll(&polled, 1, 0) > 0) {
        const ssize_t part = read(reader, line + have, LINE_LENGTH - have);
        if (part <= 0)
            break;
        have += (size_t)part;
        if (have < LINE_LENGTH)
            continue;
        line[LINE_LENGTH] = '\0';
        make_line(n++, wanted);
        assert_string_equal(line, wanted);
        have = 0;
    }
    assert_int_equal(have, 0);
    return n - first;
}

static void on_timer(void *user)
{
    (void)user;
    loop_stop(loop);
}

static void test_text_is_there_at_once(void **state)
{
    (void)state;
    put_lines(0, 3);
    assert_int_equal(read_lines(0), 3);
    output_put(output, "", 0);
    loop_run(loop); /* nothing is left to wait for, so it ends by itself */
    assert_int_equal(gone, 0);
}

static unsigned lines_read;

static void on_readable(void *user, int fd, short revents)
{
    const unsigned *all = user;
    char piece[LINE_LENGTH], wanted[LINE_LENGTH + 1];
    (void)revents;
    assert_int_equal(read(fd, piece, sizeof piece), sizeof piece);
    make_line(lines_read++, wanted);
    assert_memory_equal(piece, wanted, sizeof piece);
    if (lines_read == *all)
        loop_stop(loop);
}

/* Ten times what a pipe holds: none lost, none twice, in order, and put() did not wait. */
static void test_what_a_full_pipe_does_not_take_is_kept(void **state)
{
    unsigned all = 16000;
    (void)state;
    lines_read = 0;
    const uint64_t began_ms = system_ms();
    put_lines(0, all);
    assert_true(system_ms() - began_ms < 5000);
    assert_true(loop_watch(loop, reader, POLLIN, on_readable, &all) > 0);
    assert_true(loop_set_timer(loop, 20000, on_timer, NULL) > 0);
    loop_run(loop);
    assert_int_equal(lines_read, all);
    assert_int_equal(gone, 0);
}

/* The pipe is shared with others, who may have asked for nothing of the kind. */
static unsigned taken;

static void on_taken(void *user)
{
    assert_ptr_equal(user, &taken);
    assert_false(output_is_behind(output));
    taken++;
    loop_stop(loop);
}

/* Who draws frames leaves them out meanwhile, and is told when to go on. */
static void test_it_tells_when_a_slow_reader_has_taken_all(void **state)
{
    (void)state;
    taken = 0;
    output_on_taken(output, on_taken, &taken);
    put_lines(0, 10);
    assert_false(output_is_behind(output));
    assert_int_equal(taken, 0);
    put_lines(10, 2000);
    assert_true(output_is_behind(output));
    const unsigned first = read_lines(0);
    loop_run(loop);
    assert_int_equal(taken, 1);
    assert_int_equal(first + read_lines(first), 2010);
}

static void test_the_descriptor_stays_as_it_was(void **state)
{
    (void)state;
    put_lines(0, 4000);
    assert_int_equal(fcntl(writer, F_GETFL) & O_NONBLOCK, 0);
}

static void test_a_reader_who_leaves_is_told_once(void **state)
{
    (void)state;
    close(reader);
    put_lines(0, 3);
    assert_int_equal(gone, 1);
    assert_int_equal(gone_error, 0);
    reader = -1;
}

/* Nothing is put any more; the loop finds out. */
static void test_a_reader_who_leaves_a_full_pipe(void **state)
{
    (void)state;
    put_lines(0, 4000);
    assert_int_equal(gone, 0);
    close(reader);
    reader = -1;
    loop_run(loop); /* ends when nobody is to be written to any more */
    assert_int_equal(gone, 1);
}

static void test_a_reader_who_never_reads_counts_as_gone_at_the_limit(void **state)
{
    const unsigned limit = OUTPUT_KEPT_MAX / LINE_LENGTH;
    (void)state;
    put_lines(0, limit);
    assert_int_equal(gone, 0);
    put_lines(limit, 100000 / LINE_LENGTH); /* more than a pipe holds besides */
    assert_int_equal(gone, 1);
    assert_int_equal(gone_error, 0);
}

static void test_flush_gives_up_on_a_reader_who_stands_still(void **state)
{
    (void)state;
    put_lines(0, 4000);
    const uint64_t began_ms = system_ms();
    output_flush(output, 50);
    const uint64_t took_ms = system_ms() - began_ms;
    assert_true(took_ms >= 49);
    assert_true(took_ms < 5000);
    assert_true(read_lines(0) > 1000);
}

/* Whoever takes a little now and then does not get more time than one who takes nothing. */
static void test_flush_gives_up_on_a_slow_reader(void **state)
{
    const struct timespec pause = {.tv_nsec = 20000000};
    char piece[4096];
    (void)state;
    put_lines(0, 40000);
    const pid_t child = fork();
    if (child == 0) {
        close(writer);
        for (int i = 0; i < 500 && read(reader, piece, sizeof piece) > 0; i++)
            (void)nanosleep(&pause, NULL);
        _exit(0);
    }
    assert_true(child > 0);
    const uint64_t began_ms = system_ms();
    output_flush(output, 100);
    assert_true(system_ms() - began_ms < 2000); /* all of it would take ten seconds */
    (void)kill(child, SIGKILL);
    assert_int_equal(waitpid(child, NULL, 0), child);
}

/* poll() says of a terminal that it takes something when it takes one octet; a terminal that stands
 * still must not hold a ride up all the same. */
static void test_a_terminal_that_stands_still_does_not_block(void **state)
{
    const int master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    (void)state;
    assert_true(master >= 0);
    assert_int_equal(grantpt(master), 0);
    assert_int_equal(unlockpt(master), 0);
    const int terminal = open(ptsname(master), O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(terminal >= 0);
    output_free(output);
    output = output_new(loop, terminal, on_gone, &gone);
    (void)alarm(20); /* a block would last for ever */
    put_lines(0, 10000);
    output_free(output);
    (void)alarm(0);
    output = NULL;
    assert_int_equal(gone, 0);
    close(terminal);
    close(master);
}

/* Nobody reads a full disk either, but nobody has gone: there is something to be said about it. */
static void test_a_full_disk_is_told_with_its_error(void **state)
{
    const int full = open("/dev/full", O_WRONLY | O_CLOEXEC);
    (void)state;
    assert_true(full >= 0);
    output_free(output);
    output = output_new(loop, full, on_gone, &gone);
    put_lines(0, 3);
    assert_int_equal(gone, 1);
    assert_int_equal(gone_error, ENOSPC);
    close(full);
}

/* For whoever must not wait: nothing is written before the loop's turn. */
static void test_what_is_kept_is_written_by_the_loop(void **state)
{
    char line[LINE_LENGTH + 1];
    (void)state;
    make_line(0, line);
    output_keep(output, line, LINE_LENGTH);
    assert_int_equal(read_lines(0), 0);
    loop_run(loop);
    assert_int_equal(read_lines(0), 1);
    output_keep(output, line, LINE_LENGTH);
    output_flush(output, 0);
    assert_int_equal(read_lines(0), 1);
    loop_run(loop); /* nothing is left, so it ends by itself */
}

/* What a file holds already is not written over: `afterset ride … >> file`. */
static void test_a_file_is_written_where_it_stands(void **state)
{
    FILE *file = tmpfile();
    char text[32] = "";
    (void)state;
    assert_non_null(file);
    assert_int_equal(write(fileno(file), "before ", 7), 7);
    output_free(output);
    output = output_new(loop, fileno(file), on_gone, &gone);
    output_put(output, "after", 5);
    assert_int_equal(write(fileno(file), " it", 3), 3);
    assert_int_equal(pread(fileno(file), text, sizeof text - 1, 0), 15);
    assert_string_equal(text, "before after it");
    output_free(output);
    output = NULL;
    fclose(file);
}

#define TEST(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_text_is_there_at_once),
        TEST(test_what_a_full_pipe_does_not_take_is_kept),
        TEST(test_it_tells_when_a_slow_reader_has_taken_all),
        TEST(test_the_descriptor_stays_as_it_was),
        TEST(test_a_reader_who_leaves_is_told_once),
        TEST(test_a_reader_who_leaves_a_full_pipe),
        TEST(test_a_reader_who_never_reads_counts_as_gone_at_the_limit),
        TEST(test_flush_gives_up_on_a_reader_who_stands_still),
        TEST(test_flush_gives_up_on_a_slow_reader),
        TEST(test_a_terminal_that_stands_still_does_not_block),
        TEST(test_a_full_disk_is_told_with_its_error),
        TEST(test_what_is_kept_is_written_by_the_loop),
        TEST(test_a_file_is_written_where_it_stands),
    };
    (void)signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
