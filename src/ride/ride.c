#include "ride/ride.h"

#include <assert.h>

#include "acts.h"
#include "effects.h"
#include "ride_clock.h"

#define PEDALLING_RPM 30
#define PEDALLING_W   15

void ride_init(struct ride *ride, const struct ride_setup *setup)
{
    const size_t floor_steps = plan_floor_steps(&setup->plan);

    assert(setup->plan.step_count > floor_steps && setup->plan.step_count <= PLAN_STEPS_MAX);
    *ride = (struct ride){.setup = *setup};
    if (floor_steps > 0) {
        ride->phase = PHASE_FLOOR;
        ride->floor_lead_ms = FLOOR_LEAD_MS;
    }
    limits_set(&setup->rider, NULL, plan_duration_ms(&setup->plan), &ride->limits);
}

bool ride_may_be_loaded(const struct ride *ride)
{
    /* With its safety key pulled the machine stops itself and answers nothing. */
    return (ride->control.is_loaded || ride->control.left_loaded) && !ride->safety_key;
}

bool ride_waits_for_key(const struct ride *ride)
{
    return (ride->phase == PHASE_HELD && !act_hold_ends_itself(ride->hold)) ||
           (ride->phase == PHASE_FLOOR && ride->hold != HOLD_NONE);
}

/* ---- the start ---- */

static void start(struct ride *ride, struct effects *effects)
{
    ride->start_t_ms = ride->t_ms;
    act_enter(ride, PHASE_RIDING, effects);
    act_step(ride, effects);
    if (!ride->control.is_used)
        act_caution(ride, CAUTION_NO_CONTROL, effects);
    if (!sensors_heart_rate(&ride->sensors, ride->t_ms, ride->limits.heart_stale_ms).known)
        act_caution(ride, ride->setup.strap_expected ? CAUTION_STRAP_LOST : CAUTION_NO_HEART,
                    effects);
    if (ride->setup.is_watched && ride->setup.rider.heart_slowed)
        act_caution(ride, CAUTION_BY_EFFORT, effects);
    if (ride->setup.is_watched && ride->setup.rider.is_new)
        act_caution(ride, CAUTION_FIRST_BLOCKS, effects);
}

/* ---- safety and commands ---- */

static struct load lesser(struct load a, struct load b)
{
    return load_is_at_most(a, b) ? a : b;
}

/* Of the next rest, or of the cool-down where none follows: the least that it asks for. */
static struct load rest_load(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;

    for (size_t i = ride->step; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        const struct step_targets last = plan_step_targets(step, step->duration_ms);
        if (step->kind == STEP_REST || step->kind == STEP_COOL_DOWN)
            return lesser(ride_load_of(ride, step->kind, &step->targets),
                          ride_load_of(ride, step->kind, &last));
    }
    return (struct load){0};
}

static uint32_t since_ms(uint64_t then_ms, uint64_t t_ms)
{
    const uint64_t age = t_ms - then_ms;
    return age > AGE_UNKNOWN ? AGE_UNKNOWN : (uint32_t)age;
}

static uint32_t age_ms(const struct reading *reading, uint64_t t_ms)
{
    return reading->known ? since_ms(reading->t_ms, t_ms) : AGE_UNKNOWN;
}

/* Over the limit is the highest of all sources; whether legs turn at all, and turn the load, the
 * one that was chosen tells. */
static int32_t judged_cadence(const struct ride *ride)
{
    const int32_t highest_rpm = sensors_highest_cadence_rpm(&ride->sensors, ride->t_ms);

    return highest_rpm > ride->limits.cadence_max_rpm ? highest_rpm
                                                      : ride->sensors.cadence_rpm.value;
}

static struct safety_inputs safety_inputs(const struct ride *ride)
{
    const struct sensors *sensors = &ride->sensors;
    const struct plan_step *step = ride_current_step(ride);
    const uint64_t t_ms = ride->t_ms;
    const uint32_t data_age_ms = age_ms(&sensors->data, t_ms);
    const uint32_t in_phase_ms = since_ms(ride->phase_t_ms, t_ms);
    /* A block that is over is not cut off any more. */
    const bool is_missed = ride->is_regaining && ride->phase < PHASE_EASY;
    const struct reading heart = sensors_heart_rate(sensors, t_ms, ride->limits.heart_stale_ms);

