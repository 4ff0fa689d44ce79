/*
 * The guard around a ride that dies: which octets the machine gets and how soon,
 * what the guard makes of its answers, and what it says. This process is the machine.
 */
#include "app/guard.h"

#include <poll.h>
#include <pty.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <cmocka.h>

#include "support/guard_trial.h"

/* ---- the ride ---- */

static void is_killed(int fd)
{
    guard_trial_hold(fd);
    (void)raise(SIGKILL);
}

static void exits_under_load(int fd)
{
    guard_trial_hold(fd);
    _exit(0);
}

static void exits_seven_under_load(int fd)
{
    guard_trial_hold(fd);
    _exit(7);
}

static void exits_after_letting_go(int fd)
{
    guard_trial_hold(fd);
    guarded_let_go(&guarded);
    _exit(3);
}

static void is_killed_after_letting_go(int fd)
{
    guard_trial_hold(fd);
    guarded_name(&guarded, 12);
    guarded_let_go(&guarded);
    (void)raise(SIGKILL);
}

/* Its last link was lost, and what was on the brake may still be. */
static void is_killed_with_a_load_left_on(int fd)
{
    guard_trial_hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_let_go(&guarded);
    (void)raise(SIGKILL);
}

static void is_killed_when_that_was_let_go(int fd)
{
    guard_trial_hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_beat(&guarded);
    guarded_leave_on(&guarded, false);
    guarded_let_go(&guarded);
    (void)raise(SIGKILL);
}

static void is_ended_with_a_load_left_on(int fd)
{
    guard_trial_hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_let_go(&guarded);
    (void)raise(SIGTERM);
}

static void is_killed_on_a_knob(int fd)
{
    (void)fd;
    guarded_by_hand(&guarded, true);
    (void)raise(SIGKILL);
}

static void is_killed_off_a_knob(int fd)
{
    (void)fd;
    guarded_by_hand(&guarded, true);
    guarded_by_hand(&guarded, false);
    (void)raise(SIGKILL);
}

/* Before the ride could hear of it. */
static void is_killed_as_its_link_ends(int fd)
{
    guard_trial_hold(fd);
    (void)shutdown(fd, SHUT_RDWR);
    (void)raise(SIGKILL);
}

static void is_killed_before_anything(int fd)
{
    (void)fd;
    (void)raise(SIGKILL);
}

/* With what the machine said to its last loads still unread. */
static void is_killed_behind_answers(int fd)
{
    (void)poll(&(struct pollfd){.fd = fd, .events = POLLIN}, 1, SOON_MS);
    (void)poll(NULL, 0, 100);
    is_killed(fd);
}

static void is_killed_while_recorded(int fd)
{
    guarded_name(&guarded, 12);
    is_killed(fd);
}

/* ---- one try ---- */

struct row {
    const char *name;
    void (*ride)(int fd);
    /* What is written, and '=' what the machine sends for it; "-": nothing. In order. */
    const char *talk[16];
    int status;
    const char *says;
};

#define NO_LOAD "1D 2A 00 80 05 05"
#define BUSY    "01 12 2A 00 FE"
#define REFUSED WRITE_0_W, "=" NO_LOAD, CONFIRMED
#define WRITTEN "13"

static void plays(void **state)
{
    const struct row *row = *state;
    const struct guard_trial trial = guard_trial_begin(row->ride, -1);

    guard_trial_talk(&trial, row->talk);
    guard_trial_finish(&trial, row->status, row->says);
}

static struct row rows[] = {
    {"killed, and the machine answers",
     is_killed_while_recorded,
     {TAKEN, TAKEN, STOPPED},
     1,
     "afterset: the ride died (signal 9): " RELEASED
     "; ride 12 is saved up to its last second, the next start recovers it\n"},
    {"the first answer may be the last load's: the second one counts",
     is_killed,
     {TAKEN, REFUSED, REFUSED, REFUSED, STOPPED},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"one that refuses once and then is mute has not released",
     is_killed,
     {REFUSED, REFUSED, WRITE_0_W, WRITE_0_W, STOP, STOP},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"answers that were there before are to the last loads",
     is_killed_behind_answers,
     {"=" YES_LOAD, "=" YES_LOAD, CONFIRMED, CONFIRMED, WRITE_0_W, WRITE_0_W, STOP, STOP},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"a machine that is busy, as nobody has confirmed its last answer, is asked again",
     is_killed,
     {WRITE_0_W, "=" BUSY, CONFIRMED, TAKEN, TAKEN, STOPPED},
     1,
     "afterset: the ride died (signal 9): " RELEASED "\n"},
    {"other traffic is no answer",
     is_killed,
     {WRITE_0_W, "=1B 10 00 05 01 80 05 01", "=" WRITTEN, "=01 12 30 00 FE", "=1D 30 00 80 05 01",
      CONFIRMED, WRITE_0_W, STOP, STOP},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"an end under a load is not orderly, whatever its status",
     exits_under_load,
     {WRITE_0_W, WRITE_0_W, STOP, STOP},
     1,
     "afterset: the ride died (status 0): " UNCONFIRMED "\n"},
    {"nor does it hide one",
     exits_seven_under_load,
     {WRITE_0_W, WRITE_0_W, STOP, STOP},
     7,
     "afterset: the ride died (status 7): " UNCONFIRMED "\n"},
    {"an orderly end is none of the guard's business", exits_after_letting_go, {NULL}, 3, ""},
    {"killed with nothing on the brake any more",
     is_killed_after_letting_go,
     {NULL},
     1,
     "afterset: the ride died (signal 9): nothing was on the brake"
     "; ride 12 is saved up to its last second, the next start recovers it\n"},
    {"killed after a link was lost under a load",
     is_killed_with_a_load_left_on,
     {NULL},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"killed after that load was let go of on another link",
     is_killed_when_that_was_let_go,
     {NULL},
     1,
     "afterset: the ride died (signal 9): nothing was on the brake\n"},
    {"a polite end after a link was lost under a load",
     is_ended_with_a_load_left_on,
     {NULL},
     1,
     "afterset: the ride died (signal 15): " UNCONFIRMED "\n"},
    {"killed where the load is made by hand",
     is_killed_on_a_knob,
     {NULL},
     1,
     "afterset: the ride died (signal 9): " BY_HAND "\n"},
    {"killed when it was made by hand no more",
     is_killed_off_a_knob,
     {NULL},
     1,
     "afterset: the ride died (signal 9): nothing was on the brake\n"},
    {"killed as its link ends",
     is_killed_as_its_link_ends,
     {NULL},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"killed before there was a link",
     is_killed_before_anything,
     {NULL},
     1,
     "afterset: the ride died (signal 9): nothing was on the brake\n"},
};

