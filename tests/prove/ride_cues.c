/* What is to be heard of a ride in any state, by cues in any state, which they are in again; and
 * what screens ask of a ride, the reserve along it among that; and the curve of its brake, which is
 * kept after it.
 * Eva: -eva-precision 0 -eva-plevel 600 -eva-auto-loop-unroll 64
 * Eva: -eva-split-return-function number_for:0
 * Eva: -eva-slevel-function number_for:8,ride_turn_at_edge:4,number_w:4,ride_cadence_for:4 */
#include "any_ride_state.h"
#include "ride/cues.h"
#include "ride/reserve_run.h"

static struct ride ride;
static struct cues cues;
static struct effects effects;

static enum cue any_cue(void)
{
    return (enum cue)any_int(0, CUE_KIND_COUNT - 1);
}

static void any_cues(void)
{
    cues.sounding = any_cue();
    cues.until_t_ms = any_u64();
    cues.wanted = any_u32();
    cues.caution_t_ms = any_u64();
    cues.counted_t_ms = any_u64();
    cues.counts_left = (uint32_t)any_int(0, 3);
    cues.beat_t_ms = any_u64();
    cues.on_floor = any_bool();
    cues.settled_t_ms = any_u64();
    cues.out = any_cue();
    cues.range_t_ms = any_u64();
    cues.knob_t_ms = any_u64();
    cues.is_over = any_bool();
}

/* Of each kind what is looked at: enums and an index. */
static struct effect any_effect(void)
{
    struct effect effect = {.kind = (enum effect_kind)any_int(0, EFFECT_KIND_COUNT - 1)};

    switch (effect.kind) {
    case EFFECT_STEP: effect.step.index = any_int(0, PLAN_STEPS_MAX - 1); break;
    case EFFECT_PHASE: effect.phase.phase = (enum phase)any_int(0, PHASE_ENDED); break;
    case EFFECT_HOLD: effect.hold.hold = (enum hold)any_int(0, HOLD_CLOCK_JUMP); break;
    case EFFECT_CAUTION:
        effect.caution.caution = (enum caution)any_int(0, CAUTION_COUNT - 1);
        break;
    case EFFECT_COMMAND:
    case EFFECT_SAMPLE:
    case EFFECT_SHIFT:
    case EFFECT_KNOB:
    case EFFECT_CUT_OFF:
    case EFFECT_SUMMARY:
    case EFFECT_KIND_COUNT: break;
    }
    return effect;
}

static void hear(void)
{
    uint64_t next_t_ms;

    effects.count = any_size(EFFECTS_MAX);
    for (unsigned i = 0; i < EFFECTS_MAX; i++)
        effects.list[i] = any_effect();
    cues_step(&cues, &ride, any_bool() ? &effects : NULL, any_u64(), &next_t_ms);
    cues_pass_mark(&cues);
}

static void look(void)
{
    /*@ assert cues.sounding < CUE_KIND_COUNT && cues.out < CUE_KIND_COUNT; */
    /*@ assert cues.counts_left <= 3; */
}

static void ask(void)
{
    const struct plan_step *step = ride_current_step(&ride);
    int32_t cadence_rpm, position;

    ride_may_be_loaded(&ride);
    ride_waits_for_key(&ride);
    ride_left_to_end(&ride);
    ride_next_edge_ms(&ride);
    ride_turn_ahead(&ride);
    ride_cadence_for(&ride, &cadence_rpm);
    ride_knob_for(&ride, any_size(PLAN_STEPS_MAX - 1), &position);
    brake_model_curve(&ride.power_hold.brake);
    cue_score(any_cue());
    cue_name(any_cue());
    cue_meaning(any_cue());
    if (step != NULL)
        step_kind_text(step->kind);
}

static void reckon(void)
{
    struct reserve_run reserve =
        reserve_run_of(&ride.setup.plan, Frama_C_double_interval(1, 2000),
                       Frama_C_double_interval(1, 1e6), Frama_C_double_interval(0, 100));

    reserve.has_power = any_bool();
    reserve.t_ms = any_u64();
    reserve.power_w = any_int(-50, 2500);
    reserve_run_step(&reserve, &ride);
}

int main(void)
{
    any_setup(&ride.setup);
    any_ride(&ride);
    any_cues();
    hear();
    look();
    ask();
    reckon();
    return 0;
}