    return (struct safety_inputs){
        .t_ms = t_ms,
        .phase = ride->phase,
        .hold = ride->hold,
        .in_work = step != NULL && step->kind == STEP_WORK,
        .may_coast = step != NULL && (step->kind == STEP_REST || step->kind == STEP_COOL_DOWN),
        .link_lost = is_missed,
        .link_lost_ms = is_missed ? since_ms(ride->lost_t_ms, t_ms) : 0,
        .has_control = ride->control.state == CONTROL_HELD,
        .safety_key = ride->safety_key,
        .control_fault = ride->control.fault,
        .data_age_ms = data_age_ms,
        .silence_ms = data_age_ms < in_phase_ms ? data_age_ms : in_phase_ms,
        .power_w = sensors_highest_power_w(sensors, t_ms),
        .cadence_rpm = judged_cadence(ride),
        .cadence_known = reading_is_fresh(&sensors->cadence_rpm, t_ms, ride->limits.data_stale_ms),
        .heart_was_known = ride->heart_was_known,
        .heart_age_ms = heart.known ? age_ms(&heart, t_ms) : AGE_UNKNOWN,
        .heart_bpm = heart.value,
        .heart_median_bpm = sensors_heart_median(sensors, t_ms, ride->limits.heart_window_ms),
        .since_start_ms = ride->start_t_ms == 0 ? 0 : since_ms(ride->start_t_ms, t_ms),
        .rest_load = rest_load(ride),
    };
}

static void obey(struct ride *ride, struct effects *effects)
{
    const struct safety_verdict *verdict = &ride->verdict;

    if (verdict->cut_off != CUT_OFF_NONE && ride->end != END_CUT_OFF) {
        const struct effect effect = {.kind = EFFECT_CUT_OFF,
                                      .cut_off = {.cut_off = verdict->cut_off}};
        effects_add(effects, &effect);
        act_wind_down(ride, END_CUT_OFF, REASON_CUT_OFF, effects);
    } else if (verdict->hold != HOLD_NONE && ride->phase == PHASE_RIDING) {
        act_hold(ride, verdict->hold, effects);
    } else if (ride->phase == PHASE_HELD && act_hold_ends_itself(ride->hold)) {
        if (verdict->hold == HOLD_NONE)
            act_resume(ride, effects);
        else if (verdict->hold != ride->hold)
            act_hold(ride, verdict->hold, effects);
    }
}

static void give_cautions(struct ride *ride, struct effects *effects)
{
    if (ride->phase != PHASE_RIDING)
        return;
    if (ride->verdict.heart_near)
        act_caution(ride, CAUTION_HEART_NEAR, effects);
    if (ride->verdict.strap_lost)
        act_caution(ride, CAUTION_STRAP_LOST, effects);
    if (ride->verdict.lowered || ride_lowers_held_power(ride))
        act_caution(ride, CAUTION_LOWERED, effects);
    if (ride_goes_by_feel(ride))
        act_caution(ride, CAUTION_BY_FEEL, effects);
    if (ride->control.load_refused)
        act_caution(ride, CAUTION_LOAD_REFUSED, effects);
    ride->control.load_refused = false;
}

/* Legs that rest may let a sensor fall asleep: of no matter while nobody rides. */
static void tell_silence(struct ride *ride, struct effects *effects)
{
    const uint32_t fell = ride->phase == PHASE_RIDING ? ride->sensors.fell_silent : 0;

    if (fell & (1u << LINK_POWER))
        act_caution(ride, CAUTION_POWER_SENSOR_LOST, effects);
    if (fell & (1u << LINK_CADENCE))
        act_caution(ride, CAUTION_CADENCE_SENSOR_LOST, effects);
    ride->sensors.fell_silent = 0;
}

static bool is_in_work(const struct ride *ride)
{
    const struct plan_step *step = ride->phase == PHASE_RIDING ? ride_current_step(ride) : NULL;

    return step != NULL && step->kind == STEP_WORK;
}

static void watch_recovery(struct ride *ride)
{
    if (ride->setup.counts_recovery)
        recovery_step(
            &ride->totals.recovery, ride->t_ms, is_in_work(ride),
            sensors_heart_median(&ride->sensors, ride->t_ms, ride->limits.heart_window_ms));
}