static void is_told_on_where_it_refuses(void **state)
{
    static const char *const talk[] = {REFUSED, REFUSED, REFUSED, TAKEN, STOPPED, NULL};
    const struct guard_trial trial = guard_trial_begin(is_killed, -1);
    (void)state;

    guard_trial_talk(&trial, talk);
    guard_trial_finish(&trial, 1, "afterset: the ride died (signal 9): " RELEASED "\n");
}

/* Neither that anything was written nor what became of it. */
static void is_told_twice_where_it_is_mute(void **state)
{
    static const char *const talk[] = {WRITE_0_W, WRITE_0_W, STOP, STOP, NULL};
    const uint64_t began_ms = guard_now_ms();
    const struct guard_trial trial = guard_trial_begin(is_killed, -1);
    (void)state;

    guard_trial_talk(&trial, talk);
    guard_trial_finish(&trial, 1, "afterset: the ride died (signal 9): " UNCONFIRMED "\n");
    assert_in_range(guard_now_ms() - began_ms, 0, LETTING_GO_MAX_MS);
}

/* ---- the guard itself ---- */

static void on_note(void *user, const struct guard_note *note)
{
    (void)note;
    loop_stop(user);
}

static void on_alone(void *user)
{
    loop_stop(user);
}

static void lives_until_alone(int fd)
{
    struct loop *loop = loop_new(LOOP_REAL, 1.0);

    guarded_listen(&guarded, loop, on_note, on_alone, loop);
    loop_run(loop);
    (void)send(fd, "alone", 5, MSG_NOSIGNAL);
    loop_free(loop);
}

static void ride_hears_of_a_dead_guard(void **state)
{
    const struct guard_trial trial = guard_trial_begin(lives_until_alone, -1);
    int status;
    (void)state;

    (void)poll(NULL, 0, 100);
    assert_int_equal(kill(trial.guard, SIGKILL), 0);
    assert_string_equal(guard_trial_next(&trial, SOON_MS), "61 6C 6F 6E 65");
    assert_int_equal(waitpid(trial.guard, &status, 0), trial.guard);
    (void)close(trial.machine);
    (void)close(trial.errors);
}

/* ---- the terminal ---- */

static void dies_in_raw_mode(int fd)
{
    struct termios raw;

    assert_int_equal(tcgetattr(STDIN_FILENO, &raw), 0);
    cfmakeraw(&raw);
    assert_int_equal(tcsetattr(STDIN_FILENO, TCSANOW, &raw), 0);
    guarded_restore(&guarded, "<restored>");
    is_killed(fd);
}

static void terminal_is_given_back(void **state)
{
    struct termios before, after;
    char shown[64] = "";
    int master, slave;
    (void)state;

    assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
    assert_int_equal(tcgetattr(slave, &before), 0);
    const struct guard_trial trial = guard_trial_begin(dies_in_raw_mode, slave);
    guard_trial_talk(&trial, (const char *const[]){TAKEN, TAKEN, STOPPED, NULL});
    guard_trial_finish(&trial, 1, "afterset: the ride died (signal 9): " RELEASED "\n");
    assert_int_equal(tcgetattr(slave, &after), 0);
    assert_int_equal(after.c_lflag, before.c_lflag);
    assert_int_equal(after.c_iflag, before.c_iflag);
    assert_int_equal(after.c_oflag, before.c_oflag);
    assert_true(read(master, shown, sizeof shown - 1) > 0);
    assert_string_equal(shown, "<restored>");
    (void)close(master);
    (void)close(slave);
}

int main(void)
{
    struct CMUnitTest tests[sizeof rows / sizeof rows[0]];
    const struct CMUnitTest others[] = {
        cmocka_unit_test(is_told_on_where_it_refuses),
        cmocka_unit_test(is_told_twice_where_it_is_mute),
        cmocka_unit_test(ride_hears_of_a_dead_guard),
        cmocka_unit_test(terminal_is_given_back),
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tests[i] = (struct CMUnitTest){rows[i].name, plays, NULL, NULL, &rows[i]};
    const int failed = cmocka_run_group_tests_name("guard", tests, NULL, NULL);
    return failed + cmocka_run_group_tests_name("by name", others, NULL, NULL);
}
