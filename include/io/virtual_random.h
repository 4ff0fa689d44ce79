/*
 * Seeded chance for the virtual bike: the same seed gives the same numbers on every machine, so
 * nothing here calls the mathematical library.
 */
#ifndef IO_VIRTUAL_RANDOM_H
#define IO_VIRTUAL_RANDOM_H

#include <stdint.h>

struct virtual_random {
    uint64_t state; /* any value is a good seed */
};

uint64_t virtual_random_next(struct virtual_random *random);
/* 0 <= value < bound; 0 for a bound of 0. */
uint32_t virtual_random_below(struct virtual_random *random, uint32_t bound);
/* 0 <= value < 1. */
double virtual_random_share(struct virtual_random *random);
/* Mean 0, standard deviation 1, bell-shaped, never beyond 3.5. */
double virtual_random_normal(struct virtual_random *random);

/* Noise with a memory (Ornstein-Uhlenbeck): its autocorrelation falls by 1/e in memory_s. */
struct virtual_noise {
    double value;
};

/* One step of dt_s; the values it runs through have the standard deviation `deviation`. */
void virtual_noise_step(struct virtual_noise *noise, struct virtual_random *random,
                        double deviation, double memory_s, double dt_s);

/* How much of the way to its aim a first-order lag goes in dt_s: 1 - exp(-dt/tau), by the second
 * Pade approximant, whose error is below 1e-8 up to dt = tau / 10. 1 when tau is not above 0. */
double virtual_lag_share(double dt_s, double tau_s);

#endif
