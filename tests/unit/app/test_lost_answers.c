/*
 * The controller, the machine's peer, the client and the virtual bike together, with nothing but
 * PDUs between, on an air that loses the machine's answers: when the ride is over, the load is off
 * the bike, or the summary says that nobody knows.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "app/machine_peer.h"
#include "io/virtual_bike.h"
#include "io/virtual_config.h"
#include "ride/ride.h"
#include "support/drive.h"

#define QUEUE_MAX 64u
#define RIDES     150

/* The peer asks its loop for the time; here the time is the test's. */
struct loop {
    uint64_t now_ms;
};

uint64_t loop_now_ms(const struct loop *loop)
{
    return loop->now_ms;
}

/* There is no guard here. */
void guarded_look(struct guarded *guarded)
{
    (void)guarded;
}

static struct stage {
    struct loop loop;
    struct virtual_bike bike;
    struct machine_peer peer;
    struct link link;
    struct ride ride;
    struct event queue[QUEUE_MAX];
    size_t first, count;
    struct summary summary;
    uint64_t released_t_ms; /* when a release was last asked for; 0 while a load is */
    unsigned lost;
} stage;

static uint64_t chance_state;

static uint32_t below(uint32_t limit)
{
    chance_state = chance_state * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(chance_state >> 33) % limit;
}

static enum result to_bike(struct link *link, const uint8_t *pdu, size_t length)
{
    (void)link;
    virtual_bike_receive(&stage.bike, stage.loop.now_ms, pdu, length);
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
    assert_true(stage.count < QUEUE_MAX);
    struct event *place = &stage.queue[(stage.first + stage.count++) % QUEUE_MAX];
    *place = *event;
    place->t_ms = stage.loop.now_ms;
}

static void perform(const struct effect *effect)
{
    if (effect->kind == EFFECT_SUMMARY)
        stage.summary = effect->summary;
    if (effect->kind != EFFECT_COMMAND)
        return;
    if (effect->command.command == COMMAND_LOAD)
        stage.released_t_ms = effect->command.load.kind != LOAD_RELEASED ? 0
                              : stage.released_t_ms != 0                 ? stage.released_t_ms
                                                                         : stage.loop.now_ms;
    machine_peer_command(&stage.peer, effect->command.command, effect->command.load,
                         effect->command.now);
}

/* An indication that is lost on the way; the machine has obeyed, and takes it for confirmed. */
static bool is_lost(const uint8_t *pdu, uint32_t loss_pct)
{
    const uint8_t confirmation = ATT_CONFIRMATION;

    if (pdu[0] != ATT_INDICATION || below(100) >= loss_pct)
        return false;
    stage.lost++;
    virtual_bike_receive(&stage.bike, stage.loop.now_ms, &confirmation, 1);
    return true;
}

static void settle(uint32_t loss_pct)
{
    const struct link_user user = machine_peer_user(&stage.peer);
    uint8_t pdu[ATT_MTU_MAX];
    size_t length;

    do {
        while (stage.count > 0) {
            const struct event next = stage.queue[stage.first];
            struct effects effects;
            stage.first = (stage.first + 1) % QUEUE_MAX;
            stage.count--;
            ride_step(&stage.ride, &next, &effects);
            for (size_t i = 0; i < effects.count; i++)
                perform(&effects.list[i]);
        }
        length = virtual_bike_next_pdu(&stage.bike, pdu);
        if (length > 0 && !is_lost(pdu, loss_pct))
            user.received(user.user, pdu, length);
    } while (length > 0 || stage.count > 0);
}

static void start(uint32_t answer_delay_ms)
{
    struct virtual_machine_config machine = virtual_machine_default();
    const struct virtual_rider_config rider = virtual_rider_default();
    static struct drive drive;

    machine.answer_delay_ms = answer_delay_ms;
    memset(&stage, 0, sizeof stage);
    stage.link.operations = &operations;
    stage.peer.loop = &stage.loop;
    stage.peer.on_event = on_event;
    drive_init(&drive); /* for its plan */
    ride_init(&stage.ride, &drive.ride.setup);
    assert_int_equal(virtual_bike_init(&stage.bike, &machine, &rider, 1), RESULT_OK);
    virtual_bike_connect(&stage.bike, 0);
    stage.peer.link = &stage.link;
    machine_peer_user(&stage.peer).opened(&stage.peer);
    settle(0);
}

static void press_a_key_by_chance(void)
{
    static const enum ride_key keys[] = {KEY_HOLD, KEY_MORE, KEY_LESS,
                                         KEY_SKIP, KEY_STOP, KEY_LEAVE};
    const uint32_t dice = below(600);
    struct event event = {.kind = EVENT_KEY};

    if (dice >= sizeof keys / sizeof keys[0])
        return;
    event.key.key = keys[dice];
    on_event(NULL, &event);
}

static bool bike_is_released(void)
{
    return stage.bike.machine.load == VIRTUAL_LOAD_RELEASED || stage.bike.machine.load_value == 0;
}

static void ride_to_its_end(uint32_t loss_pct, uint32_t within_ms)
{
    const struct event tick = {.kind = EVENT_TICK};
    uint64_t next_tick_ms = 0;

    while (stage.ride.phase != PHASE_ENDED && stage.loop.now_ms < 3600000) {
        const uint64_t bike_ms = virtual_bike_next_ms(&stage.bike);
        if (bike_ms <= next_tick_ms) {
            stage.loop.now_ms = bike_ms;
            virtual_bike_advance(&stage.bike, bike_ms);
        } else {
            stage.loop.now_ms = next_tick_ms;
            next_tick_ms += TICK_MS;
            machine_peer_tick(&stage.peer);
            on_event(NULL, &tick);
            press_a_key_by_chance();
        }
        settle(loss_pct);
        /* Down at once, whatever became of the answers before. */
        if (stage.released_t_ms != 0 && stage.loop.now_ms - stage.released_t_ms > within_ms)
            assert_true(bike_is_released());
    }
    assert_int_equal(stage.ride.phase, PHASE_ENDED);
    assert_true(bike_is_released() || stage.summary.unreleased);
}

static void the_load_comes_off_whatever_is_lost(void **state)
{
    static const uint32_t losses_pct[] = {0, 5, 20, 50, 90};
    unsigned lost = 0, ended_well = 0;

    (void)state;
    chance_state = 11;
    for (int i = 0; i < RIDES; i++) {
        start(0);
        ride_to_its_end(losses_pct[i % 5], 0);
        lost += stage.lost;
        ended_well += !stage.summary.unreleased;
    }
    print_message("%u answers lost, %u of %d rides confirmed\n", lost, ended_well, RIDES);
    assert_true(lost > 300);
    assert_true(ended_well > RIDES / 2);
}

/* A machine that is busy for 1.5 s with each command takes a release when it is free again. */
static void the_load_comes_off_a_slow_machine(void **state)
{
    (void)state;
    chance_state = 12;
    for (int i = 0; i < RIDES; i++) {
        start(1500);
        ride_to_its_end(i % 2 == 0 ? 0 : 20, 2000);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_load_comes_off_whatever_is_lost),
        cmocka_unit_test(the_load_comes_off_a_slow_machine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