static int32_t fresh_value(const struct reading *reading, uint64_t t_ms, uint32_t max_age_ms)
{
    return reading_is_fresh(reading, t_ms, max_age_ms) ? reading->value : 0;
}

/* A source that is only late has told one by then, or is not counted on yet. */
bool ride_is_powerless(const struct ride *ride)
{
    const uint32_t late_ms = ride->limits.data_stale_ms;

    return ride->start_t_ms != 0 && fresh_value(&ride->sensors.power_w, ride->t_ms, late_ms) <= 0 &&
           ((ride->totals.max_power_w <= 0 && ride->block_ms >= late_ms) ||
            ride->watch.powerless_ms >= WATCH_POWERLESS_MS);
}

/* A heart that medicine slows need not rise. */
static void watch(struct ride *ride, struct effects *effects)
{
    const struct sensors *sensors = &ride->sensors;
    const struct limits *limits = &ride->limits;
    const bool has_sensor = sensors->cadence_from != LINK_MACHINE;
    const uint64_t t_ms = ride->t_ms;
    const struct watch_inputs inputs = {
        .t_ms = t_ms,
        .is_riding = ride->phase == PHASE_RIDING,
        .in_work = is_in_work(ride),
        .power_w = fresh_value(&sensors->power_w, t_ms, limits->data_stale_ms),
        .cadence_rpm = fresh_value(&sensors->cadence_rpm, t_ms, limits->data_stale_ms),
        .machine_rpm = fresh_value(&sensors->machine_cadence_rpm, t_ms, limits->data_stale_ms),
        .sensor_rpm = has_sensor ? sensors->cadence_rpm.value : 0,
        .machine_w = fresh_value(&sensors->machine_power_w, t_ms, limits->data_stale_ms),
        .sensor_w = fresh_value(&sensors->sensor_power_w, t_ms, SENSOR_SPEAKS_MS),
        .heart_bpm = sensors_heart_rate(sensors, t_ms, limits->heart_stale_ms).value,
        .heart_median_bpm = sensors_heart_median(sensors, t_ms, limits->heart_window_ms),
        .heart_limit_bpm = limits->heart_limit_bpm,
    };
    const struct watch_verdict verdict = watch_step(&ride->watch, &inputs);

    if (verdict.heart_is_flat && !ride->setup.rider.heart_slowed)
        act_caution(ride, CAUTION_HEART_FLAT, effects);
    if (verdict.heart_stays_up)
        act_caution(ride, CAUTION_HEART_STAYS, effects);
    if (verdict.heart_is_frozen)
        act_caution(ride, CAUTION_HEART_FROZEN, effects);
    if (verdict.power_is_frozen)
        act_caution(ride, CAUTION_POWER_FROZEN, effects);
    if (verdict.has_no_power && inputs.in_work && !ride_goes_by_feel(ride))
        act_caution(ride, CAUTION_NO_POWER, effects);
    if (verdict.cadence_is_twofold)
        act_caution(ride, CAUTION_TWO_CADENCES, effects);
    if (verdict.powers_are_apart && ride->setup.compares_powers)
        act_caution(ride, CAUTION_TWO_POWERS, effects);
}

static void judge(struct ride *ride, struct effects *effects)
{
    const struct step_targets targets = ride_targets(ride);
    const struct load wanted = ride_load_now(ride, &targets);

    if (ride->sensors.window_count > 0)
        ride->heart_was_known = true;
    control_watch(&ride->control, &ride->limits, ride->t_ms);
    const struct safety_inputs inputs = safety_inputs(ride);

    ride->verdict = safety_step(&ride->safety, &ride->limits, &inputs, wanted);
    obey(ride, effects);
    if (ride->phase == PHASE_ENDED)
        return;
    watch_recovery(ride);
    if (ride->hold == HOLD_PAUSED)
        control_stay_paused(&ride->control);
    control_step(&ride->control, &ride->limits, ride->t_ms, ride->verdict.load, effects);
    give_cautions(ride, effects);
    ride_tell_knob(ride, effects);
    tell_silence(ride, effects);
    if (ride->setup.is_watched && ride->start_t_ms != 0)
        watch(ride, effects);
}

/* ---- time ---- */

