#include "rehearsal.h"

#include <stdio.h>
#include <string.h>

#include "app/guard.h"
#include "app/machine_peer.h"
#include "app/recorder.h"
#include "common.h"
#include "io/virtual_bike.h"
#include "io/virtual_config.h"

#define DATA_EVERY_MS 100u
#define QUEUE_MAX     64u

/* The peer asks its loop for the time; here the time is the rehearsal's. */
struct loop {
    uint64_t now_ms;
};

uint64_t loop_now_ms(const struct loop *loop)
{
    return loop->now_ms;
}

/* Nobody guards here, so there is no channel with a loop behind it. */
void guarded_look(struct guarded *guarded)
{
    (void)guarded;
}

/* All that one run needs. */
struct stage {
    struct rehearsal *rehearsal;
    uint64_t lap_ns;
    struct loop loop;
    struct virtual_bike bike;
    struct machine_peer peer;
    struct link link; /* the peer's, to the bike */
    struct ride ride;
    struct recorder recorder;
    struct event queue[QUEUE_MAX];
    size_t first, count;
};
static struct stage stage;

/* What went by since the last change of hands was `share`'s. */
static void lap(enum rehearsal_share share)
{
    if (!stage.rehearsal->is_timed)
        return;
    const uint64_t now_ns = bench_now_ns();
    stage.rehearsal->share_ns[share] += now_ns - stage.lap_ns;
    stage.lap_ns = now_ns;
}

/* ---- the peer's link ---- */

static enum result to_bike(struct link *link, const uint8_t *pdu, size_t length)
{
    (void)link;
    lap(SHARE_WIRE);
    virtual_bike_receive(&stage.bike, stage.loop.now_ms, pdu, length);
    lap(SHARE_BIKE);
    return RESULT_OK;
}

static void close_nothing(struct link *link)
{
    (void)link;
}

static const struct link_operations operations = {.send = to_bike, .close = close_nothing};

static void on_event(void *user, const struct event *event)
{
    (void)user;
    if (stage.count == QUEUE_MAX)
        bench_fail("more events at once than a ride has places for");
    struct event *place = &stage.queue[(stage.first + stage.count++) % QUEUE_MAX];
    *place = *event;
    place->t_ms = stage.loop.now_ms;
}

/* ---- the ride ---- */

static void keep(const struct event *event)
{
    struct rehearsal *rehearsal = stage.rehearsal;

    if (rehearsal->events != NULL && rehearsal->event_count < REHEARSAL_EVENTS_MAX)
        rehearsal->events[rehearsal->event_count] = *event;
    rehearsal->event_count++;
    rehearsal->reading_count += event->kind == EVENT_TELEMETRY;
}

static void step(const struct event *event)
{
    struct effects effects;

    keep(event);
    recorder_event(&stage.recorder, event);
    lap(SHARE_JOURNAL);
    ride_step(&stage.ride, event, &effects);
    lap(SHARE_RIDE);
    for (size_t i = 0; i < effects.count; i++) {
        const struct effect *effect = &effects.list[i];
        if (effect->kind == EFFECT_COMMAND)
            machine_peer_command(&stage.peer, effect->command.command, effect->command.load,
                                 effect->command.now);
        if (effect->kind == EFFECT_SUMMARY)
            stage.rehearsal->summary = effect->summary;
    }
    lap(SHARE_WIRE);
    recorder_effects(&stage.recorder, &effects);
    lap(SHARE_JOURNAL);
}

/* Until both sides have nothing more to say. */
static void settle(void)
{
    const struct link_user user = machine_peer_user(&stage.peer);
    uint8_t pdu[ATT_MTU_MAX];
    size_t length;

    do {
        while (stage.count > 0) {
            const struct event next = stage.queue[stage.first];
            stage.first = (stage.first + 1) % QUEUE_MAX;
            stage.count--;
            step(&next);
        }
        length = virtual_bike_next_pdu(&stage.bike, pdu);
        lap(SHARE_BIKE);
        if (length > 0)
            user.received(user.user, pdu, length);
        lap(SHARE_WIRE);
    } while (length > 0 || stage.count > 0);
}

