#include "body/reserve.h"

#include <assert.h>
#include <math.h>

struct reserve reserve_full(double critical_power_w, double w_prime_j, double tau_s)
{
    assert(tau_s > 0);
    return (struct reserve){.critical_power_w = critical_power_w,
                            .w_prime_j = w_prime_j,
                            .tau_s = tau_s,
                            .balance_j = w_prime_j};
}

void reserve_ride(struct reserve *reserve, double power_w, double time_s)
{
    const double above_w = power_w - reserve->critical_power_w;
    const double full_j = reserve->w_prime_j;

    if (!(full_j > 0))
        return;
    if (above_w >= 0)
        reserve->balance_j -= above_w * time_s;
    else
        reserve->balance_j =
            full_j - (full_j - reserve->balance_j) * exp(above_w * time_s / full_j);
    const double kept = exp(-time_s / reserve->tau_s);
    reserve->spent_j =
        reserve->spent_j * kept + (above_w > 0 ? above_w * reserve->tau_s * (1 - kept) : 0);
}

double reserve_integral_j(const struct reserve *reserve)
{
    return reserve->w_prime_j - reserve->spent_j;
}

static uint32_t percent_of(const struct reserve *reserve, double left_j)
{
    if (!(reserve->w_prime_j > 0) || left_j <= 0)
        return 0;
    const double percent = 100 * left_j / reserve->w_prime_j;
    return percent > 100 ? 100 : (uint32_t)(percent + 0.5);
}

uint32_t reserve_percent(const struct reserve *reserve)
{
    return percent_of(reserve, reserve->balance_j);
}

uint32_t reserve_integral_percent(const struct reserve *reserve)
{
    return percent_of(reserve, reserve_integral_j(reserve));
}

uint32_t reserve_error_points(const struct reserve *reserve, double w_prime_error_pct)
{
    const double spent = 100 - reserve_percent(reserve);
    const double share_pct = fmax(w_prime_error_pct, RESERVE_ERROR_LEAST_PCT);

    return (uint32_t)(hypot(share_pct / 100 * spent, fmin(RESERVE_MODEL_POINTS, spent)) + 0.5);
}

double reserve_tau_s(double below_critical_w)
{
    return 546 * exp(-0.01 * below_critical_w) + 316;
}
