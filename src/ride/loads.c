#include "acts.h"
#include "ride/fit.h"

#define PAIR_MS 1000u

static struct target_range shifted(const struct ride *ride, const struct target_range *range)
{
    return (struct target_range){range->set, range->low * (100 + ride->shift_pct) / 100,
                                 range->high * (100 + ride->shift_pct) / 100};
}

struct step_targets ride_shifted(const struct ride *ride, const struct step_targets *targets)
{
    struct step_targets asked = *targets;

    asked.power_w = shifted(ride, &targets->power_w);
    if (ride_goes_by_feel(ride))
        asked.power_w.set = false;
    return asked;
}

struct target_range ride_held_range(const struct ride *ride, const struct target_range *range)
{
    struct target_range held = shifted(ride, range);

    held.set = true;
    target_cap_power(&held, ride->limits.load_max_w);
    return held;
}

static struct load middle_load(const struct ride *ride, enum load_kind kind,
                               const struct target_range *range)
{
    const int32_t middle = (range->low + range->high) / 2;
    return (struct load){kind, middle * (100 + ride->shift_pct) / 100};
}

static int32_t floor_rpm(const struct step_targets *targets)
{
    return targets->cadence_rpm.set ? targets->cadence_rpm.low : 0;
}

bool ride_is_held_by_levels(const struct ride *ride, const struct step_targets *targets)
{
    return ride_holds_power(ride) && targets->power_w.set && !targets->level_tenths.set;
}

/* The middle of what is asked for. */
struct load ride_load_of(const struct ride *ride, enum step_kind kind,
                         const struct step_targets *targets)
{
    const struct machine *machine = &ride->control.machine;
    const struct target_range *power_w = &targets->power_w;

    if (machine->takes_power && power_w->set)
        return middle_load(ride, LOAD_POWER, power_w);
    if (machine->takes_level && targets->level_tenths.set)
        return middle_load(ride, LOAD_LEVEL, &targets->level_tenths);
    if (ride_is_felt(ride, targets))
        return ride_felt_load(ride, kind);
    if (ride_is_held_by_levels(ride, targets)) {
        const struct target_range held = ride_held_range(ride, power_w);

        return (struct load){LOAD_LEVEL,
                             power_hold_level_for(&ride->power_hold, ride->t_ms,
                                                  (held.low + held.high) / 2, floor_rpm(targets))};
    }
    return (struct load){0};
}

struct load ride_load_now(struct ride *ride, const struct step_targets *targets)
{
    const struct plan_step *step = ride_current_step(ride);

    if (!ride_is_held_by_levels(ride, targets) || ride_is_felt(ride, targets))
        return ride_load_of(ride, step != NULL ? step->kind : STEP_REST, targets);

    const struct target_range range = ride_held_range(ride, &targets->power_w);

    return (struct load){
        LOAD_LEVEL, power_hold_level(&ride->power_hold, ride->t_ms, &range, floor_rpm(targets))};
}

bool ride_lowers_held_power(const struct ride *ride)
{
    const struct step_targets targets = ride_targets(ride);

    return !ride_is_felt(ride, &targets) &&
           (ride_is_held_by_levels(ride, &targets) ||
            (ride_turns_knob(ride) && targets.power_w.set)) &&
           middle_load(ride, LOAD_POWER, &targets.power_w).value > ride->limits.load_max_w;
}

bool ride_can_command(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;

    for (size_t i = 0; i < plan->step_count; i++)
        if (ride_load_of(ride, plan->steps[i].kind, &plan->steps[i].targets).kind != LOAD_RELEASED)
            return true;
    return false;
}

/* ---- power by levels ---- */

bool ride_holds_power(const struct ride *ride)
{
    const struct machine *machine = &ride->control.machine;

    return ride->setup.holds_power && machine->takes_level && !machine->takes_power &&
           power_hold_is_able(&ride->power_hold);
}

void ride_hold_levels(struct ride *ride, const struct machine *machine)
{
    const struct hold_levels levels = {machine->level_min_tenths, machine->level_max_tenths,
                                       machine->level_step_tenths};

    if (machine->takes_level && !(power_hold_is_able(&ride->power_hold) &&
                                  power_hold_has_levels(&ride->power_hold, &levels)))
        power_hold_init(&ride->power_hold, &levels, &ride->setup.brake);
    ride->power_hold.most_w = ride->limits.load_max_w;
}

/* By the machine's own power where it has any: its curve is then the machine's whoever else
 * measures today, and no fault of a sensor raises a load. */
static const struct reading *taught_power(const struct sensors *sensors)
{
    return sensors->machine_has_power || sensors->power_from == LINK_MACHINE
               ? &sensors->machine_power_w
               : &sensors->sensor_power_w;
}

int32_t ride_level_set(const struct ride *ride)
{
    const struct load *load = &ride->control.accepted;

    return ride->control.is_loaded && load->kind == LOAD_LEVEL ? load->value : 0;
}

/* On the brake, as far as is known; 0: none. */
static int32_t level_now(const struct ride *ride)
{
    if (ride_turns_knob(ride))
        return ride->knob.is_told ? ride_knob_level(ride->knob.place.position) : 0;
    return ride_level_set(ride);
}

/* A power that came with this event, and the cadence with it; of several sources the one of the
 * last second. */
void ride_learn_brake(struct ride *ride)
{
    const struct sensors *sensors = &ride->sensors;
    const struct reading *power_w = taught_power(sensors);
    const uint32_t pair_ms =
        power_w == &sensors->machine_power_w && sensors->cadence_from == LINK_MACHINE ? 0 : PAIR_MS;
    const int32_t level_tenths = level_now(ride);

    if ((ride_holds_power(ride) || ride_turns_knob(ride)) &&
        reading_is_fresh(power_w, ride->t_ms, 0) &&
        reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, pair_ms))
        power_hold_reading(&ride->power_hold, ride->t_ms, level_tenths, power_w->value,
                           sensors->cadence_rpm.value);
}
