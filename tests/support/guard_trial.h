/*
 * A ride that is a function of the test, its guard, and this process for the machine. Octets after
 * Fitness Machine Service 1.0.1, 4.16, at an invented handle.
 */
#ifndef SUPPORT_GUARD_TRIAL_H
#define SUPPORT_GUARD_TRIAL_H

#include <sys/types.h>

#include "app/guard.h"

#define SOON_MS   1000 /* what is promised for the release */
#define WRITE_0_W "12 2A 00 05 00 00"
#define STOP      "12 2A 00 08 01"

#define YES_LOAD  "1D 2A 00 80 05 01"
#define YES_STOP  "1D 2A 00 80 08 01"
#define CONFIRMED "1E"
#define TAKEN     WRITE_0_W, "=" YES_LOAD, CONFIRMED
#define STOPPED   STOP, "=" YES_STOP, CONFIRMED

#define RELEASED "its guard has released the load and stopped the bike"
#define BY_HAND  "nothing but your hand takes the load off, ease the knob"
#define UNCONFIRMED \
    "the bike did not confirm that its load is off; turn its resistance down by hand"

struct guard_trial {
    pid_t guard;
    int machine, errors;
};

/* The ride's end, in the process of the ride. */
extern struct guarded guarded;

uint64_t guard_now_ms(void);

/* The guard is a child here, so that this process can be the machine. `terminal`: of both; or -1.
 */
struct guard_trial guard_trial_begin(void (*ride)(int fd), int terminal);
/* By the ride: a load is on. */
void guard_trial_hold(int fd);
/* The next PDU in hexadecimal, or "" after `limit_ms`, or "end". */
const char *guard_trial_next(const struct guard_trial *trial, int limit_ms);
void guard_trial_send(const struct guard_trial *trial, const char *octets);
/* What is to be written and, behind '=', what the machine sends, in order up to NULL; and then the
 * end. */
void guard_trial_talk(const struct guard_trial *trial, const char *const talk[]);
/* With that status, and those words on stderr. */
void guard_trial_finish(const struct guard_trial *trial, int expected_status,
                        const char *expected_words);

#endif
