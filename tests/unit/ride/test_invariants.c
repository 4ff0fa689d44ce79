/*
 * What must hold whatever happens: chance events of every kind, sane and hostile, through the real
 * step function. The invariants are written from the events that went in, with no help from the
 * code under test.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "io/virtual_random.h"
#include "support/drive.h"
#include "support/ride_world.h"

#define RIDES           10000
#define EVENTS_PER_RIDE 600

static struct virtual_random random_state;

static uint64_t chance(void)
{
    return virtual_random_next(&random_state);
}

static uint32_t below(uint32_t limit)
{
    return (uint32_t)(chance() % limit);
}

/* What the world outside knows, and the commands that wait for an answer. */
struct world {
    struct ride_world known;
    struct load asked[8];
    enum machine_command asked_command[8];
    unsigned asked_count;
    bool has_floor;
    int32_t step; /* the last that was said to begin; -1: none was */
};

/* Off the bike first, ramps up and down, and steps that end with work, distance and the heart. The
 * middle of what each asks for is never more than this. */
static const int32_t varied_most_w[] = {0, 120, 200, 90, 180, 100, 60};
static const struct plan varied = {
    .title = "varied",
    .step_count = 7,
    .steps = {
        {.kind = STEP_FLOOR, .duration_ms = 3000},
        {.kind = STEP_WARM_UP,
         .duration_ms = 8000,
         .targets.power_w = {true, 50, 70},
         .ramp_to.power_w = {true, 110, 130}},
        {.kind = STEP_WORK,
         .duration_ms = 12000,
         .targets.power_w = {true, 140, 160},
         .ramp_to.power_w = {true, 190, 210},
         .end = {UNTIL_WORK, 1000}},
        {.kind = STEP_REST,
         .duration_ms = 8000,
         .targets.power_w = {true, 80, 100},
         .end = {UNTIL_HEART, 120}},
        {.kind = STEP_WORK,
         .duration_ms = 12000,
         .targets.power_w = {true, 170, 190},
         .end = {UNTIL_DISTANCE, 60}},
        {.kind = STEP_REST,
         .duration_ms = 8000,
         .targets.power_w = {true, 90, 110},
         .ramp_to.power_w = {true, 50, 70}},
        {.kind = STEP_COOL_DOWN, .duration_ms = 30000, .targets.power_w = {true, 50, 70}},
    }};

/* Steps come one after the other, whatever ends them; on the floor there is no load. */
static void see_steps(struct world *world, const struct effects *effects)
{
    for (size_t i = 0; i < effects->count; i++) {
        const struct effect *effect = &effects->list[i];

        if (effect->kind == EFFECT_STEP) {
            assert_int_equal(effect->step.index, world->step + 1);
            world->step = effect->step.index;
        }
    }
    for (size_t i = 0; i < effects->count; i++) {
        const struct load load = effects->list[i].command.load;

        if (!world->has_floor || effects->list[i].kind != EFFECT_COMMAND ||
            load.kind == LOAD_RELEASED)
            continue;
        assert_in_range(world->step, 1, 6);
        if (world->known.takes_power)
            assert_true(load.value <= varied_most_w[world->step] * 120 / 100);
    }
}

/* The plans ask for nothing but power, 200 W at most, and the rider may add a fifth. On a machine
 * that takes levels only that power is held by some level. */
static void world_sees(struct world *world, const struct effects *effects)
{
    const char *broken = ride_world_sees(&world->known, effects);
    size_t steps = 0;

    if (broken != NULL)
        fail_msg("broken rule: %s", broken);
    see_steps(world, effects);
    for (size_t i = 0; i < effects->count; i++) {
        const struct effect *effect = &effects->list[i];
        steps += effect->kind == EFFECT_STEP;
        if (effect->kind != EFFECT_COMMAND)
            continue;
        if (effect->command.load.kind != LOAD_RELEASED) {
            assert_int_equal(effect->command.load.kind,
                             world->known.takes_power ? LOAD_POWER : LOAD_LEVEL);
            if (world->known.takes_power)
                assert_true(effect->command.load.value <= 200 * 120 / 100);
        }
        if (world->asked_count < 8) {
            world->asked[world->asked_count] = effect->command.load;
            world->asked_command[world->asked_count++] = effect->command.command;
        }
    }
    assert_true(steps <= 8); /* no more than the plan has: nothing goes round in circles */
}