static bool is_pedalling(const struct ride *ride)
{
    const struct safety_inputs in = safety_inputs(ride);

    return in.data_age_ms <= ride->limits.data_stale_ms &&
           (in.cadence_known ? in.cadence_rpm >= PEDALLING_RPM : in.power_w >= PEDALLING_W);
}

static void wait_for_pedalling(struct ride *ride, uint64_t in_phase_ms, struct effects *effects)
{
    if (!is_pedalling(ride))
        ride->must_rest = false;
    else if (!ride->must_rest)
        act_enter(ride, PHASE_COUNT_IN, effects);
    if (ride->phase == PHASE_READY && in_phase_ms > ride->limits.ready_max_ms)
        act_leave(ride, END_STOPPED, REASON_NOT_STARTED, effects);
}

/* The block does not begin before the machine obeys, where it is to obey at all. */
static bool is_in_control(const struct ride *ride)
{
    return !ride->control.is_used || ride->control.state == CONTROL_HELD;
}

/* A machine that may have the load on is let go of when it is back. */
static bool is_awaited(const struct ride *ride)
{
    return ride_may_be_loaded(ride) && ride->is_regaining &&
           since_ms(ride->lost_t_ms, ride->t_ms) < ride->limits.link_lost_ms;
}

/* Riding out ends when the legs stop, when nothing is heard any more, or after its time. */
static bool has_ridden_out(const struct ride *ride, uint64_t in_phase_ms)
{
    const struct limits *limits = &ride->limits;
    const struct safety_inputs in = safety_inputs(ride);

    return in_phase_ms >= limits->easy_max_ms ||
           (in_phase_ms >= limits->data_lost_ms && !is_awaited(ride) &&
            (in.silence_ms > limits->data_lost_ms || safety_legs_are_still(limits, &in)));
}

static void pass_time(struct ride *ride, struct effects *effects)
{
    const uint64_t in_phase_ms = ride->t_ms - ride->phase_t_ms;

    switch (ride->phase) {
    case PHASE_CONNECTING:
        if (in_phase_ms > ride->limits.connect_max_ms)
            act_leave(ride, END_STOPPED, REASON_NO_MACHINE, effects);
        return;
    case PHASE_FLOOR:
        if (ride->hold != HOLD_NONE && ride->t_ms - ride->hold_t_ms > ride->limits.hold_max_ms)
            act_leave(ride, END_STOPPED, REASON_HELD_TOO_LONG, effects);
        return;
    case PHASE_READY: wait_for_pedalling(ride, in_phase_ms, effects); return;
    case PHASE_COUNT_IN:
        if (!is_pedalling(ride))
            act_enter(ride, PHASE_READY, effects);
        else if (in_phase_ms >= COUNT_IN_MS && is_in_control(ride))
            start(ride, effects);
        return;
    case PHASE_HELD:
        if (in_phase_ms > ride->limits.hold_max_ms)
            act_leave(ride, END_STOPPED, REASON_HELD_TOO_LONG, effects);
        return;
    case PHASE_EASY:
        if (has_ridden_out(ride, in_phase_ms))
            act_leave(ride, ride->end, ride->reason, effects);
        return;
    case PHASE_LEAVING:
        if (control_has_left(&ride->control) || in_phase_ms >= ride->limits.leave_max_ms)
            act_enter(ride, PHASE_ENDED, effects);
        return;
    case PHASE_RIDING:
    case PHASE_ENDED:
    case PHASE_COUNT: return;
    }
}

void ride_step(struct ride *ride, const struct event *event, struct effects *effects)
{
    effects->count = 0;
    if (ride->phase == PHASE_ENDED)
        return;
    if (ride->phase <= PHASE_FLOOR && ride->phase_t_ms == 0)
        ride->t_ms = ride->phase_t_ms = event->t_ms;
    assert(event->t_ms >= ride->t_ms);

    ride_clock_move(ride, event->t_ms, effects);
    sensors_choose(&ride->sensors, ride->t_ms);
    if (ride->phase != PHASE_ENDED)
        ride_take_event(ride, event, effects);
    ride_clock_watch(ride, effects);
    if (ride->phase != PHASE_ENDED)
        pass_time(ride, effects);
    if (ride->phase != PHASE_ENDED)
        judge(ride, effects);
}
