#include "ride/control.h"

#include "effects.h"

#define REFUSALS_MAX 2u /* in a row, before the machine counts as one that refuses */
#define ASKED_MAX    2u

static const struct load released = {LOAD_RELEASED, 0};

/* ---- out ---- */

static void send(enum machine_command command, struct load load, bool now, uint64_t t_ms,
                 struct pending *pending, struct effects *effects)
{
    const struct effect effect = {.kind = EFFECT_COMMAND,
                                  .command = {.command = command, .load = load, .now = now}};

    effects_add(effects, &effect);
    if (pending == NULL || pending->waits)
        return;
    *pending = (struct pending){.waits = true, .since_ms = t_ms};
}

static void send_load(struct control *control, uint64_t t_ms, struct load load, bool now,
                      struct effects *effects)
{
    if (!load_is_at_most(load, control->sent))
        control->raised_t_ms = t_ms;
    if (load.kind != LOAD_RELEASED)
        control->is_loaded = true;
    control->sent = load;
    control->has_sent = true;
    send(COMMAND_LOAD, load, now, t_ms, &control->loading, effects);
}

/* The brake is not where we think when answers are late or lost: go up from what was accepted, and
 * never by more than one step. */
static struct load one_step(const struct control *control, const struct limits *limits,
                            struct load allowed)
{
    const bool is_level = allowed.kind == LOAD_LEVEL;
    const int32_t step_max = is_level ? limits->step_max_tenths : limits->step_max_w;
    const int32_t least = is_level ? limits->load_min_tenths : limits->load_min_w;
    const bool goes_on = control->accepted.kind == allowed.kind && control->accepted.value > 0;
    int64_t most = (goes_on ? (int64_t)control->accepted.value : 0) + step_max;

    if (most < least) /* which a release comes to as well */
        most = least;
    if (allowed.value > most)
        allowed.value = (int32_t)most;
    return allowed;
}

static void follow_load(struct control *control, const struct limits *limits, uint64_t t_ms,
                        struct load allowed, struct effects *effects)
{
    const struct load next = one_step(control, limits, allowed);
    const bool rises = !load_is_at_most(next, control->sent);

    if (control->has_sent && load_is_same(next, control->sent))
        return;
    if (rises && (control->state != CONTROL_HELD || control->is_over || control->loading.waits ||
                  t_ms - control->raised_t_ms < limits->raise_every_ms))
        return;
    /* The very first one waits its turn behind the start: nothing of ours is on the brake yet. */
    send_load(control, t_ms, next,
              !rises && (control->has_sent || control->is_loaded || control->left_loaded), effects);
}

static bool is_overdue(const struct pending *pending, const struct limits *limits, uint64_t t_ms)
{
    return pending->waits && t_ms - pending->since_ms >= limits->answer_ms;
}

static void repeat(struct pending *pending, enum machine_command command, struct load load,
                   const struct limits *limits, uint64_t t_ms, struct effects *effects)
{
    const uint32_t wait_ms = pending->is_refused ? limits->raise_every_ms : limits->answer_ms;

    if (!pending->waits || t_ms - pending->since_ms < wait_ms)
        return;
    send(command, load, true, t_ms, NULL, effects);
    pending->is_refused = false;
    pending->since_ms = t_ms;
    pending->repeats++;
}

static void ask(struct control *control, uint64_t t_ms, struct effects *effects)
{
    control->state = CONTROL_ASKED;
    control->asked++;
    send(COMMAND_REQUEST_CONTROL, released, false, t_ms, &control->asking, effects);
}

/* After the release, or in its place when the machine will not have it. */
static bool stop_is_due(const struct control *control)
{
    return !control->stop_sent && ((control->is_ending && !control->left_loaded) ||
                                   (control->is_over && control->refusals >= REFUSALS_MAX));
}

static bool may_ask(const struct control *control)
{
    return control->fault == CONTROL_FINE && !control->is_over;
}

/* The link is back and the load that was left may be on it; what it is asked for is to let go. */
static bool must_ask_to_let_go(const struct control *control)
{
    return control->left_loaded && control->asked == 0 && control->fault != CONTROL_LOST;
}

static bool is_left_without_control(const struct control *control)
{
    return control->left_loaded && (control->fault != CONTROL_FINE || control->is_over) &&
           !(control->state == CONTROL_ASKED && control->asking.waits &&
             control->asking.repeats == 0);
}

void control_step(struct control *control, const struct limits *limits, uint64_t t_ms,
                  struct load allowed, struct effects *effects)
{
    if (!control->is_used)
        return;
    if (control->state == CONTROL_NONE && (may_ask(control) || must_ask_to_let_go(control)))
        ask(control, t_ms, effects);
    if (control->state == CONTROL_HELD && control->start_due && !control->is_over)
        send(COMMAND_START, released, false, t_ms, NULL, effects);
    if (control->state == CONTROL_HELD)
        control->start_due = false;
    if (control->state == CONTROL_HELD || control->is_loaded || is_left_without_control(control))
        follow_load(control, limits, t_ms, allowed, effects);
    if (stop_is_due(control)) {
        control->stop_sent = true;
        send(COMMAND_STOP, released, true, t_ms, &control->stopping, effects);
    }
    /* Last, so that what is repeated is never more than what is allowed now. */
    repeat(&control->asking, COMMAND_REQUEST_CONTROL, released, limits, t_ms, effects);
    repeat(&control->loading, COMMAND_LOAD, control->sent, limits, t_ms, effects);
    repeat(&control->stopping, COMMAND_STOP, released, limits, t_ms, effects);
}

