/*
 * The control procedures of one ride: ask for control, start, keep the machine at the load that
 * safety allows, notice when it does not answer, and get the load off at the end.
 *
 * What was put on the brake is believed to be there until a release is accepted: a release that is
 * refused or not answered is said again for as long as the ride lasts, with or without control.
 */
#ifndef RIDE_CONTROL_H
#define RIDE_CONTROL_H

#include "ride/safety.h"

enum control_state {
    CONTROL_NONE, /* not asked for yet, or gone */
    CONTROL_ASKED,
    CONTROL_HELD
};

/* A command without an answer yet; the oldest one where several are out. */
struct pending {
    bool waits;
    bool is_refused; /* once: to be said again sooner than one that nobody heard */
    uint64_t since_ms;
    uint32_t repeats;
};

struct control {
    enum control_state state;
    enum control_fault fault;
    struct machine machine;
    bool is_used;   /* this plan has loads for this machine */
    bool is_over;   /* nothing is started or raised any more */
    bool is_ending; /* a stop is to follow the release */
    bool start_due, load_refused;
    uint32_t asked;             /* how often control was asked for on this link */
    uint32_t refusals;          /* of loads, in a row */
    struct load sent, accepted; /* the last ones */
    bool has_sent;
    bool is_loaded;   /* something is on the brake, as far as we know */
    bool left_loaded; /* a link was lost under a load, and the machine has taken none since */
    uint64_t raised_t_ms;
    bool stop_sent, stop_answered;
    struct pending asking, loading, stopping;
};

void control_machine(struct control *control, const struct machine *machine);
void control_answer(struct control *control, uint64_t t_ms, enum machine_command command,
                    enum answer answer, struct load load);
/* The link is gone, and with it everything that was agreed. */
void control_forget(struct control *control);
/* The machine forgot us, after a reset for example: control is asked for once more, not oftener. */
void control_ask_again(struct control *control);
/* Someone else has the machine now. Taking it back would be a fight over the brake. */
void control_lost(struct control *control);
/* Whoever paused at the machine starts it there, or goes on: a start of ours, on a link that came
 * back, would pass for the rider's. */
void control_stay_paused(struct control *control);
/* The rider went on after a pause at the machine: it has to be started again. */
void control_start_again(struct control *control);

/* Notices, before safety judges, that an answer is overdue for the second time. */
void control_watch(struct control *control, const struct limits *limits, uint64_t t_ms);
/* Emits what must be sent now so that the machine comes to `allowed`. */
void control_step(struct control *control, const struct limits *limits, uint64_t t_ms,
                  struct load allowed, struct effects *effects);

/* From now on the load only goes. */
void control_over(struct control *control);
/* At the end of a ride: release, then stop. */
void control_leave(struct control *control);
/* Whether the machine has taken both, or there is nothing to take. */
bool control_has_left(const struct control *control);

#endif
