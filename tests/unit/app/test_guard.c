/*
 * The guard around a ride that dies or stands still: which octets the machine gets and how soon,
 * what the guard makes of its answers, and what it says. This process is the machine; octets after
 * Fitness Machine Service 1.0.1, 4.16, at an invented handle.
 */
#include "app/guard.h"

#include <poll.h>
#include <pty.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>
#include <utmp.h>

#include <cmocka.h>

#include "support/octets.h"
#include "support/unwrap.h"

#define SOON_MS   1000 /* what is promised for the release */
#define WRITE_0_W "12 2A 00 05 00 00"
#define STOP      "12 2A 00 08 01"

/* ---- the ride ---- */

static struct guarded guarded;

static void hold(int fd)
{
    struct letting_go pdus = {0};

    pdus.release.length =
        (uint8_t)octets_from_text(WRITE_0_W, pdus.release.octets, ATT_MTU_DEFAULT);
    pdus.stop.length = (uint8_t)octets_from_text(STOP, pdus.stop.octets, ATT_MTU_DEFAULT);
    guarded_hold(&guarded, fd, &pdus);
}

static void is_killed(int fd)
{
    hold(fd);
    (void)raise(SIGKILL);
}

static void exits_under_load(int fd)
{
    hold(fd);
    _exit(0);
}

static void exits_seven_under_load(int fd)
{
    hold(fd);
    _exit(7);
}

static void exits_after_letting_go(int fd)
{
    hold(fd);
    guarded_let_go(&guarded);
    _exit(3);
}

static void is_killed_after_letting_go(int fd)
{
    hold(fd);
    guarded_name(&guarded, 12);
    guarded_let_go(&guarded);
    (void)raise(SIGKILL);
}

/* Its last link was lost, and what was on the brake may still be. */
static void is_killed_with_a_load_left_on(int fd)
{
    hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_let_go(&guarded);
    (void)raise(SIGKILL);
}

static void is_killed_when_that_was_let_go(int fd)
{
    hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_beat(&guarded);
    guarded_leave_on(&guarded, false);
    guarded_let_go(&guarded);
    (void)raise(SIGKILL);
}

static void is_ended_with_a_load_left_on(int fd)
{
    hold(fd);
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

/* Only a signal ends it. */
static void hangs(int fd)
{
    hold(fd);
    for (;;)
        (void)pause();
}

static void is_stopped(int fd)
{
    hold(fd);
    (void)raise(SIGSTOP);
    hangs(fd);
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

#define YES_LOAD  "1D 2A 00 80 05 01"
#define YES_STOP  "1D 2A 00 80 08 01"
#define NO_LOAD   "1D 2A 00 80 05 05"
#define BUSY      "01 12 2A 00 FE"
#define CONFIRMED "1E"
#define WRITTEN   "13"
#define TAKEN     WRITE_0_W, "=" YES_LOAD, CONFIRMED
#define STOPPED   STOP, "=" YES_STOP, CONFIRMED

#define RELEASED "its guard has released the load and stopped the bike"
#define BY_HAND  "nothing but your hand takes the load off, ease the knob"
#define UNCONFIRMED \
    "the bike did not confirm that its load is off; turn its resistance down by hand"

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

struct trial {
    pid_t guard;
    int machine, errors;
};

/* The guard is a child here, so that this process can be the machine. */
static struct trial begin(void (*ride)(int fd), int terminal)
{
    struct trial trial;
    int link[2], errors[2], status;

    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, link), 0);
    assert_int_equal(pipe(errors), 0);
    trial.guard = fork();
    if (trial.guard == 0) {
        (void)close(link[0]);
        if (terminal >= 0)
            (void)login_tty(dup(terminal));
        (void)dup2(errors[1], STDERR_FILENO);
        if (!guard_start(1.0, &guarded, &status))
            _exit(status);
        ride(link[1]);
        _exit(0);
    }
    (void)close(link[1]);
    (void)close(errors[1]);
    trial.machine = link[0];
    trial.errors = errors[0];
    return trial;
}

/* The next PDU in hexadecimal, or "" after `limit_ms`, or "end". */
static const char *next_pdu(const struct trial *trial, int limit_ms)
{
    static char text[3 * 64 + 1];
    uint8_t pdu[64];
    struct pollfd polled = {.fd = trial->machine, .events = POLLIN};

    text[0] = '\0';
    if (poll(&polled, 1, limit_ms) <= 0)
        return text;
    const ssize_t length = recv(trial->machine, pdu, sizeof pdu, 0);
    for (ssize_t i = 0; i < length; i++)
        (void)snprintf(text + strlen(text), 4, i > 0 ? " %02X" : "%02X", pdu[i]);
    return length > 0 ? text : "end";
}

