/*
 * The loop: who is served when, and what the two clocks do.
 *
 * Callbacks note a letter each; a test compares the letters with the order it expects.
 */
#include "io/loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>
#include <fcntl.h>
#include <poll.h>
#include <unistd.h>

static struct loop *loop;
static char seen[256];
static uint64_t seen_at_ms[256];

static void note(char letter)
{
    const size_t at = strlen(seen);
    assert_true(at + 1 < sizeof seen);
    seen[at] = letter;
    seen_at_ms[at] = loop_now_ms(loop);
}

static uint64_t system_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static void start(enum loop_clock clock, double rate)
{
    loop_free(loop);
    loop = loop_new(clock, rate);
    assert_non_null(loop);
    memset(seen, 0, sizeof seen);
}

static int tear_down(void **state)
{
    (void)state;
    loop_free(loop);
    loop = NULL;
    return 0;
}

/* ---- timers ---- */

static void on_timer(void *user)
{
    note(*(const char *)user);
}

static void set_timer(uint64_t at_ms, const char *letter)
{
    assert_true(loop_set_timer(loop, at_ms, on_timer, (void *)(uintptr_t)letter) > 0);
}

static void test_timers_run_in_the_order_of_their_times(void **state)
{
    (void)state;
    start(LOOP_STEPPED, 1e6);
    set_timer(30, "c");
    set_timer(10, "a");
    set_timer(20, "b");
    loop_run(loop);
    assert_string_equal(seen, "abc");
    assert_int_equal(seen_at_ms[0], 10);
    assert_int_equal(seen_at_ms[1], 20);
    assert_int_equal(seen_at_ms[2], 30);
}

/* A rehearsal of ten hours is over at once. */
static void test_a_free_clock_waits_for_nobody(void **state)
{
    (void)state;
    start(LOOP_FREE, 1);
    set_timer(36000000, "b");
    set_timer(10, "a");
    loop_run(loop);
    assert_string_equal(seen, "ab");
    assert_int_equal(seen_at_ms[1], 36000000);
}

static void test_equal_times_run_in_the_order_they_were_set(void **state)
{
    (void)state;
    start(LOOP_STEPPED, 1e6);
    set_timer(10, "a");
    set_timer(5, "-");
    set_timer(10, "b");
    set_timer(10, "c");
    loop_run(loop);
    assert_string_equal(seen, "-abc");
}

static void test_a_time_that_has_passed_does_not_turn_the_clock_back(void **state)
{
    (void)state;
    start(LOOP_STEPPED, 1e6);
    set_timer(1000, "a");
    loop_run(loop);
    set_timer(10, "b");
    loop_run(loop);
    assert_string_equal(seen, "ab");
    assert_int_equal(seen_at_ms[1], 1000);
}

static void on_cancel(void *user)
{
    note('x');
    loop_cancel_timer(loop, *(const int *)user);
}

static void test_a_timer_cancels_another_of_its_time(void **state)
{
    int victim = 0;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    assert_true(loop_set_timer(loop, 10, on_cancel, &victim) > 0);
    victim = loop_set_timer(loop, 10, on_timer, (void *)(uintptr_t) "v");
    set_timer(10, "b");
    loop_run(loop);
    assert_string_equal(seen, "xb");
}

static void test_a_timer_may_cancel_itself(void **state)
{
    int own = 0;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    own = loop_set_timer(loop, 10, on_cancel, &own);
    loop_run(loop);
    assert_string_equal(seen, "x");
}

static void on_again(void *user)
{
    int *left = user;
    note('t');
    if (--*left > 0)
        assert_true(loop_set_timer(loop, loop_now_ms(loop) + 250, on_again, user) > 0);
}

static void test_a_timer_sets_itself_again(void **state)
{
    int left = 5;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    assert_true(loop_set_timer(loop, 250, on_again, &left) > 0);
    loop_run(loop);
    assert_string_equal(seen, "ttttt");
    assert_int_equal(seen_at_ms[4], 5 * 250);
}

