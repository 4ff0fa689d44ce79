#include "support/ride_world.h"

static void take_link(struct ride_world *world, bool up)
{
    world->link_up = up;
    if (up)
        return;
    world->control = world->control_asked = world->machine_known = false;
    world->data_known = false; /* what was read before does not count any more */
    world->load = (struct load){0};
    world->may_be_loaded = false; /* nothing can be said to it */
    world->raised_t_ms = 0;
}

/* Under 10 rpm they stand, from 55 they turn; without a cadence the power tells. */
static void take_legs(struct ride_world *world, const struct telemetry *data)
{
    const bool tells = (data->has & HAS_CADENCE) != 0;

    if (tells && data->cadence_rpm < 10 && world->phase == PHASE_HELD)
        world->stood = true;
    if (!tells || data->cadence_rpm >= 55)
        world->stood = false;
}

static void take_telemetry(struct ride_world *world, const struct telemetry *data)
{
    const bool power_true =
        !(data->has & HAS_POWER) || (data->power_w >= -50 && data->power_w <= 2500);
    const bool cadence_true =
        !(data->has & HAS_CADENCE) || (data->cadence_rpm >= 0 && data->cadence_rpm <= 250);
    if ((data->has & (HAS_POWER | HAS_CADENCE)) && power_true && cadence_true) {
        world->data_known = true;
        world->data_t_ms = world->t_ms;
        take_legs(world, data);
    }
}

static void take_answer(struct ride_world *world, const struct event *event)
{
    if (event->answer.command == COMMAND_REQUEST_CONTROL) {
        world->control |= world->control_asked && event->answer.answer == ANSWER_ACCEPTED;
        world->control_asked = false;
    } else if (event->answer.answer == ANSWER_NOT_PERMITTED &&
               (event->answer.command == COMMAND_LOAD || event->answer.command == COMMAND_START))
        world->control = false;
    if (event->answer.command != COMMAND_LOAD)
        return;
    world->load_t_ms = world->t_ms;
    if (event->answer.answer == ANSWER_ACCEPTED && event->answer.load.kind == LOAD_RELEASED &&
        world->load.kind == LOAD_RELEASED)
        world->may_be_loaded = false;
}

void ride_world_takes(struct ride_world *world, const struct event *event)
{
    world->jumped = event->t_ms - world->t_ms > 5000 && world->phase != PHASE_HELD;
    world->t_ms = event->t_ms;
    world->stop_now = world->loads_now = world->starts_now = false;
    world->is_machines_start =
        event->kind == EVENT_STATUS && event->status.status == STATUS_STARTED;
    world->goes_on_now = event->kind == EVENT_KEY && event->key.key == KEY_HOLD;
    world->pause_now = event->kind == EVENT_KEY && event->key.key == KEY_PAUSE;
    switch (event->kind) {
    case EVENT_LINK:
        if (event->link.source == LINK_MACHINE)
            take_link(world, event->link.up);
        break;
    case EVENT_MACHINE:
        if (world->link_up && !world->machine_known) {
            world->machine_max_w = event->machine.power_max_w;
            world->machine_max_tenths = event->machine.level_max_tenths;
            world->machine_min_tenths = event->machine.level_min_tenths;
            world->takes_power = event->machine.takes_power;
        }
        world->machine_known |= world->link_up;
        break;
    case EVENT_TELEMETRY: take_telemetry(world, &event->telemetry); break;
    case EVENT_ANSWER: take_answer(world, event); break;
    case EVENT_STATUS:
        if (event->status.status == STATUS_CONTROL_LOST || event->status.status == STATUS_RESET)
            world->control = false;
        break;
    case EVENT_KEY:
        world->stop_now = event->key.key == KEY_STOP || event->key.key == KEY_LEAVE ||
                          event->key.key == KEY_UNGUARDED;
        world->stopped |= world->stop_now;
        if (world->stop_now && world->phase < PHASE_EASY)
            world->first_stop = event->key.key == KEY_STOP    ? REASON_STOP_KEY
                                : event->key.key == KEY_LEAVE ? REASON_LEFT
                                                              : REASON_UNGUARDED;
        break;
    case EVENT_TICK:
    case EVENT_HEART:
    case EVENT_STORE:
    case EVENT_SENSOR: world->has_cadence_sensor |= (event->sensor.has & HAS_CADENCE) != 0; break;
    case EVENT_KIND_COUNT: break;
    }
}

