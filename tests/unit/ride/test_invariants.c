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

#include "support/drive.h"

#define RIDES           10000
#define EVENTS_PER_RIDE 600

/* splitmix64, by Sebastiano Vigna, public domain */
static uint64_t chance_state;

static uint64_t chance(void)
{
    uint64_t z = (chance_state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

static uint32_t below(uint32_t limit)
{
    return (uint32_t)(chance() % limit);
}

/* What the world outside knows. */
struct world {
    uint64_t t_ms;
    bool control_asked; /* and not answered yet */
    bool link_up, control, cut_off, ended, stopped;
    enum phase phase;
    bool stop_now;              /* this event is one */
    enum cut_off first_cut_off; /* as it was told first */
    enum end_reason first_stop; /* of the key that ended the block, if one did */
    bool machine_known;
    int32_t machine_max_w;
    bool data_known;
    uint64_t data_t_ms;
    struct load load;
    uint64_t raised_t_ms;
    struct load asked[8]; /* commands that wait for an answer */
    enum machine_command asked_command[8];
    unsigned asked_count;
    unsigned long loads_seen, cut_offs_seen, holds_seen;
};

static void world_takes(struct world *world, const struct event *event)
{
    world->t_ms = event->t_ms;
    world->stop_now = false;
    switch (event->kind) {
    case EVENT_LINK:
        if (event->link.source != LINK_MACHINE)
            break;
        world->link_up = event->link.up;
        if (!event->link.up) {
            world->control = world->control_asked = world->machine_known = false;
            world->data_known = false; /* what was read before does not count any more */
            world->load = (struct load){0};
            world->raised_t_ms = 0;
        }
        break;
    case EVENT_MACHINE:
        if (world->link_up && !world->machine_known)
            world->machine_max_w = event->machine.power_max_w;
        world->machine_known |= world->link_up;
        break;
    case EVENT_TELEMETRY: {
        const struct telemetry *data = &event->telemetry;
        const bool power_true =
            !(data->has & HAS_POWER) || (data->power_w >= -50 && data->power_w <= 2500);
        const bool cadence_true =
            !(data->has & HAS_CADENCE) || (data->cadence_rpm >= 0 && data->cadence_rpm <= 250);
        if ((data->has & (HAS_POWER | HAS_CADENCE)) && power_true && cadence_true) {
            world->data_known = true;
            world->data_t_ms = event->t_ms;
        }
        break;
    }
    case EVENT_ANSWER:
        if (event->answer.command == COMMAND_REQUEST_CONTROL) {
            world->control |= world->control_asked && event->answer.answer == ANSWER_ACCEPTED;
            world->control_asked = false;
        } else if (event->answer.answer == ANSWER_NOT_PERMITTED &&
                   (event->answer.command == COMMAND_LOAD ||
                    event->answer.command == COMMAND_START))
            world->control = false;
        break;
    case EVENT_STATUS:
        if (event->status.status == STATUS_CONTROL_LOST || event->status.status == STATUS_RESET)
            world->control = false;
        break;
    case EVENT_KEY:
        world->stop_now = event->key.key == KEY_STOP || event->key.key == KEY_LEAVE;
        world->stopped |= world->stop_now;
        if (world->stop_now && world->phase < PHASE_EASY)
            world->first_stop = event->key.key == KEY_STOP ? REASON_STOP_KEY : REASON_LEFT;
        break;
    case EVENT_TICK:
    case EVENT_HEART:
    case EVENT_STORE:
    case EVENT_KIND_COUNT: break;
    }
}

static void check_load(const struct world *world, struct load load)
{
    if (load.kind == LOAD_RELEASED)
        return;
    assert_false(world->cut_off);
    assert_false(world->stopped);
    assert_true(world->link_up);
    assert_true(world->control);
    assert_true(world->data_known);
    assert_true(world->t_ms - world->data_t_ms <= 3000);
    assert_int_equal(load.kind, LOAD_POWER); /* the plan asks for nothing else */
    assert_true(load.value > 0);
    assert_true(load.value <= 800);
    assert_true(load.value <= 200 * 120 / 100); /* the plan's most, and the rider's own fifth */
    if (world->machine_max_w > 0)
        assert_true(load.value <= world->machine_max_w);
    /* 100 W a second: 50 W at once at most, and half a second between two. */
    const int32_t before = world->load.kind == LOAD_POWER ? world->load.value : 0;
    assert_true(load.value - before <= 50);
    if (load.value > before)
        assert_true(world->raised_t_ms == 0 || world->t_ms - world->raised_t_ms >= 500);
}

/* The first reason is the one that is stored; a stop never hides a cut-off. That the plan ends in
 * the moment of the key, whose time passes first, is no other reason. */
static void check_summary(const struct world *world, const struct summary *summary)
{
    assert_int_equal(summary->cut_off, world->first_cut_off);
    assert_int_equal(summary->end == END_CUT_OFF, world->cut_off);
    assert_int_equal(summary->reason == REASON_CUT_OFF, world->cut_off);
    if (!world->cut_off && world->first_stop != REASON_NONE && summary->reason != REASON_PLAN_DONE)
        assert_int_equal(summary->reason, world->first_stop);
}

static void world_sees(struct world *world, const struct effects *effects)
{
    size_t steps = 0;

    assert_true(effects->count <= EFFECTS_MAX);
    if (world->ended)
        assert_int_equal(effects->count, 0);
    for (size_t i = 0; i < effects->count; i++) {
        const struct effect *effect = &effects->list[i];
        assert_false(world->ended);
        if (effect->kind == EFFECT_COMMAND) {
            if (effect->command.command == COMMAND_LOAD) {
                check_load(world, effect->command.load);
                if (!load_is_at_most(effect->command.load, world->load))
                    world->raised_t_ms = world->t_ms;
                world->load = effect->command.load;
                world->loads_seen += effect->command.load.kind != LOAD_RELEASED;
            }
            if (effect->command.command == COMMAND_REQUEST_CONTROL)
                world->control_asked = true;
            if (world->asked_count < 8) {
                world->asked[world->asked_count] = effect->command.load;
                world->asked_command[world->asked_count++] = effect->command.command;
            }
        } else if (effect->kind == EFFECT_CUT_OFF) {
            assert_false(world->cut_off);
            world->cut_off = true;
            world->first_cut_off = effect->cut_off.cut_off;
            world->cut_offs_seen++;
        } else if (effect->kind == EFFECT_HOLD) {
            world->holds_seen++;
        } else if (effect->kind == EFFECT_PHASE) {
            world->phase = effect->phase.phase;
        } else if (effect->kind == EFFECT_STEP) {
            steps++;
        } else if (effect->kind == EFFECT_SUMMARY) {
            check_summary(world, &effect->summary);
            world->ended = true;
        }
    }
    assert_true(steps <= 8); /* no more than the plan has: nothing goes round in circles */
    if (world->stop_now)
        assert_true(world->phase >= PHASE_EASY); /* whatever the phase was before */
    /* However it came about: after stop or cut-off the machine is told before anything else. */
    if ((world->stopped || world->cut_off) && world->control && world->link_up)
        assert_int_equal(world->load.kind, LOAD_RELEASED);
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

/* Mostly a ride, now and then a fault, rarely nonsense. */
static struct event chance_event(struct world *world, uint32_t mishaps)
{
    struct event event = {.t_ms = world->t_ms};
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
        event.key.key = (enum ride_key)below(KEY_LEAVE + (below(8) == 0));
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
        event.machine.takes_power = below(8) != 0;
        event.machine.power_max_w = (int32_t)below(500);
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

    world_takes(world, event);
    ride_step(&drive->ride, event, &effects);
    world_sees(world, &effects);
    assert_int_equal(drive->ride.safety.cut_off, world->first_cut_off); /* what screens show */
}

static void ride_by_chance(struct world *sums, uint32_t mishaps)
{
    static struct drive drive;
    struct world world = {.t_ms = chance() % 1000};
    struct event link = {.t_ms = world.t_ms, .kind = EVENT_LINK, .link = {LINK_MACHINE, true}};
    struct event machine = {.t_ms = world.t_ms, .kind = EVENT_MACHINE};

    machine.machine.takes_power = true;
    machine.machine.power_max_w = below(3) == 0 ? (int32_t)below(300) : 0;
    drive_init(&drive);
    take(&drive, &world, &link);
    take(&drive, &world, &machine);
    for (int i = 0; i < EVENTS_PER_RIDE; i++) {
        const struct event event = chance_event(&world, mishaps);
        take(&drive, &world, &event);
    }
    sums->loads_seen += world.loads_seen;
    sums->cut_offs_seen += world.cut_offs_seen;
    sums->holds_seen += world.holds_seen;
}

static void holds_whatever_happens(void **state)
{
    struct world sums = {0};

    (void)state;
    chance_state = 20260101;
    for (int i = 0; i < RIDES; i++)
        ride_by_chance(&sums, i % 2 == 0 ? 6 : 60);
    /* The chance rides must get somewhere, or they prove nothing. */
    print_message("%lu loads, %lu cut-offs, %lu holds\n", sums.loads_seen, sums.cut_offs_seen,
                  sums.holds_seen);
    assert_true(sums.loads_seen > 10000);
    assert_true(sums.cut_offs_seen > 500);
    assert_true(sums.holds_seen > 1000);
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
        event.machine = (struct machine){true, true, value, value, value, value};
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
                                       cmocka_unit_test(the_ends_of_numbers_do_no_harm)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
