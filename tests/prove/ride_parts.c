/* The parts of a ride that stand for themselves: targets of a step, repetitions, recovery.
 * Numbers are those of a profile that was read, and of readings that ride/sensors lets pass.
 * Eva: -eva-precision 1 */
#include "any_ride.h"

static void take_steps(void)
{
    struct plan_step step = {
        .duration_ms = any_u32(), .targets = any_targets(), .ramp_to = any_targets()};

    plan_step_targets(&step, any_u32());
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

int main(void)
{
    take_steps();
    take_reps();
    recover();
    return 0;
}
