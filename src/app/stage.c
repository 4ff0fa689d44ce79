#include "stage.h"

#include <assert.h>
#include <stdlib.h>

#include "machine_ftms.h"
#include "machine_peer.h"
#include "virtual_hand.h"

#define QUEUE_MAX 64u

struct stage {
    struct loop *loop;
    struct virtual_bike bike;
    struct machine_peer peer;
    struct machine_ftms ftms;
    struct link link; /* the peer's, to the bike */
    struct ride ride;
    struct virtual_hand turner; /* where the brake is turned by hand */
    const struct stage_watch *watch;
    struct event queue[QUEUE_MAX];
    size_t first, count;
    bool is_over;
    int bike_timer, edge_timer;
    uint64_t tick_ms; /* the next one */
};

static void hand(const struct stage *stage, enum stage_hand hand)
{
    if (stage->watch->hand != NULL)
        stage->watch->hand(stage->watch->user, hand);
}

/* ---- the peer's link ---- */

static struct stage *stage_of(struct link *link)
{
    return (struct stage *)(void *)((char *)link - offsetof(struct stage, link));
}

static enum result to_bike(struct link *link, const uint8_t *pdu, size_t length)
{
    struct stage *stage = stage_of(link);

    hand(stage, STAGE_WIRE);
    virtual_bike_receive(&stage->bike, loop_now_ms(stage->loop), pdu, length);
    hand(stage, STAGE_BIKE);
    return RESULT_OK;
}

static enum result secure_nothing(struct link *link)
{
    (void)link;
    return RESULT_UNSUPPORTED;
}

static void close_nothing(struct link *link)
{
    (void)link;
}

static const struct link_operations operations = {
    .send = to_bike, .secure = secure_nothing, .close = close_nothing};

/* ---- the ride ---- */

static void on_event(void *user, const struct event *event)
{
    struct stage *stage = user;

    assert(stage->count < QUEUE_MAX);
    struct event *place = &stage->queue[(stage->first + stage->count++) % QUEUE_MAX];
    *place = *event;
    place->t_ms = loop_now_ms(stage->loop);
}

/* Taken with what comes next. */
static void on_turned(void *user, int32_t number)
{
    const struct event told = {.kind = EVENT_KEY, .key = {KEY_KNOB, number}};

    on_event(user, &told);
}

static void tick_once(struct stage *stage)
{
    const struct event tick = {.kind = EVENT_TICK};
    on_event(stage, &tick);
}

static void press_key(struct stage *stage)
{
    const struct stage_watch *watch = stage->watch;
    const struct event event = {.kind = EVENT_KEY,
                                .key.key = watch->key != NULL ? watch->key(watch->user) : KEY_NONE};

    if (event.key.key != KEY_NONE)
        on_event(stage, &event);
}

static void step(struct stage *stage, const struct event *event)
{
    const struct stage_watch *watch = stage->watch;
    struct effects effects;

    if (stage->is_over)
        return;
    if (watch->event != NULL)
        watch->event(watch->user, event);
    hand(stage, STAGE_WATCH);
    ride_step(&stage->ride, event, &effects);
    hand(stage, STAGE_RIDE);
    for (size_t i = 0; i < effects.count && effects.list[i].kind == EFFECT_COMMAND; i++)
        machine_peer_command(&stage->peer, effects.list[i].command.command,
                             effects.list[i].command.load, effects.list[i].command.now);
    hand(stage, STAGE_WIRE);
    stage->is_over =
        !watch->effects(watch->user, &stage->ride, &effects) || stage->ride.phase == PHASE_ENDED;
    virtual_hand_effects(&stage->turner, &effects);
    hand(stage, STAGE_WATCH);
    if (stage->is_over)
        loop_stop(stage->loop);
}

static void step_all(struct stage *stage)
{
    while (stage->count > 0) {
        const struct event next = stage->queue[stage->first];
        stage->first = (stage->first + 1) % QUEUE_MAX;
        stage->count--;
        step(stage, &next);
    }
}