/* Whoever sets timers without end must not find a place twice, or lose one. */
static void test_full_tables_say_so_and_take_again(void **state)
{
    int timers[LOOP_TIMERS_MAX], watches[LOOP_WATCHES_MAX];
    (void)state;
    start(LOOP_STEPPED, 1e6);
    for (size_t i = 0; i < LOOP_TIMERS_MAX; i++)
        assert_true((timers[i] = loop_set_timer(loop, 1, on_timer, (void *)(uintptr_t) "t")) > 0);
    for (size_t i = 0; i < LOOP_WATCHES_MAX; i++)
        assert_true((watches[i] = loop_watch(loop, 0, 0, NULL, NULL)) > 0);
    assert_int_equal(loop_set_timer(loop, 1, on_timer, NULL), 0);
    assert_int_equal(loop_watch(loop, 0, 0, NULL, NULL), 0);
    loop_cancel_timer(loop, 0); /* as a user without a timer does */
    loop_unwatch(loop, 0);
    assert_int_equal(loop_set_timer(loop, 1, on_timer, NULL), 0);
    loop_cancel_timer(loop, timers[3]);
    loop_unwatch(loop, watches[7]);
    assert_true(loop_set_timer(loop, 1, on_timer, (void *)(uintptr_t) "u") > 0);
    assert_true(loop_watch(loop, 0, 0, NULL, NULL) > 0);
    assert_int_equal(loop_watch(loop, 0, 0, NULL, NULL), 0);
}

/* ---- watches ---- */

struct ready_pipe {
    int ends[2];
    int watch;
    char letter;
};

static void on_readable(void *user, int fd, short revents)
{
    struct ready_pipe *ready = user;
    char octet;
    assert_true((revents & POLLIN) != 0);
    assert_int_equal(read(fd, &octet, 1), 1);
    note(ready->letter);
}

static void open_ready(struct ready_pipe *ready, char letter, loop_watch_func *func)
{
    assert_int_equal(pipe2(ready->ends, O_CLOEXEC), 0);
    assert_int_equal(write(ready->ends[1], "!", 1), 1);
    ready->letter = letter;
    ready->watch = loop_watch(loop, ready->ends[0], POLLIN, func, ready);
    assert_true(ready->watch > 0);
}

static void close_ready(const struct ready_pipe *ready)
{
    close(ready->ends[0]);
    close(ready->ends[1]);
}

static void on_end(void *user)
{
    (void)user;
    note('|');
    loop_stop(loop);
}

static void run_until(uint64_t at_ms)
{
    assert_true(loop_set_timer(loop, at_ms, on_end, NULL) > 0);
    loop_run(loop);
}

/* In the order of registration, not of descriptors. */
static void test_watches_are_served_in_the_order_of_registration(void **state)
{
    struct ready_pipe one, two, three;
    (void)state;
    for (int clock = LOOP_REAL; clock <= LOOP_STEPPED; clock++) {
        start((enum loop_clock)clock, 10);
        open_ready(&three, '3', on_readable);
        open_ready(&two, '2', on_readable);
        open_ready(&one, '1', on_readable);
        loop_unwatch(loop, three.watch);
        three.watch = loop_watch(loop, three.ends[0], POLLIN, on_readable, &three);
        run_until(50);
        assert_string_equal(seen, "213|");
        close_ready(&one);
        close_ready(&two);
        close_ready(&three);
    }
}

static struct ready_pipe *victim;

static void on_remove_both(void *user, int fd, short revents)
{
    const struct ready_pipe *ready = user;
    (void)fd;
    (void)revents;
    note(ready->letter);
    loop_unwatch(loop, ready->watch);
    loop_unwatch(loop, victim->watch);
}