/* 50 W or 5 levels at once, or an eighth of the levels where these are few: a machine's least level
 * is where it begins, and a level of 0.1 is always one. */
static int64_t most_at_once(const struct ride_world *world, bool is_power)
{
    const int64_t max = world->machine_max_tenths, min = world->machine_min_tenths;
    const int64_t eighth = ((max > 0 && max < 1000 ? max : 1000) - (min > 0 ? min : 0)) / 8;
    const int64_t most = eighth > 50 ? 50 : eighth < 1 ? 1 : eighth;

    if (is_power)
        return 50;
    return world->load.kind != LOAD_LEVEL && most < min ? min : most;
}

/* 800 W, or level 100; half a second between two that rise. */
static const char *judge_value(const struct ride_world *world, struct load load)
{
    const bool is_power = load.kind == LOAD_POWER;
    const int32_t machine_max = is_power ? world->machine_max_w : world->machine_max_tenths;
    const int32_t before = world->load.kind == load.kind ? world->load.value : 0;

    if (load.value > (is_power ? 800 : 1000))
        return "load-over-the-limit";
    if (machine_max > 0 && load.value > machine_max)
        return "load-over-the-machine";
    if (is_power && world->rider_max_w > 0 && load.value > world->rider_max_w)
        return "load-over-the-rider";
    if (load.value - before > most_at_once(world, is_power))
        return "load-jumps";
    if (load.value > before && world->raised_t_ms != 0 && world->t_ms - world->raised_t_ms < 500)
        return "load-climbs-too-fast";
    return NULL;
}

static const char *judge_load(const struct ride_world *world, struct load load)
{
    if (load.kind == LOAD_RELEASED)
        return NULL;
    if (world->cut_off)
        return "load-after-cut-off";
    if (world->stopped)
        return "load-after-stop";
    if (!world->link_up)
        return "load-without-link";
    if (!world->control)
        return "load-without-control";
    if (!world->data_known || world->t_ms - world->data_t_ms > 3000)
        return "load-without-readings";
    if (load.value <= 0)
        return "load-without-value";
    if (world->load.kind != LOAD_RELEASED && world->load.kind != load.kind)
        return "load-of-another-kind";
    if (world->stood && !world->has_cadence_sensor)
        return "load-under-standing-legs";
    return judge_value(world, load);
}

static const char *see_command(struct ride_world *world, const struct effect *effect)
{
    const struct load load = effect->command.load;
    if (effect->command.command == COMMAND_REQUEST_CONTROL)
        world->control_asked = true;
    world->starts_now |= effect->command.command == COMMAND_START;
    if (effect->command.command != COMMAND_LOAD)
        return NULL;
    const char *broken = judge_load(world, load);
    const bool was_same_kind = load.kind == world->load.kind;
    if (load.kind != LOAD_RELEASED && (!was_same_kind || load.value > world->load.value))
        world->raised_t_ms = world->t_ms;
    world->load = load;
    world->load_t_ms = world->t_ms;
    world->loads_now = load.kind != LOAD_RELEASED;
    world->may_be_loaded |= world->loads_now;
    world->loads_seen += load.kind != LOAD_RELEASED;
    return broken;
}

/* The first reason is the one that is stored; a stop never hides a cut-off. That the plan ends in
 * the moment of the key, whose time passes first, is no other reason. */
static const char *judge_summary(const struct ride_world *world, const struct summary *summary)
{
    if (summary->cut_off != world->first_cut_off ||
        (summary->end == END_CUT_OFF) != world->cut_off ||
        (summary->reason == REASON_CUT_OFF) != world->cut_off)
        return "another-cut-off-stored";
    if (!world->cut_off && world->first_stop != REASON_NONE &&
        summary->reason != REASON_PLAN_DONE && summary->reason != world->first_stop)
        return "another-reason-stored";
    return NULL;
}