static void chance_telemetry(struct event *event, int32_t power_w, int32_t cadence_rpm)
{
    event->kind = EVENT_TELEMETRY;
    event->telemetry.has = below(20) == 0 ? below(16) : HAS_POWER | HAS_CADENCE;
    event->telemetry.power_w = power_w;
    event->telemetry.cadence_rpm = cadence_rpm;
    event->telemetry.distance_m = (int32_t)below(1u << 24);
    event->telemetry.heart_bpm = (int32_t)below(256);
    if (below(50) == 0)
        event->telemetry.power_w = (int32_t)(int16_t)chance();
    if (below(50) == 0)
        event->telemetry.cadence_rpm = (int32_t)(uint16_t)chance();
}

static struct machine chance_machine(void)
{
    struct machine machine = {.takes_power = below(2) != 0, .takes_level = below(4) != 0};

    machine.power_max_w = below(3) == 0 ? (int32_t)below(300) : 0;
    if (below(4) != 0)
        machine.level_max_tenths = (int32_t)below(400);
    machine.level_min_tenths = (int32_t)below(20);
    machine.level_step_tenths = (int32_t)below(20);
    return machine;
}

/* Mostly a ride, now and then a fault, rarely nonsense. */
static struct event chance_event(struct world *world, uint32_t mishaps)
{
    struct event event = {.t_ms = world->known.t_ms};
    const uint32_t dice = below(100);

    if (world->asked_count > 0 && below(8) != 0) {
        event.kind = EVENT_ANSWER;
        event.answer.command = world->asked_command[0];
        event.answer.load = world->asked[0];
        event.answer.answer = below(mishaps) == 0 ? (enum answer)below(5) : ANSWER_ACCEPTED;
        world->asked_count--;
        memmove(world->asked, world->asked + 1, sizeof world->asked - sizeof world->asked[0]);
        memmove(world->asked_command, world->asked_command + 1,
                sizeof world->asked_command - sizeof world->asked_command[0]);
        return event;
    }
    event.t_ms += below(mishaps) == 0 ? chance() % 20000 : below(500);
    if (below(20 * mishaps) == 0)
        event.t_ms += chance() >> (below(40) + 20);
    if (dice < 55) {
        chance_telemetry(&event, (int32_t)below(400), 60 + (int32_t)below(50));
    } else if (dice < 70 || below(mishaps) != 0) {
        event.kind = EVENT_TICK;
    } else if (dice < 75) {
        event.kind = EVENT_KEY;
        event.key.key = (enum ride_key)below(KEY_LEAVE + 2 * (below(8) == 0));
        if (below(8) == 0) {
            event.key.key = KEY_KNOB;
            event.key.position = (int32_t)below(110) - 5;
        }
        if (event.key.key == KEY_STOP && below(4) != 0)
            event.key.key = KEY_MORE;
    } else if (dice < 80) {
        event.kind = EVENT_STATUS;
        event.status.status = (enum machine_status)below(STATUS_RESET + 1);
    } else if (dice < 85) {
        event.kind = EVENT_HEART;
        event.heart.heart_bpm = (int32_t)below(300) - 20;
        event.heart.contact = (enum contact)below(3);
    } else if (dice < 88) {
        event.kind = EVENT_LINK;
        event.link.source = (enum link_source)below(2);
        event.link.up = below(4) != 0;
    } else if (dice < 92) {
        event.kind = EVENT_MACHINE;
        event.machine = chance_machine();
    } else if (dice < 96) {
        chance_telemetry(&event, (int32_t)chance(), (int32_t)chance());
    } else {
        event.kind = EVENT_ANSWER;
        event.answer.command = (enum machine_command)below(COMMAND_STOP + 1);
        event.answer.answer = (enum answer)below(5);
        event.answer.load.kind = (enum load_kind)below(3);
        event.answer.load.value = (int32_t)chance();
    }
    return event;
}

static void take(struct drive *drive, struct world *world, const struct event *event)
{
    struct effects effects;

    ride_world_takes(&world->known, event);
    ride_step(&drive->ride, event, &effects);
    world_sees(world, &effects);
    /* What screens show. */
    assert_int_equal(drive->ride.safety.cut_off, world->known.first_cut_off);
}