static void on_bike_due(void *user);
static void on_edge(void *user);

static int await(struct stage *stage, int timer, uint64_t at_ms, loop_timer_func *func)
{
    loop_cancel_timer(stage->loop, timer);
    return at_ms == UINT64_MAX ? 0 : loop_set_timer(stage->loop, at_ms, func, stage);
}

/* One thing that the bike says, to the peer. False: it says nothing. */
static bool carry_one(struct stage *stage)
{
    const struct link_user user = machine_peer_user(&stage->peer);
    const struct stage_watch *watch = stage->watch;
    uint8_t pdu[ATT_MTU_MAX];
    const size_t length = virtual_bike_next_pdu(&stage->bike, pdu);

    hand(stage, STAGE_BIKE);
    if (length > 0 &&
        (watch->arrives == NULL || watch->arrives(watch->user, &stage->bike, pdu, length)))
        user.received(user.user, pdu, length);
    hand(stage, STAGE_WIRE);
    return length > 0;
}

/* Until both sides have nothing more to say; then time may go on. An edge is kept to the
 * millisecond, as in app/session. */
static void settle(struct stage *stage)
{
    const struct stage_watch *watch = stage->watch;

    do
        step_all(stage);
    while (carry_one(stage) || stage->count > 0);
    if (watch->settled != NULL)
        watch->settled(watch->user, &stage->bike);
    const uint64_t edge_ms = ride_next_edge_ms(&stage->ride);
    stage->edge_timer =
        await(stage, stage->edge_timer, edge_ms < stage->tick_ms ? edge_ms : UINT64_MAX, on_edge);
    stage->bike_timer =
        await(stage, stage->bike_timer, virtual_bike_next_ms(&stage->bike), on_bike_due);
}

static void on_bike_due(void *user)
{
    struct stage *stage = user;

    stage->bike_timer = 0;
    virtual_bike_advance(&stage->bike, loop_now_ms(stage->loop));
    hand(stage, STAGE_BIKE);
    settle(stage);
}

static void on_edge(void *user)
{
    struct stage *stage = user;

    stage->edge_timer = 0;
    tick_once(stage);
    settle(stage);
}

static void on_tick(void *user)
{
    struct stage *stage = user;

    stage->tick_ms = loop_now_ms(stage->loop) + TICK_MS;
    machine_peer_tick(&stage->peer);
    tick_once(stage);
    press_key(stage);
    settle(stage);
    (void)loop_set_timer(stage->loop, stage->tick_ms, on_tick, stage);
}

static void ride(struct stage *stage)
{
    stage->link.operations = &operations;
    stage->peer.loop = stage->loop;
    stage->peer.protocol = &machine_ftms;
    stage->peer.state = &stage->ftms;
    stage->peer.on_event = on_event;
    stage->peer.user = stage;
    stage->peer.link = &stage->link;
    stage->turner = (struct virtual_hand){
        .loop = stage->loop, .bike = &stage->bike, .tell = on_turned, .user = stage};
    virtual_bike_connect(&stage->bike, 0);
    machine_peer_user(&stage->peer).opened(&stage->peer);
    on_tick(stage);
    loop_run(stage->loop);
    machine_peer_close(&stage->peer);
}

enum result stage_ride(const struct ride_setup *setup, const struct virtual_machine_config *machine,
                       const struct virtual_rider_config *rider, uint64_t seed,
                       const struct stage_watch *watch)
{
    struct stage *stage = calloc(1, sizeof *stage);
    enum result result = RESULT_FULL;

    if (stage == NULL)
        return result;
    stage->watch = watch;
    stage->loop = loop_new(LOOP_FREE, 1.0);
    if (stage->loop != NULL)
        result = virtual_bike_init(&stage->bike, machine, rider, seed);
    if (result == RESULT_OK) {
        ride_init(&stage->ride, setup);
        ride(stage);
    }
    loop_free(stage->loop);
    free(stage);
    return result;
}
