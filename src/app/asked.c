#include "asked.h"

static uint32_t mean_of(uint64_t doubled, uint64_t ms, uint32_t lowered_pct)
{
    const uint64_t whole = 2 * ms * (100 - lowered_pct);
    return whole > 0 ? (uint32_t)((100 * doubled + whole / 2) / whole) : 0;
}

struct asked asked_of(const struct plan *plan, uint32_t lowered_pct)
{
    uint64_t power = 0, level = 0, power_ms = 0, level_ms = 0;

    for (size_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        const struct step_targets middle = plan_step_targets(step, step->duration_ms / 2);
        const struct target_range *power_w = &middle.power_w, *tenths = &middle.level_tenths;
        if (step->kind != STEP_WORK)
            continue;
        if (power_w->set && power_w->low >= 0) {
            power += (uint64_t)(power_w->low + power_w->high) * step->duration_ms;
            power_ms += step->duration_ms;
        } else if (tenths->set && tenths->low >= 0) {
            level += (uint64_t)(tenths->low + tenths->high) * step->duration_ms;
            level_ms += step->duration_ms;
        }
    }
    if (power_ms > 0)
        return (struct asked){VERDICT_WATTS, mean_of(power, power_ms, lowered_pct)};
    return (struct asked){VERDICT_LEVEL_TENTHS, mean_of(level, level_ms, lowered_pct)};
}