static void ride_by_chance(struct ride_world *sums, uint32_t mishaps, bool has_floor,
                           unsigned steps_seen[PLAN_STEPS_MAX])
{
    static struct drive drive;
    static struct ride_setup setup;
    struct world world = {.known.t_ms = chance() % 1000, .has_floor = has_floor, .step = -1};
    struct event link = {
        .t_ms = world.known.t_ms, .kind = EVENT_LINK, .link = {LINK_MACHINE, true}};
    struct event machine = {.t_ms = world.known.t_ms, .kind = EVENT_MACHINE};

    machine.machine = chance_machine();
    drive_init(&drive);
    setup = drive.ride.setup;
    if (has_floor)
        setup.plan = varied;
    /* A load may be nine tenths of what the rider's power may be. */
    if (below(3) == 0) {
        setup.rider.power_limit_w = 150;
        world.known.rider_max_w = 135;
    }
    setup.holds_power = setup.tells_knob = true;
    ride_init(&drive.ride, &setup);
    take(&drive, &world, &link);
    take(&drive, &world, &machine);
    for (int i = 0; i < EVENTS_PER_RIDE; i++) {
        const struct event event = chance_event(&world, mishaps);
        take(&drive, &world, &event);
    }
    for (int32_t i = 0; has_floor && i <= world.step; i++)
        steps_seen[i]++;
    sums->loads_seen += world.known.loads_seen;
    sums->cut_offs_seen += world.known.cut_offs_seen;
    sums->holds_seen += world.known.holds_seen;
}

static void holds_whatever_happens(void **state)
{
    struct ride_world sums = {0};
    static unsigned steps_seen[PLAN_STEPS_MAX];

    (void)state;
    random_state.state = 20260101;
    for (int i = 0; i < RIDES; i++)
        ride_by_chance(&sums, i % 2 == 0 ? 6 : 60, i % 4 >= 2, steps_seen);
    /* The chance rides must get somewhere, or they prove nothing. */
    print_message("%lu loads, %lu cut-offs, %lu holds\n", sums.loads_seen, sums.cut_offs_seen,
                  sums.holds_seen);
    assert_true(sums.loads_seen > 10000);
    assert_true(sums.cut_offs_seen > 500);
    assert_true(sums.holds_seen > 1000);
    print_message("%u of the varied plans came to their last step\n",
                  steps_seen[varied.step_count - 1]);
    assert_true(steps_seen[varied.step_count - 1] > 50);
}

/* ---- what one thing does to the next ---- */

#define LONG_RIDES 2000
#define MOVES      150

static void watch(void *user, const struct event *event, const struct effects *effects)
{
    struct ride_world *known = user;

    ride_world_takes(known, event);
    const char *broken = ride_world_sees(known, effects);
    if (broken != NULL)
        fail_msg("broken rule: %s", broken);
}

static void change_link(struct drive *drive)
{
    struct event machine = {.kind = EVENT_MACHINE, .machine.takes_power = true};
    const bool up = !drive->ride.is_linked;

    drive->is_mute = drive->is_silent = !up;
    drive_link(drive, up);
    if (up && below(4) != 0)
        drive_event(drive, &machine);
}

static void change_legs(struct drive *drive)
{
    static const int32_t rpm[] = {0, 0, 9, 45, 60, 90, 90, 90};

    drive->cadence_rpm = rpm[below(sizeof rpm / sizeof rpm[0])];
    drive->power_w = drive->cadence_rpm;
}

static void press(struct drive *drive)
{
    static const enum ride_key keys[] = {KEY_HOLD, KEY_HOLD, KEY_PAUSE, KEY_PAUSE,
                                         KEY_MORE, KEY_LESS, KEY_SKIP};

    drive_key(drive, below(60) == 0 ? KEY_STOP : keys[below(sizeof keys / sizeof keys[0])]);
}

/* At the machine, or by it. */
static void tell_status(struct drive *drive)
{
    static const enum machine_status statuses[] = {STATUS_PAUSED, STATUS_PAUSED, STATUS_STARTED};

    drive_status(drive, below(15) == 0 ? STATUS_RESET : statuses[below(3)]);
}

static void change_strap(struct drive *drive)
{
    drive->has_strap = !drive->has_strap;
    drive->strap_bpm = 120 + (int32_t)below(55);
}

/* A machine that answers and a rider who mostly pedals, so that rides are long, and things that end
 * no ride come upon each other in every order. */
