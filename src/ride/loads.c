#include "acts.h"

static struct load shifted(const struct ride *ride, enum load_kind kind,
                           const struct target_range *range)
{
    const int32_t middle = (range->low + range->high) / 2;
    return (struct load){kind, middle * (100 + ride->shift_pct) / 100};
}

/* The middle of what is asked for. */
struct load ride_load_of(const struct ride *ride, const struct step_targets *targets)
{
    const struct machine *machine = &ride->control.machine;

    if (machine->takes_power && targets->power_w.set)
        return shifted(ride, LOAD_POWER, &targets->power_w);
    if (machine->takes_level && targets->level_tenths.set)
        return shifted(ride, LOAD_LEVEL, &targets->level_tenths);
    return (struct load){0};
}

/* A machine that takes levels has nothing to obey in a plan of watts: it is left alone, and the
 * rider is told to set it. */
bool ride_can_command(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;

    for (size_t i = 0; i < plan->step_count; i++)
        if (ride_load_of(ride, &plan->steps[i].targets).kind != LOAD_RELEASED)
            return true;
    return false;
}
