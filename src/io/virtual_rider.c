#include "io/virtual_rider.h"

#include <math.h>

#define RPM_TO_RADS (2.0 * VIRTUAL_PI / 60.0)

/* How a rider corrects cadence: torque at once for each rad/s that is missing, and torque learnt
 * per second of it. From memory; they give the 3 to 9 s to a new power that W22's riders took. */
#define CORRECT_NM_PER_RADS 8.0
#define LEARN_NM_PER_RAD    6.0
#define WANDER_MEMORY_S     4.0
/* Those are of a rider with such a peak; a stronger one corrects as much harder. */
#define CORRECT_PEAK_W 700.0

/* A rider winds up rather than jumps: they never correct for more than this much at once. */
#define REACH_RADS 2.0

static double clamp(double value, double low, double high)
{
    if (value < low)
        return low;
    return value > high ? high : value;
}

void virtual_rider_init(struct virtual_rider *rider, const struct virtual_rider_config *config,
                        uint64_t seed)
{
    *rider = (struct virtual_rider){.config = *config,
                                    .random = {.state = seed},
                                    .reserve_j = config->w_prime_j,
                                    .heart_bpm = config->heart_rest_bpm};
}

bool virtual_rider_pedals(const struct virtual_rider_config *config, uint32_t t_ms)
{
    if (t_ms < config->starts_at_ms)
        return false;
    if (config->rests_at_ms == 0 || t_ms < config->rests_at_ms)
        return true;
    return config->rests_for_ms > 0 && t_ms - config->rests_at_ms >= config->rests_for_ms;
}

double virtual_muscle_torque_nm(const struct virtual_rider_config *config, double omega)
{
    double omega_peak = config->peak_cadence_rpm * RPM_TO_RADS;
    if (omega_peak <= 0 || omega >= 2.0 * omega_peak)
        return 0;
    /* Pmax = t0 omega0 / 4 and omega0 = 2 omega_peak. */
    return 2.0 * config->peak_power_w / omega_peak * (1.0 - omega / (2.0 * omega_peak));
}

double virtual_power_ceiling_w(const struct virtual_rider_config *config, double reserve_j)
{
    if (config->w_prime_j <= 0)
        return config->critical_power_w;
    double share = clamp(reserve_j / config->w_prime_j, 0, 1);
    return config->critical_power_w + (config->peak_power_w - config->critical_power_w) * share;
}

double virtual_reserve_step_j(const struct virtual_rider_config *config, double reserve_j,
                              double power_w, double dt_s)
{
    double below_w = config->critical_power_w - power_w;
    if (below_w <= 0 || config->w_prime_j <= 0)
        return reserve_j + below_w * dt_s;
    double missing_j = config->w_prime_j - reserve_j;
    return reserve_j + missing_j * virtual_lag_share(dt_s, config->w_prime_j / below_w);
}

double virtual_heart_demand_bpm(const struct virtual_rider_config *config, double power_w)
{
    double share = 0;
    if (config->critical_power_w > 0)
        share = clamp(config->heart_at_critical * power_w / config->critical_power_w, 0, 1);
    return config->heart_rest_bpm + share * (config->heart_max_bpm - config->heart_rest_bpm);
}

double virtual_heart_step_bpm(const struct virtual_rider_config *config, double heart_bpm,
                              double demand_bpm, double dt_s)
{
    double tau_s = demand_bpm > heart_bpm ? config->heart_rise_s : config->heart_fall_s;
    return heart_bpm + (demand_bpm - heart_bpm) * virtual_lag_share(dt_s, tau_s);
}

static double torque_limit_nm(const struct virtual_rider *rider, double omega)
{
    double muscle_nm = virtual_muscle_torque_nm(&rider->config, omega);
    double ceiling_w = virtual_power_ceiling_w(&rider->config, rider->reserve_j);
    if (muscle_nm * omega > ceiling_w)
        return ceiling_w / omega;
    return muscle_nm;
}

static double firmness(const struct virtual_rider_config *config)
{
    return config->peak_power_w > CORRECT_PEAK_W ? config->peak_power_w / CORRECT_PEAK_W : 1;
}

static double missing_rads(const struct virtual_rider *rider, double omega)
{
    double aim = (rider->config.cadence_rpm + rider->wander.value) * RPM_TO_RADS;
    return clamp(aim - omega, -REACH_RADS, REACH_RADS);
}

/* Learning stops at the limits, or a rider who comes back from one would overshoot for seconds. */
static double wanted_torque_nm(struct virtual_rider *rider, double omega, double dt_s)
{
    double missing = missing_rads(rider, omega) * firmness(&rider->config);
    double limit_nm = torque_limit_nm(rider, omega);
    double wanted_nm = rider->hold_nm + CORRECT_NM_PER_RADS * missing;
    if ((wanted_nm < limit_nm || missing < 0) && (wanted_nm > 0 || missing > 0))
        rider->hold_nm += LEARN_NM_PER_RAD * missing * dt_s;
    rider->hold_nm = clamp(rider->hold_nm, 0, limit_nm);
    return clamp(wanted_nm, 0, limit_nm);
}

void virtual_rider_step(struct virtual_rider *rider, uint32_t t_ms, double omega, double dt_s)
{
    const struct virtual_rider_config *config = &rider->config;
    virtual_noise_step(&rider->wander, &rider->random, config->cadence_wander_rpm, WANDER_MEMORY_S,
                       dt_s);
    if (virtual_rider_pedals(config, t_ms)) {
        double change_nm = config->effort_rate_nm_s * dt_s;
        double wanted_nm = wanted_torque_nm(rider, omega, dt_s);
        rider->torque_nm =
            clamp(wanted_nm, rider->torque_nm - change_nm, rider->torque_nm + change_nm);
        rider->torque_nm = clamp(rider->torque_nm, 0, torque_limit_nm(rider, omega));
    } else {
        rider->torque_nm = 0;
        rider->hold_nm = 0;
    }
    double power_w = rider->torque_nm * omega;
    rider->reserve_j = virtual_reserve_step_j(config, rider->reserve_j, power_w, dt_s);
    double demand_bpm = virtual_heart_demand_bpm(config, power_w);
    rider->heart_bpm = virtual_heart_step_bpm(config, rider->heart_bpm, demand_bpm, dt_s);
}

uint8_t virtual_rider_strap_bpm(struct virtual_rider *rider)
{
    double noise_bpm = rider->config.heart_noise_bpm * virtual_random_normal(&rider->random);
    long read_bpm = lround(clamp(rider->heart_bpm + noise_bpm, 0, UINT8_MAX));
    return (uint8_t)read_bpm;
}
