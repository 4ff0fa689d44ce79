/*
 * The guard around a ride that stands still, is only slow, or wakes up. As in test_guard.c this
 * process is the machine.
 */
#include "app/guard.h"

#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#include "support/guard_trial.h"

/* Only a signal ends it. */
static void hangs(int fd)
{
    guard_trial_hold(fd);
    for (;;)
        (void)pause();
}

static void is_stopped(int fd)
{
    guard_trial_hold(fd);
    (void)raise(SIGSTOP);
    hangs(fd);
}

/* ---- rides that stand still ---- */

static void talk_normally(const struct guard_trial *trial)
{
    static const char *const talk[] = {TAKEN, TAKEN, STOPPED, NULL};
    guard_trial_talk(trial, talk);
}

/* Wakes up for one sign of life, from before it saw what became of its link. */
static void hangs_again(int fd)
{
    guard_trial_hold(fd);
    (void)poll(NULL, 0, 3000);
    guarded_beat(&guarded);
    for (;;)
        (void)pause();
}

static struct still {
    void (*ride)(int fd);
} still[] = {{.ride = hangs}, {.ride = is_stopped}, {.ride = hangs_again}};

/* A signal ends what does not wake up. */
static void hanging_ride_is_let_go(void **state)
{
    const struct still *row = *state;
    const struct guard_trial trial = guard_trial_begin(row->ride, -1);

    talk_normally(&trial);
    assert_int_equal(kill(trial.guard, SIGTERM), 0);
    guard_trial_finish(&trial, 1,
                       "afterset: the ride stood still and was ended (signal 9): " RELEASED "\n");
}

static void is_killed_after_a_while(void **state)
{
    const struct still *row = *state;
    const uint64_t began_ms = guard_now_ms();
    const struct guard_trial trial = guard_trial_begin(row->ride, -1);

    talk_normally(&trial);
    guard_trial_finish(&trial, 1,
                       "afterset: the ride stood still and was ended (signal 9): " RELEASED "\n");
    assert_in_range(guard_now_ms() - began_ms, GUARD_WAKE_MS, GUARD_WAKE_MS + 2 * SOON_MS);
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
    guard_trial_hold(fd);
    guarded_let_go(&guarded);
    _exit(3);
}

static void hangs_on_a_knob(int fd)
{
    guarded_by_hand(&guarded, true);
    (void)poll(&(struct pollfd){.fd = fd}, 1, -1);
}

static void nobody_waits_for_a_knob_in_vain(void **state)
{
    const uint64_t began_ms = guard_now_ms();
    const struct guard_trial dozing = guard_trial_begin(dozes_on_a_knob, -1),
                             hanging = guard_trial_begin(hangs_on_a_knob, -1);
    (void)state;

    guard_trial_finish(&hanging, 1,
                       "afterset: the ride stood still and was ended (signal 9): " BY_HAND "\n");
    assert_in_range(guard_now_ms() - began_ms, GUARD_WAKE_MS, GUARD_WAKE_MS + 2 * SOON_MS);
    guard_trial_finish(&dozing, 3, "");
}

/* Somebody wakes up a stopped ride in the middle of the guard's talk. */
static void is_stopped_and_woken(int fd)
{
    const pid_t self = getpid();

    (void)send(fd, &self, sizeof self, MSG_NOSIGNAL);
    guard_trial_hold(fd);
    (void)raise(SIGSTOP);
    (void)send(fd, guarded_is_taken(&guarded) ? "taken" : "a load", 5, MSG_NOSIGNAL);
    guarded_let_go(&guarded); /* the link is closed when the guard is done, and no sooner */
    (void)shutdown(fd, SHUT_RDWR);
    _exit(6);
}

static void woken_ride_keeps_off_the_link(void **state)
{
    static const char *const talk[] = {"=" YES_LOAD, CONFIRMED, TAKEN, STOPPED, NULL};
    const struct guard_trial trial = guard_trial_begin(is_stopped_and_woken, -1);
    pid_t ride;
    (void)state;

    assert_int_equal(recv(trial.machine, &ride, sizeof ride, 0), sizeof ride);
    assert_string_equal(guard_trial_next(&trial, SOON_MS), WRITE_0_W);
    assert_int_equal(kill(ride, SIGCONT), 0);
    assert_string_equal(guard_trial_next(&trial, SOON_MS), "74 61 6B 65 6E");
    guard_trial_talk(&trial, talk);
    guard_trial_finish(&trial, 6, "");
}

/* Its link was lost under a load; it calls again, and hangs. */
static void hangs_with_a_load_left_on(int fd)
{
    guard_trial_hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_let_go(&guarded);
    (void)poll(&(struct pollfd){.fd = fd}, 1, -1);
}

/* Twice, and each time not for so long that it is ended. */
static void dozes_with_a_load_left_on(int fd)
{
    guard_trial_hold(fd);
    guarded_leave_on(&guarded, true);
    guarded_let_go(&guarded);
    for (int i = 0; i < 2; i++) {
        (void)poll(NULL, 0, GUARD_WAKE_MS / 2 + SOON_MS);
        guarded_beat(&guarded);
    }
    guarded_leave_on(&guarded, false);
    (void)poll(NULL, 0, 250);
    guarded_beat(&guarded);
    (void)poll(NULL, 0, GUARD_WAKE_MS + 2 * SOON_MS); /* with nothing on it may be silent */
    _exit(4);
}

static void nobody_waits_for_a_link_in_vain(void **state)
{
    const uint64_t began_ms = guard_now_ms();
    const struct guard_trial dozing = guard_trial_begin(dozes_with_a_load_left_on, -1),
                             hanging = guard_trial_begin(hangs_with_a_load_left_on, -1);
    (void)state;

    guard_trial_finish(
        &hanging, 1, "afterset: the ride stood still and was ended (signal 9): " UNCONFIRMED "\n");
    assert_in_range(guard_now_ms() - began_ms, GUARD_WAKE_MS, GUARD_WAKE_MS + 2 * SOON_MS);
    guard_trial_finish(&dozing, 4, "");
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
    guard_trial_hold(fd);
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
    const struct guard_trial trial = guard_trial_begin(sleeps_and_wakes, -1);
    (void)state;

    talk_normally(&trial);
    guard_trial_finish(&trial, 42, "");
}

/* Beats keep the guard quiet for as long as they come. */
static void beats(int fd)
{
    guard_trial_hold(fd);
    for (int i = 0; i < 8; i++) {
        (void)poll(NULL, 0, 250);
        guarded_beat(&guarded);
    }
    guarded_let_go(&guarded);
    _exit(5);
}

static void living_ride_is_left_alone(void **state)
{
    const struct guard_trial trial = guard_trial_begin(beats, -1);
    (void)state;

    assert_string_equal(guard_trial_next(&trial, 3 * SOON_MS), "end");
    guard_trial_finish(&trial, 5, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(hanging_ride_is_let_go, &still[0]),
        cmocka_unit_test_prestate(hanging_ride_is_let_go, &still[1]),
        cmocka_unit_test_prestate(is_killed_after_a_while, &still[0]),
        cmocka_unit_test_prestate(is_killed_after_a_while, &still[2]),
        cmocka_unit_test(nobody_waits_for_a_knob_in_vain),
        cmocka_unit_test(nobody_waits_for_a_link_in_vain),
        cmocka_unit_test(waking_ride_lives),
        cmocka_unit_test(woken_ride_keeps_off_the_link),
        cmocka_unit_test(living_ride_is_left_alone),
    };
    return cmocka_run_group_tests_name("standing still", tests, NULL, NULL);
}