/* The first silence gets one repeat, the second is a fault. */
void control_watch(struct control *control, const struct limits *limits, uint64_t t_ms)
{
    const bool silent =
        (is_overdue(&control->asking, limits, t_ms) && control->asking.repeats > 0) ||
        (is_overdue(&control->loading, limits, t_ms) && control->loading.repeats > 0);

    if (control->is_used && silent && control->fault == CONTROL_FINE)
        control->fault = CONTROL_UNANSWERED;
}

/* ---- in ---- */

static void refused_load(struct control *control, uint64_t t_ms, struct load load)
{
    control->load_refused = true;
    if (++control->refusals >= REFUSALS_MAX && control->fault == CONTROL_FINE)
        control->fault = CONTROL_REFUSED;
    if (load.kind == LOAD_RELEASED) {
        /* It goes on waiting, and is said again. */
        control->loading.since_ms = t_ms;
        control->loading.repeats = 0;
        control->loading.is_refused = control->refusals < REFUSALS_MAX;
        return;
    }
    control->loading.waits = false;
    if (control->fault == CONTROL_FINE)
        control->has_sent = false; /* once more */
}

static void answered_load(struct control *control, uint64_t t_ms, enum answer answer,
                          struct load load)
{
    const bool is_newest = control->has_sent && load_is_same(load, control->sent);

    /* What is not the newest is on the brake no longer, or was never asked for: the lower counts.
     */
    if (answer == ANSWER_ACCEPTED && (is_newest || load_is_at_most(load, control->accepted)))
        control->accepted = load;
    if (answer == ANSWER_ACCEPTED)
        control->left_loaded = false;
    if (!is_newest) {
        /* The machine is alive, and the newest is still on its way. */
        control->loading.since_ms = t_ms;
        return;
    }
    if (answer != ANSWER_ACCEPTED) {
        refused_load(control, t_ms, load);
        return;
    }
    control->loading.waits = false;
    control->refusals = 0;
    if (load.kind == LOAD_RELEASED)
        control->is_loaded = false;
}

static void answered_request(struct control *control, enum answer answer)
{
    if (control->state == CONTROL_HELD || control->asked == 0)
        return;
    control->asking.waits = false;
    if (answer != ANSWER_ACCEPTED) {
        control->fault = CONTROL_REFUSED;
        return;
    }
    /* Also when it comes after we gave up: at least the brake can be let go. */
    control->state = CONTROL_HELD;
    control->start_due = control->fault == CONTROL_FINE;
    control->has_sent = false;
    control->loading.waits = false;
}

void control_answer(struct control *control, uint64_t t_ms, enum machine_command command,
                    enum answer answer, struct load load)
{
    const bool is_forgotten = answer == ANSWER_NOT_PERMITTED && control->state == CONTROL_HELD;

    switch (command) {
    case COMMAND_REQUEST_CONTROL: answered_request(control, answer); return;
    case COMMAND_START:
        /* Refused for another reason it may obey all the same: the answers to loads will tell. */
        if (is_forgotten)
            control_ask_again(control);
        return;
    case COMMAND_LOAD:
        if (is_forgotten)
            control_ask_again(control);
        else
            answered_load(control, t_ms, answer, load);
        return;
    case COMMAND_STOP:
        control->stopping.waits = false;
        control->stop_answered = true;
        return;
    case COMMAND_NONE: return;
    }
}

void control_machine(struct control *control, const struct machine *machine)
{
    control->machine = *machine;
}

void control_forget(struct control *control)
{
    *control = (struct control){.fault = control->fault,
                                .is_over = control->is_over,
                                .is_ending = control->is_ending,
                                .left_loaded = control->is_loaded || control->left_loaded};
}

void control_ask_again(struct control *control)
{
    control->state = CONTROL_NONE;
    control->asking.waits = false;
    control->loading.waits = false;
    control->has_sent = false;
    control->accepted = released;
    if (control->asked >= ASKED_MAX)
        control->fault = CONTROL_LOST;
}

void control_lost(struct control *control)
{
    if (!control->is_used)
        return;
    control_ask_again(control);
    control->fault = CONTROL_LOST;
}

void control_stay_paused(struct control *control)
{
    control->start_due = false;
}

void control_start_again(struct control *control)
{
    control->start_due = true;
}

/* ---- the end ---- */

void control_over(struct control *control)
{
    control->is_over = true;
}

void control_leave(struct control *control)
{
    control->is_over = true;
    control->is_ending =
        control->state == CONTROL_HELD || control->is_loaded || control->left_loaded;
}

bool control_has_left(const struct control *control)
{
    return !control->is_loaded && !control->left_loaded &&
           (!control->is_used || !control->is_ending || control->stop_answered);
}
