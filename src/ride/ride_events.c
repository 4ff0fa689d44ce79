#include "acts.h"
#include "effects.h"

#define SHIFT_PCT     2
#define SHIFT_MIN_PCT (-50)
#define SHIFT_MAX_PCT 20

static void shift(struct ride *ride, int32_t by_pct, struct effects *effects)
{
    const int32_t shift_pct = ride->shift_pct + by_pct;
    const struct effect effect = {.kind = EFFECT_SHIFT, .shift = {shift_pct}};

    if (shift_pct < SHIFT_MIN_PCT || shift_pct > SHIFT_MAX_PCT)
        return;
    ride->shift_pct = shift_pct;
    effects_add(effects, &effect);
}

static void move(struct ride *ride, int32_t by, struct effects *effects)
{
    if (ride_goes_by_feel(ride))
        ride_feel(ride, by);
    else
        shift(ride, by * SHIFT_PCT, effects);
}

/* Once it is leaving there is nothing to hurry: a shaking hand, or a terminal that goes away with a
 * signal and an error at once, would leave without the machine's answer. */
static void stop(struct ride *ride, enum end_reason reason, struct effects *effects)
{
    if (ride->phase == PHASE_RIDING || ride->phase == PHASE_HELD)
        act_wind_down(ride, END_STOPPED, reason, effects);
    else if (ride->phase != PHASE_LEAVING)
        act_leave(ride, END_STOPPED, reason, effects);
}

static void leave(struct ride *ride, enum end_reason reason, struct effects *effects)
{
    if (ride->phase != PHASE_LEAVING)
        act_leave(ride, END_STOPPED, reason, effects);
}

static void go_on(struct ride *ride, struct effects *effects)
{
    if (ride->hold == HOLD_PAUSED)
        control_start_again(&ride->control);
    act_resume(ride, effects);
}

/* What is left out on the floor is not missing from the block on the bike. */
static void skip(struct ride *ride, struct effects *effects)
{
    if (ride->phase == PHASE_FLOOR && ride->floor_lead_ms > 0) {
        ride->floor_lead_ms = 0;
        act_step(ride, effects);
    } else if (ride->phase == PHASE_FLOOR || ride->phase == PHASE_RIDING) {
        ride->skipped += ride->phase == PHASE_RIDING;
        act_next_step(ride, effects);
    }
}

/* Who stops or holds while it is counted in is not ready: the legs must rest once, or the hold key
 * be pressed again. */
static void wait_for_rest(struct ride *ride, struct effects *effects)
{
    ride->must_rest = true;
    act_enter(ride, PHASE_READY, effects);
}

/* In a hold that would end by itself it is one that does not: who asked for it may be off the bike.
 * A pause goes on with nothing. */
static void hold_or_go_on(struct ride *ride, enum ride_key key, struct effects *effects)
{
    if (ride_waits_for_key(ride)) {
        if (key == KEY_HOLD)
            go_on(ride, effects);
    } else if (ride->phase == PHASE_RIDING || ride->phase == PHASE_HELD ||
               ride->phase == PHASE_FLOOR) {
        act_hold(ride, HOLD_RIDER, effects);
    } else if (ride->phase == PHASE_COUNT_IN) {
        wait_for_rest(ride, effects);
    } else if (ride->phase == PHASE_READY && key == KEY_HOLD) {
        ride->must_rest = false;
    }
}

static void on_key(struct ride *ride, enum ride_key key, int32_t position, struct effects *effects)
{
    switch (key) {
    case KEY_STOP: stop(ride, REASON_STOP_KEY, effects); return;
    case KEY_LEAVE: leave(ride, REASON_LEFT, effects); return;
    case KEY_UNGUARDED: leave(ride, REASON_UNGUARDED, effects); return;
    case KEY_HOLD:
    case KEY_PAUSE: hold_or_go_on(ride, key, effects); return;
    case KEY_MORE: move(ride, 1, effects); return;
    case KEY_LESS: move(ride, -1, effects); return;
    case KEY_SKIP: skip(ride, effects); return;
    case KEY_KNOB: ride_put_knob(ride, position); return;
    case KEY_NONE: return;
    }
}

