#include "acts.h"

#include "effects.h"

/* How soon a caution may be given again; 0: once a ride says it all. */
static const uint32_t repeat_ms[CAUTION_COUNT] = {
    [CAUTION_HEART_NEAR] = 30000,
    [CAUTION_STRAP_LOST] = 30000,
    [CAUTION_DOUBTFUL] = 30000,
    [CAUTION_LOAD_REFUSED] = 30000,
    [CAUTION_NOT_SAVED] = 30000,
    [CAUTION_POWER_SENSOR_LOST] = 30000,
    [CAUTION_CADENCE_SENSOR_LOST] = 30000,
};

void act_caution(struct ride *ride, enum caution caution, struct effects *effects)
{
    const struct effect effect = {.kind = EFFECT_CAUTION, .caution = {caution}};
    const uint64_t last = ride->caution_t_ms[caution];

    if (last != 0 && (repeat_ms[caution] == 0 || ride->t_ms - last < repeat_ms[caution]))
        return;
    ride->caution_t_ms[caution] = ride->t_ms > 0 ? ride->t_ms : 1;
    effects_add(effects, &effect);
}

void act_step(struct ride *ride, struct effects *effects)
{
    const struct effect effect = {.kind = EFFECT_STEP, .step = {.index = (int32_t)ride->step}};

    ride->step_ms = 0;
    ride->step_end_ms = ride->setup.plan.steps[ride->step].duration_ms;
    ride->step_work_j = work_j(&ride->totals.work);
    ride->step_distance_m = totals_distance_m(&ride->totals);
    knob_begin_step(&ride->knob, ride->t_ms);
    effects_add(effects, &effect);
}

static void set_hold(struct ride *ride, enum hold hold, struct effects *effects)
{
    const struct effect effect = {.kind = EFFECT_HOLD, .hold = {hold}};
    ride->hold = hold;
    ride->hold_t_ms = ride->t_ms;
    effects_add(effects, &effect);
}

static void give_summary(const struct ride *ride, struct effects *effects)
{
    struct effect effect = {.kind = EFFECT_SUMMARY};

    totals_summary(&ride->totals, &effect.summary);
    effect.summary.end = ride->end;
    effect.summary.reason = ride->reason;
    effect.summary.cut_off = ride->safety.cut_off;
    effect.summary.unreleased = ride_may_be_loaded(ride);
    effect.summary.skipped = ride->skipped;
    effect.summary.duration_ms = ride->block_ms;
    effects_add(effects, &effect);
}

void act_enter(struct ride *ride, enum phase phase, struct effects *effects)
{
    const struct effect effect = {.kind = EFFECT_PHASE, .phase = {phase}};

    ride->phase = phase;
    ride->phase_t_ms = ride->t_ms;
    effects_add(effects, &effect);
    if (phase == PHASE_EASY)
        act_caution(ride, CAUTION_KEEP_TURNING, effects);
    if (phase == PHASE_ENDED)
        give_summary(ride, effects);
}

static void set_end(struct ride *ride, enum end end, enum end_reason reason)
{
    if (ride->end == END_NONE || (end == END_CUT_OFF && ride->end != END_CUT_OFF)) {
        ride->end = end;
        ride->reason = reason;
    }
}

void act_leave(struct ride *ride, enum end end, enum end_reason reason, struct effects *effects)
{
    set_end(ride, end, reason);
    control_leave(&ride->control);
    if (ride->is_linked && !control_has_left(&ride->control))
        act_enter(ride, PHASE_LEAVING, effects);
    else
        act_enter(ride, PHASE_ENDED, effects);
}

void act_wind_down(struct ride *ride, enum end end, enum end_reason reason, struct effects *effects)
{
    if (ride->start_t_ms == 0) {
        act_leave(ride, end, reason, effects);
        return;
    }
    set_end(ride, end, reason);
    control_over(&ride->control);
    ride->hold = HOLD_NONE;
    act_enter(ride, PHASE_EASY, effects);
}

void act_hold(struct ride *ride, enum hold reason, struct effects *effects)
{
    totals_break(&ride->totals);
    set_hold(ride, reason, effects);
    /* On the floor there is nothing to let go of. */
    if (ride->phase != PHASE_HELD && ride->phase != PHASE_FLOOR)
        act_enter(ride, PHASE_HELD, effects);
}

bool act_hold_ends_itself(enum hold hold)
{
    return hold == HOLD_LINK || hold == HOLD_NO_DATA || hold == HOLD_CADENCE;
}

void act_resume(struct ride *ride, struct effects *effects)
{
    set_hold(ride, HOLD_NONE, effects);
    if (ride->phase != PHASE_FLOOR)
        act_enter(ride, PHASE_RIDING, effects);
}

/* A hold, with the skip key pressed in it, is not taken along. */
static void leave_floor(struct ride *ride, struct effects *effects)
{
    if (ride->hold != HOLD_NONE)
        set_hold(ride, HOLD_NONE, effects);
    act_enter(ride, ride->machine_known ? PHASE_READY : PHASE_CONNECTING, effects);
}

void act_next_step(struct ride *ride, struct effects *effects)
{
    const struct plan *plan = &ride->setup.plan;

    if (ride->step + 1 < plan->step_count) {
        ride->step++;
        if (ride->phase == PHASE_FLOOR && plan->steps[ride->step].kind != STEP_FLOOR)
            leave_floor(ride, effects);
        else
            act_step(ride, effects);
    } else if (plan->steps[ride->step].kind == STEP_COOL_DOWN) {
        act_leave(ride, END_DONE, REASON_PLAN_DONE, effects);
    } else {
        act_wind_down(ride, END_DONE, REASON_PLAN_DONE, effects);
    }
}

void act_end_step(struct ride *ride, struct effects *effects)
{
    const bool is_work = ride->setup.plan.steps[ride->step].kind == STEP_WORK;
    const uint32_t end_ms = ride->step_ms + (is_work ? 0 : END_COUNT_MS);

    if (end_ms < ride->step_end_ms)
        ride->step_end_ms = end_ms;
    if (ride->step_ms >= ride->step_end_ms)
        act_next_step(ride, effects);
}