static bool waits_for_rider(enum hold hold)
{
    return hold == HOLD_RIDER || hold == HOLD_PAUSED || hold == HOLD_CLOCK_JUMP;
}

/* Off the bike the end of the steps there ends it too. */
static const char *see_hold(struct ride_world *world, enum hold hold)
{
    const enum hold before = world->hold;

    world->hold = hold;
    world->holds_seen++;
    if (!waits_for_rider(before) || waits_for_rider(hold) || world->phase <= PHASE_FLOOR ||
        world->goes_on_now || world->stop_now ||
        (before == HOLD_PAUSED && world->is_machines_start))
        return NULL;
    return "hold-ends-by-itself";
}

static const char *see(struct ride_world *world, const struct effect *effect)
{
    if (world->ended)
        return "effect-after-the-end";
    switch (effect->kind) {
    case EFFECT_COMMAND: return see_command(world, effect);
    case EFFECT_CUT_OFF:
        if (world->cut_off)
            return "second-cut-off";
        world->cut_off = true;
        world->first_cut_off = effect->cut_off.cut_off;
        world->cut_offs_seen++;
        return NULL;
    case EFFECT_HOLD: return see_hold(world, effect->hold.hold);
    case EFFECT_PHASE:
        world->phase = effect->phase.phase;
        world->phase_told = true;
        world->phase_t_ms = world->t_ms;
        return NULL;
    case EFFECT_SUMMARY: world->ended = true; return judge_summary(world, &effect->summary);
    case EFFECT_STEP:
    case EFFECT_SAMPLE:
    case EFFECT_SHIFT:
    case EFFECT_KNOB:
    case EFFECT_CAUTION:
    case EFFECT_KIND_COUNT: break;
    }
    return NULL;
}

/* The longest that a phase may last, from the table of faults; 0: as long as it takes. */
static const uint64_t longest_ms[PHASE_COUNT] = {
    [PHASE_CONNECTING] = 60000, [PHASE_READY] = 300000, [PHASE_HELD] = 120000,
    [PHASE_EASY] = 180000,      [PHASE_LEAVING] = 6000,
};

static const char *judge_hold(const struct ride_world *world)
{
    const bool is_held = world->phase == PHASE_HELD;

    if (world->starts_now && is_held && world->hold == HOLD_PAUSED)
        return "start-under-a-pause";
    if (world->pause_now &&
        (world->phase == PHASE_RIDING || (is_held && !waits_for_rider(world->hold))))
        return "pause-not-obeyed";
    if (world->jumped && !world->goes_on_now && world->phase == PHASE_RIDING)
        return "jump-not-held";
    return NULL;
}

/* After the step, whatever order its effects came in. */
static const char *judge_moment(const struct ride_world *world)
{
    const bool has_load = world->load.kind != LOAD_RELEASED;

    if (world->loads_now && world->phase != PHASE_RIDING)
        return "load-outside-riding";
    if (world->may_be_loaded && world->phase > PHASE_RIDING && !world->ended && has_load)
        return "load-left-on-in-a-hold";
    if (world->may_be_loaded && world->phase > PHASE_RIDING && !world->ended &&
        world->t_ms - world->load_t_ms >= 3000)
        return "release-not-repeated";
    if (world->phase_told && longest_ms[world->phase] > 0 &&
        world->t_ms - world->phase_t_ms > longest_ms[world->phase])
        return "phase-without-end";
    return judge_hold(world);
}

const char *ride_world_sees(struct ride_world *world, const struct effects *effects)
{
    if (effects->count > EFFECTS_MAX)
        return "too-many-effects";
    for (size_t i = 0; i < effects->count; i++) {
        const char *broken = see(world, &effects->list[i]);
        if (broken != NULL)
            return broken;
    }
    if (world->stop_now && world->phase < PHASE_EASY)
        return "stop-not-obeyed"; /* whatever the phase was before */
    /* However it came about: after stop or cut-off the machine is told before anything else. */
    if ((world->stopped || world->cut_off) && world->control && world->link_up &&
        world->load.kind != LOAD_RELEASED)
        return "load-left-on";
    return judge_moment(world);
}
