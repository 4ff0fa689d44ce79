#include "rehearse_turns.h"

static int32_t middle_w(const struct target_range *power_w)
{
    return (power_w->low + power_w->high) / 2;
}

static bool is_way_gone(const struct turn_watch *turns, int32_t power_w)
{
    const int32_t way_w = turns->to_w - turns->from_w, gone_w = power_w - turns->from_w;

    return way_w > 0 ? 3 * gone_w >= 2 * way_w : 3 * gone_w <= 2 * way_w;
}

static void end_step(struct turn_watch *turns, uint32_t lasted_ms)
{
    struct rehearsal_turns *result = turns->result;

    if (turns->from_w == turns->to_w)
        return;
    result->step_count++;
    if (turns->is_there || lasted_ms == 0)
        return;
    if (result->short_count++ == 0)
        result->short_at = turns->begun;
}

/* A step that goes on from a ramp, or stays in the range before, asks for no turn. */
static void begin_step(struct turn_watch *turns, const struct ride *ride, size_t step)
{
    const struct plan_step *steps = ride->setup.plan.steps, *now = &steps[step];

    turns->begun = (struct rehearsal_place){ride->block_ms, step};
    turns->is_there = turns->is_slow = false;
    turns->from_w = turns->to_w = 0;
    if (step == 0)
        return;
    const struct step_targets before =
        plan_step_targets(&steps[step - 1], steps[step - 1].duration_ms);
    if (knob_between(&before.power_w, &now->targets.power_w) == KNOB_LEAVE)
        return;
    turns->from_w = middle_w(&before.power_w);
    turns->to_w = middle_w(&now->targets.power_w);
}

/* The last third of a short step is for the next turn, the first for this one. */
static void take_power(struct turn_watch *turns, const struct ride *ride, int32_t power_w)
{
    if (ride->step_ms * 3 <= ride->setup.plan.steps[ride->step].duration_ms &&
        is_way_gone(turns, power_w))
        turns->is_there = true;
}

/* Told again is not turned again. */
static void take_knob(struct turn_watch *turns, const struct effect *effect, uint64_t t_ms)
{
    struct rehearsal_turns *result = turns->result;
    const enum knob_turn turn = effect->knob.turn;
    const uint64_t turned_ms = t_ms + effect->knob.in_ms;
    const bool is_new = turn != turns->standing || effect->knob.in_ms > 0;

    turns->standing = turn;
    turns->is_slow = turns->is_slow || turn == KNOB_FASTER;
    if (!is_new || (turn != KNOB_UP && turn != KNOB_DOWN))
        return;
    if (result->count++ > 0) {
        const uint32_t apart_ms = (uint32_t)(turned_ms - turns->told_t_ms);
        if (result->least_apart_ms == 0 || apart_ms < result->least_apart_ms)
            result->least_apart_ms = apart_ms;
    }
    turns->told_t_ms = turned_ms;
}

void turn_watch_effect(struct turn_watch *turns, const struct ride *ride,
                       const struct effect *effect)
{
    if (effect->kind == EFFECT_KNOB) {
        take_knob(turns, effect, ride->t_ms);
    } else if (effect->kind == EFFECT_STEP) {
        turn_watch_end(turns, ride);
        begin_step(turns, ride, (size_t)effect->step.index);
    } else if (effect->kind == EFFECT_SAMPLE && ride->phase == PHASE_RIDING &&
               (effect->sample.has & HAS_POWER) != 0) {
        take_power(turns, ride, effect->sample.power_w);
    }
}

/* Where the knob stands, at a usual cadence. */
static int32_t number_w(const struct ride *ride)
{
    const struct brake_model *brake = &ride->power_hold.brake;
    const struct knob_place *place = &ride->knob.place;
    const double cadence_rpm = 85;

    if (!place->is_known || place->top <= 0)
        return 0;
    return (int32_t)(brake_model_power_w(brake, (place->position + 1.0) / place->top, cadence_rpm) -
                     brake_model_power_w(brake, (double)place->position / place->top, cadence_rpm));
}

void turn_watch_end(struct turn_watch *turns, const struct ride *ride)
{
    turns->result->number_w = number_w(ride);
    end_step(turns, ride->block_ms - turns->begun.at_ms);
    turns->from_w = turns->to_w;
}
