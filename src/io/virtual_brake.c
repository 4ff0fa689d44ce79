#include "io/virtual_brake.h"

#include "io/virtual_random.h"
#include "io/virtual_rider.h"

static double within_unit(double value)
{
    if (value < 0)
        return 0;
    return value > 1 ? 1 : value;
}

void virtual_brake_init(struct virtual_brake *brake, const struct virtual_brake_config *config)
{
    *brake = (struct virtual_brake){.config = *config, .stroke_cos = 1};
}

double virtual_brake_inertia_kgm2(const struct virtual_brake_config *config)
{
    return config->inertia_kgm2 * config->gear * config->gear;
}

double virtual_brake_torque_nm(const struct virtual_brake_config *config, double omega)
{
    double omega_peak = config->peak_rpm * 2.0 * VIRTUAL_PI / 60.0;
    if (omega <= 0 || omega_peak <= 0)
        return 0;
    return 2.0 * config->peak_torque_nm / (omega / omega_peak + omega_peak / omega);
}

double virtual_brake_excitation_for(const struct virtual_brake *brake, double power_w)
{
    double full_w = virtual_brake_torque_nm(&brake->config, brake->omega) * brake->omega;
    double wanted_w = power_w - brake->config.friction_nm * brake->omega;
    if (wanted_w >= full_w)
        return wanted_w > 0 ? 1 : 0;
    return within_unit(wanted_w / full_w);
}

static double load_nm(const struct virtual_brake *brake)
{
    double eddy_nm = brake->excitation * virtual_brake_torque_nm(&brake->config, brake->omega);
    return eddy_nm + brake->config.friction_nm;
}

double virtual_brake_power_w(const struct virtual_brake *brake)
{
    return load_nm(brake) * brake->omega;
}

/* Turns the unit vector by twice the crank's angle. A short series and a pull back to length 1
 * stand in for cos(), whose last digits differ between mathematical libraries. */
static void turn_stroke(struct virtual_brake *brake, double dt_s)
{
    double turn = 2.0 * brake->omega * dt_s;
    double by_cos = 1.0 - turn * turn / 2.0;
    double by_sin = turn - turn * turn * turn / 6.0;
    double c = brake->stroke_cos * by_cos - brake->stroke_sin * by_sin;
    double s = brake->stroke_sin * by_cos + brake->stroke_cos * by_sin;
    double pull = (3.0 - (c * c + s * s)) / 2.0;
    brake->stroke_cos = c * pull;
    brake->stroke_sin = s * pull;
}

void virtual_brake_step(struct virtual_brake *brake, double rider_nm, double ripple,
                        double wanted_excitation, double dt_s)
{
    double inertia_kgm2 = virtual_brake_inertia_kgm2(&brake->config);
    if (inertia_kgm2 <= 0)
        return;
    double share = virtual_lag_share(dt_s, brake->config.lag_s);
    brake->excitation += (within_unit(wanted_excitation) - brake->excitation) * share;
    double push_nm = rider_nm * (1.0 + ripple * brake->stroke_cos);
    brake->omega += (push_nm - load_nm(brake)) / inertia_kgm2 * dt_s;
    if (brake->omega < 0)
        brake->omega = 0;
    turn_stroke(brake, dt_s);
}