static void machine_sends(const struct trial *trial, const char *octets)
{
    uint8_t pdu[64];
    const size_t length = octets_from_text(octets, pdu, sizeof pdu);
    assert_int_equal(send(trial->machine, pdu, length, MSG_NOSIGNAL), length);
}

static void finish(const struct trial *trial, int expected_status, const char *expected_words)
{
    char said[512] = "";
    int status;

    assert_int_equal(waitpid(trial->guard, &status, 0), trial->guard);
    const ssize_t length = read(trial->errors, said, sizeof said - 1);
    assert_true(length >= 0);
    assert_true(WIFEXITED(status));
    unwrap(said);
    assert_string_equal(said, expected_words);
    assert_int_equal(WEXITSTATUS(status), expected_status);
    (void)close(trial->machine);
    (void)close(trial->errors);
}

static void talk_as(const struct trial *trial, const char *const talk[])
{
    for (size_t i = 0; talk[i] != NULL; i++) {
        if (talk[i][0] == '=')
            machine_sends(trial, talk[i] + 1);
        else
            assert_string_equal(next_pdu(trial, SOON_MS), talk[i]);
    }
    assert_string_equal(next_pdu(trial, SOON_MS), "end");
}

static void plays(void **state)
{
    const struct row *row = *state;
    const struct trial trial = begin(row->ride, -1);

    talk_as(&trial, row->talk);
    finish(&trial, row->status, row->says);
}