static void move(struct drive *drive)
{
    switch (below(12)) {
    case 0: change_link(drive); break;
    case 1: drive->is_silent = !drive->is_silent && below(2) == 0; break;
    case 2:
    case 3: change_legs(drive); break;
    case 4:
    case 5: press(drive); break;
    case 6: tell_status(drive); break;
    case 7: change_strap(drive); break;
    case 8: drive->t_ms += below(3) == 0 ? 6000 : 0; break;
    case 9: drive->sensor_w = below(3) == 0 ? 100 : 0; break;
    default: drive_for(drive, TICK_MS * below(16)); break;
    }
    drive_for(drive, TICK_MS * below(4));
}

static void holds_in_every_order(void **state)
{
    unsigned long loads = 0, holds = 0, stood = 0;

    (void)state;
    random_state.state = 20261128;
    for (int i = 0; i < LONG_RIDES; i++) {
        static struct drive drive;
        struct ride_world known = {0};

        drive_init(&drive);
        drive.watch = watch;
        drive.user = &known;
        change_link(&drive);
        for (int k = 0; k < MOVES && !known.ended; k++) {
            move(&drive);
            stood += known.stood;
        }
        loads += known.loads_seen;
        holds += known.holds_seen;
    }
    print_message("%lu loads, %lu holds, %lu times legs stood in one\n", loads, holds, stood);
    assert_true(loads > LONG_RIDES && holds > LONG_RIDES && stood > LONG_RIDES);
}

/* ---- numbers at the ends of what they can be ---- */

static struct event extreme_event(enum event_kind kind, uint64_t t_ms, int32_t value)
{
    struct event event = {.t_ms = t_ms, .kind = kind};

    if (kind == EVENT_TELEMETRY)
        event.telemetry = (struct telemetry){UINT32_MAX, value, value, value, value};
    else if (kind == EVENT_HEART)
        event.heart.heart_bpm = value;
    else if (kind == EVENT_MACHINE)
        event.machine = (struct machine){true, true, value, value, value, value, value};
    else if (kind == EVENT_ANSWER)
        event.answer.load = (struct load){LOAD_POWER, value};
    else if (kind == EVENT_KEY)
        event.key.key = KEY_MORE;
    return event;
}

/* One such event in mid-work, a fresh link before it where `links` says so, and ticks after it. The
 * sanitizers watch for overflow; nothing may raise the load at once. */
static void survive(const struct event *extreme, bool links)
{
    struct drive drive;
    struct effects effects;

    drive_init(&drive);
    drive.has_strap = true;
    drive.strap_bpm = 140;
    drive_to(&drive, WORK_1_MS + 10000);
    if (links) {
        drive_link(&drive, false);
        drive_link(&drive, true);
    }
    struct event event = *extreme;
    event.t_ms = extreme->t_ms > UINT64_MAX - drive.t_ms ? UINT64_MAX : drive.t_ms + extreme->t_ms;
    for (int i = 0; i < 4; i++) {
        ride_step(&drive.ride, &event, &effects);
        assert_true(effects.count <= EFFECTS_MAX);
        for (size_t k = 0; k < effects.count; k++)
            if (effects.list[k].kind == EFFECT_COMMAND)
                assert_true(effects.list[k].command.load.value <= drive.load.value);
        event.kind = EVENT_TICK;
    }
}

static void the_ends_of_numbers_do_no_harm(void **state)
{
    static const uint64_t later_ms[] = {
        0, 1, 5000, 5001, UINT32_MAX, UINT32_MAX + UINT64_C(1), INT64_MAX, UINT64_MAX};
    static const int32_t values[] = {INT32_MIN, INT16_MIN, -1, 0, 1, UINT16_MAX, INT32_MAX};

    (void)state;
    for (enum event_kind kind = EVENT_TICK; kind < EVENT_KIND_COUNT; kind++)
        for (size_t t = 0; t < sizeof later_ms / sizeof later_ms[0]; t++)
            for (size_t v = 0; v < sizeof values / sizeof values[0]; v++) {
                const struct event event = extreme_event(kind, later_ms[t], values[v]);
                survive(&event, false);
                survive(&event, true);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(holds_whatever_happens),
                                       cmocka_unit_test(holds_in_every_order),
                                       cmocka_unit_test(the_ends_of_numbers_do_no_harm)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