/* The other one is ready as well and its turn is still to come. */
static void test_a_callback_removes_itself_and_another(void **state)
{
    struct ready_pipe first, second, third;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    open_ready(&first, '1', on_remove_both);
    open_ready(&second, '2', on_readable);
    open_ready(&third, '3', on_readable);
    victim = &second;
    run_until(50);
    assert_string_equal(seen, "13|");
    close_ready(&first);
    close_ready(&second);
    close_ready(&third);
}

static void on_add(void *user, int fd, short revents)
{
    on_readable(user, fd, revents);
    open_ready(victim, 'n', on_readable);
}

static void test_a_callback_adds_another(void **state)
{
    struct ready_pipe first, added;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    victim = &added;
    open_ready(&first, '1', on_add);
    run_until(50);
    assert_string_equal(seen, "1n|");
    close_ready(&first);
    close_ready(&added);
}

static void on_stop(void *user, int fd, short revents)
{
    on_readable(user, fd, revents);
    loop_stop(loop);
}

static void test_nothing_is_served_after_stop(void **state)
{
    struct ready_pipe first, second;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    open_ready(&first, '1', on_stop);
    open_ready(&second, '2', on_readable);
    set_timer(0, "t");
    loop_run(loop);
    assert_string_equal(seen, "1");
    close_ready(&first);
    close_ready(&second);
}

static void test_run_ends_when_there_is_nothing_to_wait_for(void **state)
{
    (void)state;
    start(LOOP_REAL, 1);
    loop_run(loop);
    start(LOOP_STEPPED, 1);
    loop_run(loop);
    assert_string_equal(seen, "");
}

/* ---- the stepped clock ---- */

static void on_chain(void *user, int fd, short revents)
{
    struct ready_pipe *ready = user;
    on_readable(user, fd, revents);
    if (strlen(seen) < 20)
        assert_int_equal(write(ready->ends[1], "!", 1), 1);
}

static void test_stepped_time_stands_while_there_is_something_to_do(void **state)
{
    struct ready_pipe chain;
    (void)state;
    start(LOOP_STEPPED, 1e6);
    open_ready(&chain, 'c', on_chain);
    run_until(1);
    assert_string_equal(seen, "cccccccccccccccccccc|");
    for (size_t i = 0; i < 20; i++)
        assert_int_equal(seen_at_ms[i], 0);
    close_ready(&chain);
}

static void on_tick_and_write(void *user)
{
    const struct ready_pipe *ready = user;
    note('t');
    assert_int_equal(write(ready->ends[1], "!", 1), 1);
    if (loop_now_ms(loop) < 100)
        assert_true(loop_set_timer(loop, loop_now_ms(loop) + 10, on_tick_and_write, user) > 0);
}

/* The same letters at the same times, however long the wait between them was. */
static void test_stepped_runs_are_the_same_at_every_rate(void **state)
{
    static const double rates[] = {2, 50, 1e6};
    char first_seen[sizeof seen] = "";
    uint64_t first_at_ms[256] = {0};
    (void)state;
    for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
        struct ready_pipe answers;
        start(LOOP_STEPPED, rates[i]);
        open_ready(&answers, 'a', on_readable);
        assert_true(loop_set_timer(loop, 3, on_tick_and_write, &answers) > 0);
        set_timer(45, "x");
        run_until(120);
        if (i == 0) {
            memcpy(first_seen, seen, sizeof seen);
            memcpy(first_at_ms, seen_at_ms, sizeof first_at_ms);
            assert_string_equal(seen, "atatatatataxtatatatatata|");
        }
        assert_string_equal(seen, first_seen);
        assert_memory_equal(seen_at_ms, first_at_ms, strlen(seen) * sizeof seen_at_ms[0]);
        close_ready(&answers);
    }
}

static void test_stepped_time_is_paced_by_the_rate(void **state)
{
    (void)state;
    start(LOOP_STEPPED, 10);
    const uint64_t began_ms = system_ms();
    set_timer(500, "a");
    loop_run(loop);
    const uint64_t took_ms = system_ms() - began_ms;
    assert_true(took_ms >= 49);
    assert_true(took_ms < 450); /* had it not been scaled, it would be 500 */
}