static struct row rows[] = {
    {"killed, and the machine answers",
     is_killed_while_recorded,
     {TAKEN, TAKEN, STOPPED},
     1,
     "afterset: the ride died (signal 9): " RELEASED
     "; ride 12 is saved up to its last second, the next start recovers it\n"},
    {"killed, and the machine is mute: each twice",
     is_killed,
     {WRITE_0_W, WRITE_0_W, STOP, STOP},
     1,
     "afterset: the ride died (signal 9): " UNCONFIRMED "\n"},
    {"the first answer may be the last load's: the second one counts",
     is_killed,
     {TAKEN, WRITE_0_W, "=" NO_LOAD, CONFIRMED, STOPPED},
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
    {"killed before there was a link",
     is_killed_before_anything,
     {NULL},
     1,
     "afterset: the ride died (signal 9): nothing was on the brake\n"},
};

/* ---- rides that stand still ---- */

static void talk_normally(const struct trial *trial)
{
    static const char *const talk[] = {TAKEN, TAKEN, STOPPED, NULL};
    talk_as(trial, talk);
}

/* Wakes up for one sign of life, from before it saw what became of its link. */
static void hangs_again(int fd)
{
    hold(fd);
    (void)poll(NULL, 0, 3000);
    guarded_beat(&guarded);
    for (;;)
        (void)pause();
}

static struct row still[] = {{.ride = hangs}, {.ride = is_stopped}, {.ride = hangs_again}};

/* A signal ends what does not wake up. */
static void hanging_ride_is_let_go(void **state)
{
    const struct row *row = *state;
    const struct trial trial = begin(row->ride, -1);

    talk_normally(&trial);
    assert_int_equal(kill(trial.guard, SIGTERM), 0);
    finish(&trial, 1, "afterset: the ride stood still and was ended (signal 9): " RELEASED "\n");
}

static void is_killed_after_a_while(void **state)
{
    const struct row *row = *state;
    const uint64_t began_ms = now_ms();
    const struct trial trial = begin(row->ride, -1);

    talk_normally(&trial);
    finish(&trial, 1, "afterset: the ride stood still and was ended (signal 9): " RELEASED "\n");
    assert_in_range(now_ms() - began_ms, GUARD_WAKE_MS, GUARD_WAKE_MS + 2 * SOON_MS);
}

/* Silent twice for longer than it may be, and each time not for so long that it is ended. */
static void dozes_on_a_knob(int fd)
{
    guarded_by_hand(&guarded, true);
    for (int i = 0; i < 2; i++) {
        (void)poll(NULL, 0, GUARD_WAKE_MS / 2 + SOON_MS);
        guarded_beat(&guarded);
    }
    guarded_by_hand(&guarded, false);
    exits_after_letting_go(fd);
}

static void hangs_on_a_knob(int fd)
{
    guarded_by_hand(&guarded, true);
    (void)poll(&(struct pollfd){.fd = fd}, 1, -1);
}

static void nobody_waits_for_a_knob_in_vain(void **state)
{
    const uint64_t began_ms = now_ms();
    const struct trial dozing = begin(dozes_on_a_knob, -1), hanging = begin(hangs_on_a_knob, -1);
    (void)state;

    finish(&hanging, 1, "afterset: the ride stood still and was ended (signal 9): " BY_HAND "\n");
    assert_in_range(now_ms() - began_ms, GUARD_WAKE_MS, GUARD_WAKE_MS + 2 * SOON_MS);
    finish(&dozing, 3, "");
}

/* Somebody wakes up a stopped ride in the middle of the guard's talk. */
static void is_stopped_and_woken(int fd)
{
    const pid_t self = getpid();

    (void)send(fd, &self, sizeof self, MSG_NOSIGNAL);
    hold(fd);
    (void)raise(SIGSTOP);
    (void)send(fd, guarded_is_taken(&guarded) ? "taken" : "a load", 5, MSG_NOSIGNAL);
    guarded_let_go(&guarded); /* the link is closed when the guard is done, and no sooner */
    (void)shutdown(fd, SHUT_RDWR);
    _exit(6);
}

static void woken_ride_keeps_off_the_link(void **state)
{
    static const char *const talk[] = {"=" YES_LOAD, CONFIRMED, TAKEN, STOPPED, NULL};
    const struct trial trial = begin(is_stopped_and_woken, -1);
    pid_t ride;
    (void)state;

    assert_int_equal(recv(trial.machine, &ride, sizeof ride, 0), sizeof ride);
    assert_string_equal(next_pdu(&trial, SOON_MS), WRITE_0_W);
    assert_int_equal(kill(ride, SIGCONT), 0);
    assert_string_equal(next_pdu(&trial, SOON_MS), "74 61 6B 65 6E");
    talk_as(&trial, talk);
    finish(&trial, 6, "");
}

static int notes;

static void on_note(void *user, const struct guard_note *note)
{
    notes += note->is_confirmed ? 1 : 100;
    loop_stop(user);
}

static void on_alone(void *user)
{
    loop_stop(user);
}

/* Sleeps once and is told of it; then lives on without the link and ends by itself. */
static void sleeps_and_wakes(int fd)
{
    struct loop *loop = loop_new(LOOP_REAL, 1.0);

    guarded_listen(&guarded, loop, on_note, on_alone, loop);
    hold(fd);
    (void)poll(NULL, 0, 1500);
    loop_run(loop);
    guarded_let_go(&guarded);
    (void)poll(NULL, 0, 1500); /* with nothing on the brake it may be silent */
    guarded_close(&guarded);
    loop_free(loop);
    _exit(notes == 1 ? 42 : 1);
}

static void waking_ride_lives(void **state)
{
    const struct trial trial = begin(sleeps_and_wakes, -1);
    (void)state;

    talk_normally(&trial);
    finish(&trial, 42, "");
}

/* Beats keep the guard quiet for as long as they come. */
static void beats(int fd)
{
    hold(fd);
    for (int i = 0; i < 8; i++) {
        (void)poll(NULL, 0, 250);
        guarded_beat(&guarded);
    }
    guarded_let_go(&guarded);
    _exit(5);
}

static void living_ride_is_left_alone(void **state)
{
    const struct trial trial = begin(beats, -1);
    (void)state;

    assert_string_equal(next_pdu(&trial, 3 * SOON_MS), "end");
    finish(&trial, 5, "");
}

/* ---- the guard itself ---- */

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
    const struct trial trial = begin(lives_until_alone, -1);
    int status;
    (void)state;

    (void)poll(NULL, 0, 100);
    assert_int_equal(kill(trial.guard, SIGKILL), 0);
    assert_string_equal(next_pdu(&trial, SOON_MS), "61 6C 6F 6E 65");
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
    const struct trial trial = begin(dies_in_raw_mode, slave);
    talk_normally(&trial);
    finish(&trial, 1, "afterset: the ride died (signal 9): " RELEASED "\n");
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
        cmocka_unit_test_prestate(hanging_ride_is_let_go, &still[0]),
        cmocka_unit_test_prestate(hanging_ride_is_let_go, &still[1]),
        cmocka_unit_test_prestate(is_killed_after_a_while, &still[0]),
        cmocka_unit_test_prestate(is_killed_after_a_while, &still[2]),
        cmocka_unit_test(nobody_waits_for_a_knob_in_vain),
        cmocka_unit_test(waking_ride_lives),
        cmocka_unit_test(woken_ride_keeps_off_the_link),
        cmocka_unit_test(living_ride_is_left_alone),
        cmocka_unit_test(ride_hears_of_a_dead_guard),
        cmocka_unit_test(terminal_is_given_back),
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tests[i] = (struct CMUnitTest){rows[i].name, plays, NULL, NULL, &rows[i]};
    const int failed = cmocka_run_group_tests_name("guard", tests, NULL, NULL);
    return failed + cmocka_run_group_tests_name("standing still", others, NULL, NULL);
}
