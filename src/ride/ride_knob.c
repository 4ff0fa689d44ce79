#include "acts.h"
#include "effects.h"

bool ride_turns_knob(const struct ride *ride)
{
    return ride->setup.tells_knob && ride->machine_known && !ride->control.is_used;
}

static uint32_t left_ms(const struct ride *ride)
{
    return ride->step_end_ms > ride->step_ms ? ride->step_end_ms - ride->step_ms : 0;
}

/* Of the next rest or cool-down, as for loads. */
static struct target_range rest_range(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;

    for (size_t i = ride->step; i < plan->step_count; i++)
        if (plan->steps[i].kind == STEP_REST || plan->steps[i].kind == STEP_COOL_DOWN)
            return ride_held_range(ride, &plan->steps[i].targets.power_w);
    return (struct target_range){0};
}

/* In a rest nobody has to work; where nobody watches the heart no more than a rest is asked for, as
 * where loads are commanded. */
static struct knob_asked asked_now(const struct ride *ride)
{
    const struct step_targets targets = ride_targets(ride);
    const enum step_kind kind = ride->setup.plan.steps[ride->step].kind;
    struct knob_asked asked = {
        .cadence_rpm = targets.cadence_rpm,
        .wants_more = kind == STEP_WORK || kind == STEP_WARM_UP,
        .may_rise = !ride->verdict.heart_near,
        .step_ms = ride->step_ms,
        .left_ms = left_ms(ride),
    };

    if (targets.power_w.set)
        asked.power_w = ride_held_range(ride, &targets.power_w);
    if (targets.power_w.set && ride->verdict.strap_lost) {
        const struct target_range rest_w = rest_range(ride);

        asked.wants_more = false;
        if (rest_w.set && rest_w.high < asked.power_w.high)
            asked.power_w = rest_w;
    }
    return asked;
}

static void tell(enum knob_turn turn, int32_t by_w, uint32_t in_ms, struct effects *effects)
{
    const struct effect effect = {.kind = EFFECT_KNOB, .knob = {turn, by_w, in_ms}};

    effects_add(effects, &effect);
}

static int32_t middle_w(const struct target_range *range)
{
    return (range->low + range->high) / 2;
}

/* Nothing else is said then. */
static void announce(struct ride *ride, enum knob_turn turn, struct effects *effects)
{
    const struct step_targets now = ride_targets(ride);
    const struct plan_step *next = &ride->setup.plan.steps[ride->step + 1];

    if (ride->knob.is_announced)
        return;
    knob_begin(&ride->knob);
    ride->knob.is_announced = true;
    tell(turn, middle_w(&next->targets.power_w) - middle_w(&now.power_w), left_ms(ride), effects);
}

void ride_tell_knob(struct ride *ride, struct effects *effects)
{
    struct knob *knob = &ride->knob;

    if (ride->phase != PHASE_RIDING || !ride_turns_knob(ride)) {
        knob_begin(knob);
        return;
    }
    const enum knob_turn ahead = ride_turn_ahead(ride);
    const struct knob_asked asked = asked_now(ride);

    if (ahead != KNOB_LEAVE)
        announce(ride, ahead, effects);
    else if (knob_step(knob, ride->t_ms, &asked))
        tell(knob->turn, knob->turn == KNOB_LEAVE ? 0 : knob->off_w, 0, effects);
}

enum knob_turn ride_turn_at_edge(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;

    if (ride->phase != PHASE_RIDING || !ride_turns_knob(ride) || ride->step + 1 >= plan->step_count)
        return KNOB_LEAVE;

    const struct step_targets now = ride_targets(ride);

    return knob_between(&now.power_w, &plan->steps[ride->step + 1].targets.power_w);
}

enum knob_turn ride_turn_ahead(const struct ride *ride)
{
    return left_ms(ride) > knob_ahead_ms(ride->step_end_ms) ? KNOB_LEAVE : ride_turn_at_edge(ride);
}