static void stopped_at_console(struct ride *ride, struct effects *effects)
{
    if (ride->phase == PHASE_RIDING || ride->phase == PHASE_HELD) {
        act_wind_down(ride, END_STOPPED, REASON_MACHINE_STOP, effects);
    } else if (ride->phase == PHASE_COUNT_IN) {
        wait_for_rest(ride, effects);
    }
}

static void paused_at_console(struct ride *ride, struct effects *effects)
{
    if (ride->phase == PHASE_RIDING ||
        (ride->phase == PHASE_HELD && act_hold_ends_itself(ride->hold)))
        act_hold(ride, HOLD_PAUSED, effects);
    else if (ride->phase == PHASE_COUNT_IN)
        wait_for_rest(ride, effects);
}

static void on_status(struct ride *ride, enum machine_status status, struct effects *effects)
{
    switch (status) {
    case STATUS_STOPPED: stopped_at_console(ride, effects); return;
    case STATUS_PAUSED: paused_at_console(ride, effects); return;
    case STATUS_STARTED:
        if (ride->phase == PHASE_HELD && ride->hold == HOLD_PAUSED)
            act_resume(ride, effects);
        return;
    case STATUS_SAFETY_KEY: ride->safety_key = true; return;
    case STATUS_CONTROL_LOST: control_lost(&ride->control); return;
    case STATUS_RESET:
        if (ride->control.state == CONTROL_HELD)
            control_ask_again(&ride->control);
        return;
    case STATUS_NONE: return;
    }
}

/* A power that came with this event, whoever measured it. */
static void note_power(struct ride *ride)
{
    const struct sensors *sensors = &ride->sensors;
    const bool knows_cadence =
        reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, ride->limits.data_stale_ms);

    ride_learn_brake(ride);
    if (reading_is_fresh(&sensors->power_w, ride->t_ms, 0))
        knob_reading(&ride->knob, ride->t_ms, sensors->power_w.value,
                     knows_cadence ? sensors->cadence_rpm.value : KNOB_NO_CADENCE);
}

/* Two powers at a time are the machine's, just told, and the sensor's last. */
static void count_powers(struct ride *ride, const struct telemetry *data)
{
    const struct sensors *sensors = &ride->sensors;
    const bool is_by_sensor = sensors->power_from == LINK_POWER;

    totals_power_by(&ride->totals, is_by_sensor);
    if (is_by_sensor && (data->has & HAS_POWER) && sensors->machine_has_power &&
        reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, ride->limits.data_stale_ms))
        two_powers_add(&ride->totals.powers, ride->t_ms, sensors->machine_power_w.value,
                       sensors->power_w.value, sensors->cadence_rpm.value);
}

static void on_telemetry(struct ride *ride, const struct telemetry *data, struct effects *effects)
{
    struct sensors *sensors = &ride->sensors;
    const uint32_t doubtful = sensors->doubtful_in_a_row;

    sensors_telemetry(sensors, ride->t_ms, data);
    if (sensors->doubtful_in_a_row > doubtful) {
        act_caution(ride, CAUTION_DOUBTFUL, effects);
        return;
    }
    if (reading_is_fresh(&sensors->data, ride->t_ms, 0) && ride->is_linked)
        ride->is_regaining = false;
    note_power(ride);
    if (ride->phase != PHASE_RIDING && ride->phase != PHASE_EASY)
        return;
    /* A record may come in parts: the part with the power is the sample. */
    if (!(data->has & HAS_POWER) && (sensors->machine_power_w.known || !(data->has & HAS_CADENCE)))
        return;

    struct effect effect = {.kind = EFFECT_SAMPLE};
    struct telemetry *sample = &effect.sample;
    const uint32_t stale_ms = ride->limits.data_stale_ms;
    const struct reading heart =
        sensors_heart_rate(sensors, ride->t_ms, ride->limits.heart_stale_ms);

    if (reading_is_fresh(&sensors->power_w, ride->t_ms, stale_ms))
        *sample = (struct telemetry){.has = HAS_POWER, .power_w = sensors->power_w.value};
    if (reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, stale_ms)) {
        sample->has |= HAS_CADENCE;
        sample->cadence_rpm = sensors->cadence_rpm.value;
    }
    if (heart.known) {
        sample->has |= HAS_HEART;
        sample->heart_bpm = heart.value;
    }
    if (sensors->distance_m.known) {
        sample->has |= HAS_DISTANCE;
        sample->distance_m = sensors->distance_m.value;
    }
    totals_sample(&ride->totals, &ride->setup.rider, ride_current_step(ride), ride->t_ms, sample);
    if (ride->setup.tells_sources && (sample->has & HAS_POWER))
        count_powers(ride, data);
    sample->has |= HAS_DISTANCE;
    sample->distance_m = totals_distance_m(&ride->totals);
    effects_add(effects, &effect);
}

