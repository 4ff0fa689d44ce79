#include "support/drive.h"

#include <string.h>

static struct plan_step step(enum step_kind kind, uint32_t duration_ms, int32_t power_w)
{
    return (struct plan_step){.kind = kind,
                              .duration_ms = duration_ms,
                              .targets.power_w = {true, power_w - 10, power_w + 10}};
}

void drive_init(struct drive *drive)
{
    struct ride_setup setup = {.plan.title = "test", .is_watched = true, .compares_powers = true};
    struct plan *plan = &setup.plan;

    plan->steps[plan->step_count++] = step(STEP_WARM_UP, 30000, 100);
    for (int i = 0; i < 3; i++) {
        plan->steps[plan->step_count++] = step(STEP_WORK, 60000, 200);
        plan->steps[plan->step_count++] = step(STEP_REST, 30000, 80);
    }
    plan->steps[plan->step_count++] = step(STEP_COOL_DOWN, 60000, 60);
    memset(drive, 0, sizeof *drive);
    ride_init(&drive->ride, &setup);
    drive->power_w = 100;
    drive->cadence_rpm = 90;
}

static void see(struct drive *drive, const struct effect *effect)
{
    switch (effect->kind) {
    case EFFECT_COMMAND:
        drive->commands[effect->command.command]++;
        if (effect->command.command == COMMAND_LOAD) {
            drive->load = effect->command.load;
            drive->load_t_ms = drive->t_ms;
        }
        break;
    case EFFECT_PHASE: drive->phase = effect->phase.phase; break;
    case EFFECT_HOLD: drive->hold = effect->hold.hold; break;
    case EFFECT_CAUTION: drive->cautions[effect->caution.caution]++; break;
    case EFFECT_CUT_OFF:
        if (drive->cut_off == CUT_OFF_NONE)
            drive->cut_off = effect->cut_off.cut_off;
        drive->cut_off_t_ms = drive->t_ms;
        break;
    case EFFECT_SUMMARY:
        drive->summary = effect->summary;
        drive->summaries++;
        break;
    case EFFECT_SHIFT:
    case EFFECT_KNOB:
    case EFFECT_STEP:
    case EFFECT_SAMPLE:
    case EFFECT_KIND_COUNT: break;
    }
}

static struct event answer_to(const struct drive *drive, const struct effect *command)
{
    struct event event = {.kind = EVENT_ANSWER};

    event.answer.command = command->command.command;
    event.answer.load = command->command.load;
    event.answer.answer =
        command->command.command == COMMAND_LOAD ? drive->answer : ANSWER_ACCEPTED;
    return event;
}

/* The machine answers at once, and what that causes is answered as well. */
void drive_event(struct drive *drive, const struct event *event)
{
    struct event queue[64] = {*event};
    size_t count = 1;

    for (size_t next = 0; next < count; next++) {
        struct effects effects;

        queue[next].t_ms = drive->t_ms;
        ride_step(&drive->ride, &queue[next], &effects);
        reserve_run_step(&drive->reserve, &drive->ride);
        if (drive->watch != NULL)
            drive->watch(drive->user, &queue[next], &effects);
        if (next == 0)
            drive->effects = effects;
        for (size_t i = 0; i < effects.count; i++) {
            see(drive, &effects.list[i]);
            if (effects.list[i].kind == EFFECT_COMMAND && !drive->is_mute && count < 64)
                queue[count++] = answer_to(drive, &effects.list[i]);
        }
    }
}

void drive_for(struct drive *drive, uint32_t ms)
{
    const struct event tick = {.kind = EVENT_TICK};

    for (uint32_t passed = 0; passed < ms; passed += TICK_MS) {
        drive->t_ms += TICK_MS;
        if (drive->sensor_w > 0) {
            struct event sensor = {.kind = EVENT_SENSOR};
            sensor.sensor.source = LINK_POWER;
            sensor.sensor.has = HAS_POWER;
            sensor.sensor.power_w = drive->sensor_w;
            drive_event(drive, &sensor);
        }
        if (!drive->is_silent) {
            struct event data = {.kind = EVENT_TELEMETRY};
            data.telemetry.has = HAS_POWER | HAS_CADENCE;
            data.telemetry.power_w = drive->power_w;
            data.telemetry.cadence_rpm = drive->cadence_rpm;
            drive_event(drive, &data);
        }
        if (drive->has_strap && drive->t_ms % 1000 == 0) {
            struct event heart = {.kind = EVENT_HEART};
            heart.heart.heart_bpm = drive->strap_bpm;
            heart.heart.contact = CONTACT_GOOD;
            drive_event(drive, &heart);
        }
        drive_event(drive, &tick);
    }
}

static void connect_machine(struct drive *drive)
{
    struct event machine = {.kind = EVENT_MACHINE};

    machine.machine = (struct machine){.takes_power = true, .power_max_w = 600};
    drive_link(drive, true);
    drive_event(drive, &machine);
}

void drive_to(struct drive *drive, uint32_t block_ms)
{
    if (drive->ride.phase == PHASE_CONNECTING)
        connect_machine(drive);
    while (drive->ride.phase == PHASE_READY || drive->ride.phase == PHASE_COUNT_IN)
        drive_for(drive, TICK_MS);
    while (drive->ride.phase == PHASE_RIDING && drive->ride.block_ms < block_ms)
        drive_for(drive, TICK_MS);
}

void drive_key(struct drive *drive, enum ride_key key)
{
    const struct event event = {.kind = EVENT_KEY, .key = {key}};
    drive_event(drive, &event);
}

void drive_status(struct drive *drive, enum machine_status status)
{
    const struct event event = {.kind = EVENT_STATUS, .status = {status}};
    drive_event(drive, &event);
}

void drive_link(struct drive *drive, bool up)
{
    const struct event event = {.kind = EVENT_LINK, .link = {LINK_MACHINE, up}};
    drive_event(drive, &event);
}

void drive_lose_link(struct drive *drive)
{
    drive_link(drive, false);
    drive->is_silent = true;
    drive->is_mute = true;
}

void drive_regain_link(struct drive *drive)
{
    drive->is_mute = false;
    connect_machine(drive);
}

bool drive_saw(const struct drive *drive, enum effect_kind kind)
{
    for (size_t i = 0; i < drive->effects.count; i++)
        if (drive->effects.list[i].kind == kind)
            return true;
    return false;
}
