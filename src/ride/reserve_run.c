#include "ride/reserve_run.h"

/* Mean of the middles of the rests, by their time; where they ask for no power it is taken for
 * none. */
static double rest_power_w(const struct plan *plan)
{
    int64_t doubled_w_ms = 0, ms = 0;

    /* For Eva, to which a sum over any number of steps has no bound. */
    //@ loop unroll PLAN_STEPS_MAX;
    for (size_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        const struct target_range *power_w = &step->targets.power_w;
        if (step->kind != STEP_REST)
            continue;
        ms += step->duration_ms;
        if (power_w->set)
            doubled_w_ms += (int64_t)(power_w->low + power_w->high) * step->duration_ms;
    }
    return ms > 0 ? (double)doubled_w_ms / (2 * (double)ms) : 0;
}

struct reserve_run reserve_run_of(const struct plan *plan, double critical_power_w,
                                  double w_prime_j, double w_prime_error_pct)
{
    const double below_w = critical_power_w - rest_power_w(plan);
    const double tau_s = reserve_tau_s(below_w > 0 ? below_w : 0);

    return (struct reserve_run){.reserve = reserve_full(critical_power_w, w_prime_j, tau_s),
                                .w_prime_error_pct = w_prime_error_pct};
}

bool reserve_run_is_known(const struct reserve_run *run)
{
    return run->reserve.w_prime_j > 0;
}

void reserve_run_step(struct reserve_run *run, const struct ride *ride)
{
    const struct reading *power_w = &ride->sensors.power_w;

    if (!reserve_run_is_known(run) || !power_w->known ||
        (run->has_power && power_w->t_ms == run->t_ms))
        return;
    const uint64_t passed_ms = power_w->t_ms - run->t_ms;
    if (run->has_power && passed_ms <= TOTALS_GAP_MS)
        reserve_ride(&run->reserve, (power_w->value + run->power_w) / 2.0,
                     (double)passed_ms / 1000);
    run->has_power = true;
    run->t_ms = power_w->t_ms;
    run->power_w = power_w->value;
}
