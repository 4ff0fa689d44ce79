/* What is said to the machine, whatever it answers, and what safety lets pass.
 * Eva: -eva-precision 1 */
#include "any_ride.h"

static struct control control;
static struct safety safety;
static struct limits limits;
static struct effects effects;

static void set_limits(void)
{
    const struct machine machine = any_machine();
    struct rider rider = {.mass_kg = 70.0, .is_new = any_bool(), .heart_slowed = any_bool()};

    MAKE_UNKNOWN(rider.age_years);
    MAKE_UNKNOWN(rider.heart_max_bpm);
    MAKE_UNKNOWN(rider.heart_limit_bpm);
    MAKE_UNKNOWN(rider.critical_power_w);
    MAKE_UNKNOWN(rider.power_limit_w);
    MAKE_UNKNOWN(rider.cadence_limit_rpm);
    limits_set(&rider, any_bool() ? &machine : NULL, any_u32(), &limits);
}

static void happen(uint64_t t_ms)
{
    const struct machine machine = any_machine();

    switch (any_int(0, 7)) {
    case 0: control_machine(&control, &machine); break;
    case 1:
        control_answer(&control, t_ms, (enum machine_command)any_int(0, COMMAND_STOP),
                       (enum answer)any_int(0, ANSWER_ERROR), any_load());
        break;
    case 2: control_forget(&control); break;
    case 3: control_ask_again(&control); break;
    case 4: control_lost(&control); break;
    case 5: control_start_again(&control); break;
    case 6: control_over(&control); break;
    default: control_leave(&control); break;
    }
    control.is_used = any_bool();
}

/* A reading that sensors let pass. */
static struct safety_inputs any_inputs(uint64_t t_ms)
{
    return (struct safety_inputs){
        .t_ms = t_ms,
        .phase = (enum phase)any_int(0, PHASE_ENDED),
        .hold = (enum hold)any_int(0, HOLD_CLOCK_JUMP),
        .in_work = any_bool(),
        .may_coast = any_bool(),
        .link_lost = any_bool(),
        .link_lost_ms = any_u32(),
        .has_control = any_bool(),
        .safety_key = any_bool(),
        .control_fault = control.fault,
        .data_age_ms = any_u32(),
        .silence_ms = any_u32(),
        .power_w = any_i32(),
        .cadence_rpm = any_i32(),
        .cadence_known = any_bool(),
        .heart_was_known = any_bool(),
        .heart_age_ms = any_u32(),
        .heart_bpm = any_i32(),
        .heart_median_bpm = any_i32(),
        .since_start_ms = any_u32(),
        .rest_load = any_load(),
    };
}

int main(void)
{
    set_limits();
    /*@ widen_hints global:"all", 100000; */
    while (any_bool()) {
        const uint64_t t_ms = any_u64();
        const struct safety_inputs inputs = any_inputs(t_ms);

        effects.count = 0;
        happen(t_ms);
        control_watch(&control, &limits, t_ms);
        const struct safety_verdict verdict = safety_step(&safety, &limits, &inputs, any_load());
        control_step(&control, &limits, t_ms, verdict.load, &effects);
        control_has_left(&control);
    }
    return 0;
}
