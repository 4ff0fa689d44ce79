#include "session.h"

#include <assert.h>
#include <time.h>

#include "app/command.h"

/* An event, at the time of the loop. */
static void post(struct session *session, const struct event *event);

static void on_peer_event(void *user, const struct event *event)
{
    post(user, event);
}

/* What still waits on the link is not read: it tells of the guard's stop as of one at the console.
 */
static void on_guard_note(void *user, const struct guard_note *note)
{
    struct session *session = user;

    /* Unless it was lost meanwhile, and perhaps called again. */
    if (note->link == session->guarded.order.link)
        machine_peer_fail(&session->machine, "its guard closed the link");
    complain("this program stood still, so its guard released the load and closed the link to the "
             "bike%s",
             note->is_confirmed
                 ? ""
                 : "; the bike did not confirm it, turn its resistance down by hand");
}

/* Without a guard a ride is not to go on. */
static void on_guard_gone(void *user)
{
    session_key(user, KEY_UNGUARDED);
    complain("the guard of this ride is gone, so the ride ends");
}

static void on_hand(void *user, int32_t number)
{
    struct session *session = user;

    session->hands.position = number;
    session_key(session, KEY_KNOB);
}

void session_prepare(struct session *session)
{
    session->virtual_hand.tell = on_hand;
    session->virtual_hand.user = session;
    guarded_listen(&session->guarded, session->loop, on_guard_note, on_guard_gone, session);
    session->machine.guarded = &session->guarded;
    session->machine.loop = session->loop;
    session->machine.on_event = on_peer_event;
    session->machine.user = session;
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++) {
        session->sensors[i].sensor = i;
        session->sensors[i].loop = session->loop;
        session->sensors[i].on_event = on_peer_event;
        session->sensors[i].user = session;
    }
    session->usb.loop = session->loop;
    session->usb.sensors = session->sensors;
    session->usb.machine = &session->machine;
}

static void perform(struct session *session)
{
    const struct effects *effects = &session->effects;

    for (size_t i = 0; i < effects->count && effects->list[i].kind == EFFECT_COMMAND; i++)
        machine_peer_command(&session->machine, effects->list[i].command.command,
                             effects->list[i].command.load, effects->list[i].command.now);
    recorder_effects(&session->recorder, effects);
    for (size_t i = 0; i < effects->count; i++) {
        const struct effect *effect = &effects->list[i];
        /* The summary is shown once it is known whether it could be saved: see session_run(). */
        if (effect->kind == EFFECT_SUMMARY) {
            session->summary = *effect;
            session->has_ended = true;
            loop_stop(session->loop);
        } else {
            session->screen.operations->effect(&session->screen, &session->ride, effect);
        }
    }
}

static void on_edge(void *user)
{
    struct session *session = user;
    const struct event tick = {.kind = EVENT_TICK};

    session->edge_timer = 0;
    post(session, &tick);
}

/* A step ends when it is to end and not up to a tick later, with sound or without: the ride does
 * not depend on who listens. */
static void await_edge(struct session *session)
{
    const uint64_t edge_t_ms = ride_next_edge_ms(&session->ride);

    loop_cancel_timer(session->loop, session->edge_timer);
    session->edge_timer = edge_t_ms < session->tick_ms
                              ? loop_set_timer(session->loop, edge_t_ms, on_edge, session)
                              : 0;
}

/* Once a ride: whoever has done all that the mark did does not lose it again. */
static void watch_mark(struct session *session)
{
    const struct mark *mark = session->facts.mark;
    const struct mark_point now = mark_point_of(&session->ride);

    if (mark == NULL || session->has_passed_mark || session->ride.phase != PHASE_RIDING ||
        !mark_state(mark, &now).is_beaten)
        return;
    session->has_passed_mark = true;
    sound_pass_mark(&session->sound);
}

static void step(struct session *session, const struct event *event)
{
    if (session->has_ended)
        return;
    recorder_event(&session->recorder, event);
    ride_step(&session->ride, event, &session->effects);
    guarded_leave_on(&session->guarded, ride_may_be_loaded(&session->ride));
    guarded_by_hand(&session->guarded,
                    ride_turns_knob(&session->ride) && session->ride.phase != PHASE_ENDED);
    reserve_run_step(&session->reserve, &session->ride);
    perform(session);
    virtual_hand_effects(&session->virtual_hand, &session->effects);
    watch_mark(session);
    sound_step(&session->sound, &session->ride, &session->effects);
    await_edge(session);
    if (event->kind == EVENT_LINK && !event->link.up && session->call_again != NULL &&
        !session->has_ended)
        session->call_again(session->call_again_user, event->link.source);
}

static void post(struct session *session, const struct event *event)
{
    assert(session->queue_count < SESSION_QUEUE_MAX);
    const size_t at = (session->queue_first + session->queue_count++) % SESSION_QUEUE_MAX;
    session->queue[at] = *event;
    session->queue[at].t_ms = loop_now_ms(session->loop);
    if (session->is_stepping)
        return;
    session->is_stepping = true;
    while (session->queue_count > 0) {
        const struct event next = session->queue[session->queue_first];
        session->queue_first = (session->queue_first + 1) % SESSION_QUEUE_MAX;
        session->queue_count--;
        step(session, &next);
    }
    session->is_stepping = false;
}

uint64_t session_wall_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static void show_moment(struct session *session)
{
    hands_wait(&session->hands, session_wall_ms());
    if (!session->has_ended)
        session->screen.operations->moment(&session->screen, &session->ride, &session->hands.shown);
}

void session_key(struct session *session, enum ride_key key)
{
    const struct event event = {
        .kind = EVENT_KEY,
        .key = {key, key == KEY_KNOB ? session->hands.position : 0},
    };

    post(session, &event);
    show_moment(session);
}

void session_press(struct session *session, uint32_t character)
{
    const enum ride_key key =
        hands_press(&session->hands, &session->ride, session_wall_ms(), character);

    sound_set_mute(&session->sound, session->hands.shown.is_muted);
    if (key != KEY_NONE)
        session_key(session, key);
    else
        show_moment(session);
}

static void every_second(struct session *session)
{
    session->screen.operations->second(&session->screen, &session->ride);
    if (recorder_save(&session->recorder)) {
        const struct event event = {.kind = EVENT_STORE, .store = {session->recorder.is_failing}};
        post(session, &event);
    }
}

static void on_tick(void *user)
{
    struct session *session = user;
    const struct event tick = {.kind = EVENT_TICK};
    const uint64_t now = loop_now_ms(session->loop);

    session->tick_ms = now + TICK_MS;
    machine_peer_tick(&session->machine);
    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++)
        sensor_peer_tick(&session->sensors[i]);
    usb_peer_tick(&session->usb);
    guarded_beat(&session->guarded);
    post(session, &tick);
    show_moment(session);
    if (!session->has_ended && now >= session->second_ms) {
        session->second_ms = now - now % 1000 + 1000;
        every_second(session);
    }
    (void)loop_set_timer(session->loop, session->tick_ms, on_tick, session);
}

void session_close_peers(struct session *session)
{
    machine_peer_close(&session->machine);
    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++)
        sensor_peer_close(&session->sensors[i]);
    usb_peer_close(&session->usb);
}

void session_run(struct session *session)
{
    on_tick(session);
    loop_run(session->loop);
    session_close_peers(session);
    if (!session->has_ended)
        return;
    session->saved = recorder_end(&session->recorder, &session->summary.summary);
    if (session->saved != RESULT_OK)
        session->facts.ride_id = 0;
    session->screen.operations->effect(&session->screen, &session->ride, &session->summary);
}