/* ---- the real clock ---- */

static void test_real_time_is_scaled_by_the_rate(void **state)
{
    (void)state;
    start(LOOP_REAL, 20);
    const uint64_t began_ms = system_ms();
    set_timer(1000, "a");
    loop_run(loop);
    const uint64_t took_ms = system_ms() - began_ms;
    assert_true(took_ms >= 49);
    assert_true(took_ms < 900);
    assert_true(seen_at_ms[0] >= 1000);
    assert_true(seen_at_ms[0] <= (took_ms + 2) * 20);
}

static void on_sleep(void *user)
{
    const struct timespec nap = {.tv_nsec = 30000000};
    const uint64_t before_ms = loop_now_ms(loop);
    (void)user;
    nanosleep(&nap, NULL);
    assert_int_equal(loop_now_ms(loop), before_ms);
    note('s');
}

static void test_real_time_stands_in_a_callback_and_then_catches_up(void **state)
{
    (void)state;
    start(LOOP_REAL, 1);
    assert_true(loop_set_timer(loop, 1, on_sleep, NULL) > 0);
    set_timer(2, "a");
    loop_run(loop);
    assert_string_equal(seen, "sa");
    assert_true(seen_at_ms[1] >= seen_at_ms[0] + 29);
}

static uint64_t give_up_at_ms;

static void on_flood(void *user, int fd, short revents)
{
    char octets[64];
    (void)user;
    (void)revents;
    assert_true(read(fd, octets, sizeof octets) > 0);
    if (system_ms() > give_up_at_ms)
        loop_stop(loop);
}

/* A peer that sends without a pause must not keep the ticks, which watch it, from running. */
static void test_a_flood_does_not_hold_up_the_timers_of_real_time(void **state)
{
    const int flood = open("/dev/zero", O_RDONLY | O_CLOEXEC);
    int ticks = 8;
    (void)state;
    assert_true(flood >= 0);
    start(LOOP_REAL, 50);
    give_up_at_ms = system_ms() + 2000;
    assert_true(loop_watch(loop, flood, POLLIN, on_flood, NULL) > 0);
    assert_true(loop_set_timer(loop, 250, on_again, &ticks) > 0);
    run_until(20000); /* 400 ms, where the ticks take 40 on a machine that is idle */
    assert_string_equal(seen, "tttttttt|");
    close(flood);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_timers_run_in_the_order_of_their_times),
        cmocka_unit_test(test_a_free_clock_waits_for_nobody),
        cmocka_unit_test(test_equal_times_run_in_the_order_they_were_set),
        cmocka_unit_test(test_a_time_that_has_passed_does_not_turn_the_clock_back),
        cmocka_unit_test(test_a_timer_cancels_another_of_its_time),
        cmocka_unit_test(test_a_timer_may_cancel_itself),
        cmocka_unit_test(test_a_timer_sets_itself_again),
        cmocka_unit_test(test_full_tables_say_so_and_take_again),
        cmocka_unit_test(test_watches_are_served_in_the_order_of_registration),
        cmocka_unit_test(test_a_callback_removes_itself_and_another),
        cmocka_unit_test(test_a_callback_adds_another),
        cmocka_unit_test(test_nothing_is_served_after_stop),
        cmocka_unit_test(test_run_ends_when_there_is_nothing_to_wait_for),
        cmocka_unit_test(test_stepped_time_stands_while_there_is_something_to_do),
        cmocka_unit_test(test_stepped_runs_are_the_same_at_every_rate),
        cmocka_unit_test(test_stepped_time_is_paced_by_the_rate),
        cmocka_unit_test(test_real_time_is_scaled_by_the_rate),
        cmocka_unit_test(test_real_time_stands_in_a_callback_and_then_catches_up),
        cmocka_unit_test(test_a_flood_does_not_hold_up_the_timers_of_real_time),
    };
    return cmocka_run_group_tests(tests, NULL, tear_down);
}
