/* The parts of a ride that stand for themselves: targets of a step, repetitions, recovery, the
 * brake turned by hand. Numbers are those of a profile that was read, and of readings that
 * ride/sensors lets pass.
 * Eva: -eva-precision 1 */
#include "any_ride.h"
#include "ride/knob.h"

static struct knob knob;

static void take_steps(void)
{
    struct plan_step step = {
        .duration_ms = any_u32(), .targets = any_targets(), .ramp_to = any_targets()};
    const struct target_range now_w = any_range(), next_w = any_range();

    plan_step_targets(&step, any_u32());
    knob_between(&now_w, &next_w);
    knob_ahead_ms(any_u32());
}

static void take_reps(void)
{
    const struct step_reps reps = {(uint16_t)any_int(0, PLAN_REPS_MAX),
                                   (uint16_t)any_int(0, UINT16_MAX)};

    if (reps_duration_ms(reps) > 0)
        reps_place(reps, any_u32());
}

static void recover(void)
{
    struct recovery recovery = {0};

    while (any_bool()) {
        recovery_step(&recovery, any_u64(), any_bool(), any_int(0, 240));
        recovery_left_ms(&recovery, any_u64());
    }
}

static void turn_knob(void)
{
    while (any_bool()) {
        const struct knob_asked asked = {.power_w = any_range(),
                                         .cadence_rpm = any_range(),
                                         .wants_more = any_bool(),
                                         .may_rise = any_bool(),
                                         .step_ms = any_u32(),
                                         .left_ms = any_u32()};
        const uint64_t t_ms = any_u64();

        if (any_bool())
            knob_begin(&knob);
        knob_reading(&knob, t_ms, any_int(-50, 2500), any_int(0, 250));
        knob_step(&knob, t_ms, &asked);
    }
}

int main(void)
{
    take_steps();
    take_reps();
    recover();
    turn_knob();
    return 0;
}
