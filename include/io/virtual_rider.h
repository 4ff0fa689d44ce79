/*
 * The rider of the virtual bike: invented, no real person.
 *
 * Holds a cadence by giving more or less torque, within what the muscles and the reserve allow.
 * On a brake that holds power nothing else is needed; when the reserve is gone the torque is not
 * enough any more, cadence sags, the brake pulls harder, and cadence sags more.
 *
 * Sources: force-velocity line after Martin et al. 1997 (Med Sci Sports Exerc 29:1505); ceiling of
 * power over the reserve after Morton 1996 (Ergonomics 39:611); reserve in the differential form
 * of Skiba et al. 2015; time constants of heart rate: medians of the open data of Weigend et al.
 * 2022 (arXiv:2207.14295).
 */
#ifndef IO_VIRTUAL_RIDER_H
#define IO_VIRTUAL_RIDER_H

#include <stdbool.h>
#include <stdint.h>

#include "io/virtual_random.h"

#define VIRTUAL_NAME_MAX 40u
#define VIRTUAL_PI       3.14159265358979323846

struct virtual_rider_config {
    char name[VIRTUAL_NAME_MAX + 1];
    double critical_power_w;
    double w_prime_j;
    double peak_power_w;       /* the best there is, at peak_cadence_rpm, with a full reserve */
    double peak_cadence_rpm;   /* half the cadence at which no torque is left */
    double cadence_rpm;        /* that the rider steers to */
    double cadence_wander_rpm; /* standard deviation of what they steer to */
    double effort_rate_nm_s;   /* how fast torque rises or falls */
    double stroke_ripple;      /* share by which torque swings within a turn */
    uint32_t starts_at_ms;     /* begins to pedal */
    uint32_t rests_at_ms;      /* stops pedalling; 0: never */
    uint32_t rests_for_ms;     /* and begins again after this; 0: not again */
    uint32_t hand_after_ms;    /* turns a knob as told after this; 0: never */
    double heart_rest_bpm, heart_max_bpm;
    double heart_at_critical; /* share of the heart rate reserve that critical power asks for */
    double heart_rise_s, heart_fall_s;
    double heart_noise_bpm; /* standard deviation of what a strap reads */
};

struct virtual_rider {
    struct virtual_rider_config config;
    struct virtual_random random;
    struct virtual_noise wander;
    double torque_nm; /* mean over a turn, at the crank */
    double hold_nm;   /* the part of it that the last seconds have taught */
    double reserve_j; /* never above w_prime_j; below 0 only by rounding */
    double heart_bpm;
};

void virtual_rider_init(struct virtual_rider *rider, const struct virtual_rider_config *config,
                        uint64_t seed);
/* One step of dt_s at crank speed omega (rad/s); t_ms counts from the start of the ride. */
void virtual_rider_step(struct virtual_rider *rider, uint32_t t_ms, double omega, double dt_s);
bool virtual_rider_pedals(const struct virtual_rider_config *config, uint32_t t_ms);
/* What a strap reads now: heart rate with noise, a whole number. */
uint8_t virtual_rider_strap_bpm(struct virtual_rider *rider);

/* Torque that the muscles can give at crank speed omega: t0 (1 - omega / omega0), not below 0. */
double virtual_muscle_torque_nm(const struct virtual_rider_config *config, double omega);
/* Power that is attainable with this much reserve left: CP + (Pmax - CP) W'bal / W'. */
double virtual_power_ceiling_w(const struct virtual_rider_config *config, double reserve_j);
/* The reserve after dt_s (up to a second) at power_w. */
double virtual_reserve_step_j(const struct virtual_rider_config *config, double reserve_j,
                              double power_w, double dt_s);
/* Heart rate after dt_s on the way to demand_bpm. */
double virtual_heart_step_bpm(const struct virtual_rider_config *config, double heart_bpm,
                              double demand_bpm, double dt_s);
double virtual_heart_demand_bpm(const struct virtual_rider_config *config, double power_w);

#endif
