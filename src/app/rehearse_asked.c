#include "rehearse_asked.h"

int32_t rehearse_middle_w(const struct plan_step *step, uint32_t step_ms)
{
    const struct target_range power_w = plan_step_targets(step, step_ms).power_w;
    return (power_w.low + power_w.high) / 2;
}

/* Work that ends a step ends it sooner; where distance or heart do, nobody knows beforehand. */
static uint32_t asked_ms(const struct plan_step *step)
{
    const int32_t power_w = rehearse_middle_w(step, step->duration_ms / 2);
    const int64_t work_ms = power_w > 0 ? INT64_C(1000) * step->end.value / power_w : 0;

    return step->end.until == UNTIL_WORK && work_ms > 0 && work_ms < step->duration_ms
               ? (uint32_t)work_ms
               : step->duration_ms;
}

/* How far below critical power the plan rests, on average: for the time constant of the integral
 * model. 0 where it never does. */
double rehearse_rests_below_w(const struct plan *plan, double critical_power_w)
{
    double below_j = 0, rest_s = 0;

    for (size_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        const double below_w = critical_power_w - rehearse_middle_w(step, step->duration_ms / 2);
        if (!step->targets.power_w.set || below_w <= 0)
            continue;
        below_j += below_w * step->duration_ms / 1000.0;
        rest_s += step->duration_ms / 1000.0;
    }
    return rest_s > 0 ? below_j / rest_s : 0;
}

void rehearse_note_low(struct rehearsal_low *low, double left_j, struct rehearsal_place place)
{
    if (left_j < low->left_j)
        *low = (struct rehearsal_low){left_j, place};
}

void rehearse_note_trouble(struct rehearsal *result, enum rehearsal_trouble trouble,
                           struct rehearsal_place place)
{
    if (result->trouble != REHEARSAL_FINE && place.at_ms >= result->trouble_at.at_ms)
        return;
    result->trouble = trouble;
    result->trouble_at = place;
}

static void ride_part(struct rehearsal *result, struct reserve *reserve, size_t step,
                      uint32_t at_ms, uint32_t part_ms, int32_t power_w)
{
    const double before_j = reserve->balance_j;
    const double above_w = power_w - reserve->critical_power_w;
    const struct rehearsal_place end = {at_ms + part_ms, step};

    reserve_ride(reserve, power_w, part_ms / 1000.0);
    if (before_j > 0 && reserve->balance_j <= 0 && result->empty_ms == 0) {
        result->empty_ms = at_ms + (uint32_t)(1000 * before_j / above_w);
        rehearse_note_trouble(result, REHEARSAL_EMPTY,
                              (struct rehearsal_place){result->empty_ms, step});
    }
    rehearse_note_low(&result->asked, reserve->balance_j, end);
    rehearse_note_low(&result->slow, reserve_integral_j(reserve), end);
}

/* Exactly, but for ramps, which go by the second. A step without a power costs nothing here: what
 * is ridden in it is not the plan's choice. */
void rehearse_reckon_asked(struct rehearsal *result, struct reserve reserve)
{
    uint32_t at_ms = 0;

    for (size_t i = 0; i < result->plan->step_count; i++) {
        const struct plan_step *step = &result->plan->steps[i];
        const uint32_t step_ms = asked_ms(step);
        const uint32_t part_ms = step->ramp_to.power_w.set ? 1000 : step_ms;
        for (uint32_t ms = 0; step->targets.power_w.set && ms < step_ms; ms += part_ms)
            ride_part(result, &reserve, i, at_ms + ms,
                      part_ms < step_ms - ms ? part_ms : step_ms - ms,
                      rehearse_middle_w(step, ms + part_ms / 2));
        at_ms += step_ms;
    }
}
