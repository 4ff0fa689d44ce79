/*
 * Flywheel and eddy-current brake, seen from the crank: fixed drive, no freewheel.
 *
 * I domega/dt = rider torque - brake torque - friction. The brake gives, at full excitation,
 * 2 tmax / (omega/omega_c + omega_c/omega): linear at low speed, most at omega_c, less beyond
 * (form after Wouterse 1991, IEE Proc B 138:153; the closed form from memory). Excitation, 0 to 1,
 * scales it and follows what is asked with a first-order lag.
 */
#ifndef IO_VIRTUAL_BRAKE_H
#define IO_VIRTUAL_BRAKE_H

#include <stdbool.h>

struct virtual_brake_config {
    double inertia_kgm2;   /* of the flywheel about its own axle */
    double gear;           /* its turns for one of the crank */
    double peak_torque_nm; /* at the crank */
    double peak_rpm;       /* crank speed of the peak */
    double lag_s;
    double friction_nm; /* at any speed, at the crank */
};

struct virtual_brake {
    struct virtual_brake_config config;
    double omega;                  /* crank, rad/s, never below 0 */
    double excitation;             /* 0 to 1 */
    double stroke_cos, stroke_sin; /* of twice the crank angle from the peak of a stroke */
};

void virtual_brake_init(struct virtual_brake *brake, const struct virtual_brake_config *config);
/* Rider torque is the mean of a turn, ripple the share by which it swings around that: two peaks a
 * turn. The explicit scheme wants dt_s of 10 ms or less. */
void virtual_brake_step(struct virtual_brake *brake, double rider_nm, double ripple,
                        double wanted_excitation, double dt_s);

/* Flywheel inertia referred to the crank: I G^2. */
double virtual_brake_inertia_kgm2(const struct virtual_brake_config *config);
/* At full excitation. */
double virtual_brake_torque_nm(const struct virtual_brake_config *config, double omega);
/* The excitation that takes power_w at the present speed, within 0 to 1. */
double virtual_brake_excitation_for(const struct virtual_brake *brake, double power_w);
/* What brake and friction take now; the wheel's own storing and giving back is not in it. */
double virtual_brake_power_w(const struct virtual_brake *brake);

#endif