/* No sample of its own: samples keep the machine's time, whoever measures, so nothing is counted
 * twice where the source changes. */
static void on_sensor(struct ride *ride, const struct event *event)
{
    const struct telemetry data = {
        .has = event->sensor.has & (HAS_POWER | HAS_CADENCE),
        .power_w = event->sensor.power_w,
        .cadence_rpm = event->sensor.cadence_rpm,
    };

    sensors_effort(&ride->sensors, ride->t_ms, event->sensor.source, &data);
    note_power(ride);
}

static void lose_link(struct ride *ride, struct effects *effects)
{
    ride->is_linked = false;
    ride->machine_known = false;
    control_forget(&ride->control);
    switch (ride->phase) {
    case PHASE_CONNECTING: act_leave(ride, END_STOPPED, REASON_NO_MACHINE, effects); return;
    case PHASE_FLOOR: return; /* there is time to call it again */
    case PHASE_READY:
    case PHASE_COUNT_IN: act_enter(ride, PHASE_CONNECTING, effects); return;
    case PHASE_RIDING:
    case PHASE_HELD:
    case PHASE_EASY:
        if (!ride->is_regaining)
            ride->lost_t_ms = ride->t_ms;
        ride->is_regaining = true;
        return;
    case PHASE_LEAVING:
        /* Back within the time that it has, the machine is told to let go. */
        if (!ride_may_be_loaded(ride))
            act_enter(ride, PHASE_ENDED, effects);
        return;
    case PHASE_ENDED:
    case PHASE_COUNT: return;
    }
}

static void on_link(struct ride *ride, enum link_source source, bool up, struct effects *effects)
{
    if (source == LINK_MACHINE && up)
        ride->is_linked = true;
    else if (source == LINK_MACHINE)
        lose_link(ride, effects);
    else if (!up)
        sensors_lose(&ride->sensors, ride->t_ms, source);
}

/* What a machine can do is told once a link; to change it under a load would leave that on. */
static void on_machine(struct ride *ride, const struct machine *machine, struct effects *effects)
{
    if (!ride->is_linked || ride->machine_known)
        return;
    ride->machine_known = true;
    control_machine(&ride->control, machine);
    limits_set(&ride->setup.rider, machine, plan_duration_ms(&ride->setup.plan), &ride->limits);
    ride_hold_levels(ride, machine);
    ride->control.is_used = ride_can_command(ride);
    ride_recall_knob(ride);
    ride_recall_feel(ride);
    if (ride->phase == PHASE_CONNECTING)
        act_enter(ride, PHASE_READY, effects);
}

void ride_take_event(struct ride *ride, const struct event *event, struct effects *effects)
{
    switch (event->kind) {
    case EVENT_KEY: on_key(ride, event->key.key, event->key.position, effects); return;
    case EVENT_LINK: on_link(ride, event->link.source, event->link.up, effects); return;
    case EVENT_MACHINE: on_machine(ride, &event->machine, effects); return;
    case EVENT_TELEMETRY: on_telemetry(ride, &event->telemetry, effects); return;
    case EVENT_HEART:
        sensors_heart(&ride->sensors, ride->t_ms, event->heart.heart_bpm, event->heart.contact);
        return;
    case EVENT_ANSWER:
        control_answer(&ride->control, ride->t_ms, event->answer.command, event->answer.answer,
                       event->answer.load);
        return;
    case EVENT_STATUS: on_status(ride, event->status.status, effects); return;
    case EVENT_STORE:
        if (event->store.failed)
            act_caution(ride, CAUTION_NOT_SAVED, effects);
        return;
    case EVENT_SENSOR: on_sensor(ride, event); return;
    case EVENT_TICK:
    case EVENT_KIND_COUNT: return;
    }
}
