#include "support/guard_trial.h"

#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include <utmp.h>

#include <cmocka.h>

#include "support/octets.h"
#include "support/unwrap.h"

struct guarded guarded;

uint64_t guard_now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

void guard_trial_hold(int fd)
{
    struct letting_go pdus = {0};

    pdus.release.length =
        (uint8_t)octets_from_text(WRITE_0_W, pdus.release.octets, ATT_MTU_DEFAULT);
    pdus.stop.length = (uint8_t)octets_from_text(STOP, pdus.stop.octets, ATT_MTU_DEFAULT);
    guarded_hold(&guarded, fd, &pdus);
}

struct guard_trial guard_trial_begin(void (*ride)(int fd), int terminal)
{
    struct guard_trial trial;
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

const char *guard_trial_next(const struct guard_trial *trial, int limit_ms)
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

void guard_trial_send(const struct guard_trial *trial, const char *octets)
{
    uint8_t pdu[64];
    const size_t length = octets_from_text(octets, pdu, sizeof pdu);
    assert_int_equal(send(trial->machine, pdu, length, MSG_NOSIGNAL), length);
}

void guard_trial_finish(const struct guard_trial *trial, int expected_status,
                        const char *expected_words)
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

void guard_trial_talk(const struct guard_trial *trial, const char *const talk[])
{
    for (size_t i = 0; talk[i] != NULL; i++) {
        if (talk[i][0] == '=')
            guard_trial_send(trial, talk[i] + 1);
        else
            assert_string_equal(guard_trial_next(trial, SOON_MS), talk[i]);
    }
    assert_string_equal(guard_trial_next(trial, SOON_MS), "end");
}