static void start(struct rehearsal *rehearsal)
{
    struct virtual_machine_config machine = virtual_machine_default();
    const struct virtual_rider_config rider = virtual_rider_default();
    static struct ride_setup setup;

    machine.data_interval_ms =
        rehearsal->data_every_ms > 0 ? rehearsal->data_every_ms : DATA_EVERY_MS;
    memset(&stage, 0, sizeof stage);
    stage.rehearsal = rehearsal;
    stage.link.operations = &operations;
    stage.peer.loop = &stage.loop;
    stage.peer.on_event = on_event;
    rehearsal_setup(&setup);
    ride_init(&stage.ride, &setup);
    if (recorder_begin(&stage.recorder, &setup, &(struct store_ride){.bike = "virtual"}) !=
            RESULT_OK ||
        virtual_bike_init(&stage.bike, &machine, &rider,
                          rehearsal->seed > 0 ? rehearsal->seed : 1) != RESULT_OK)
        bench_fail("the rehearsal cannot be set up");
    rehearsal->event_count = rehearsal->reading_count = 0;
    rehearsal->summary = (struct summary){0};
    memset(rehearsal->share_ns, 0, sizeof rehearsal->share_ns);
}

static void ride_block(void)
{
    const struct event tick = {.kind = EVENT_TICK};
    uint64_t next_tick_ms = 0;

    virtual_bike_connect(&stage.bike, 0);
    lap(SHARE_BIKE);
    stage.peer.link = &stage.link;
    machine_peer_user(&stage.peer).opened(&stage.peer);
    settle();
    while (stage.ride.phase != PHASE_ENDED) {
        const uint64_t bike_ms = virtual_bike_next_ms(&stage.bike);
        if (bike_ms <= next_tick_ms) {
            stage.loop.now_ms = bike_ms;
            virtual_bike_advance(&stage.bike, bike_ms);
            lap(SHARE_BIKE);
        } else {
            stage.loop.now_ms = next_tick_ms;
            next_tick_ms += TICK_MS;
            machine_peer_tick(&stage.peer);
            on_event(NULL, &tick);
        }
        settle();
    }
}

void rehearsal_run(struct rehearsal *rehearsal)
{
    start(rehearsal);
    stage.lap_ns = bench_now_ns();
    ride_block();
    if (rehearsal->summary.end != END_DONE)
        bench_fail("the rehearsal did not come to its end");
    rehearsal->ride_ms = stage.loop.now_ms;
    rehearsal->journal_length = stage.recorder.length;
    if (rehearsal->keeps_journal) {
        rehearsal->journal = stage.recorder.text;
        stage.recorder.text = NULL;
    }
    recorder_free(&stage.recorder);
}

static void add_step(struct plan *plan, enum step_kind kind, uint32_t duration_ms, int32_t power_w)
{
    plan->steps[plan->step_count++] =
        (struct plan_step){.kind = kind,
                           .duration_ms = duration_ms,
                           .targets = {.power_w = {true, power_w - 10, power_w + 10}}};
}

void rehearsal_setup(struct ride_setup *ret)
{
    *ret = (struct ride_setup){.rider = {.mass_kg = 75.0, .age_years = 30}};
    (void)snprintf(ret->plan.title, sizeof ret->plan.title, "20/10 x 8");
    add_step(&ret->plan, STEP_WARM_UP, 30000, 100);
    for (int round = 0; round < 8; round++) {
        add_step(&ret->plan, STEP_WORK, 20000, 240);
        add_step(&ret->plan, STEP_REST, 10000, 80);
    }
    add_step(&ret->plan, STEP_COOL_DOWN, 30000, 70);
}
