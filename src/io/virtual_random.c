#include "io/virtual_random.h"

#include <math.h>

/* splitmix64: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", 2014. */
uint64_t virtual_random_next(struct virtual_random *random)
{
    random->state += 0x9E3779B97F4A7C15u;
    uint64_t mixed = random->state;
    mixed = (mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9u;
    mixed = (mixed ^ (mixed >> 27)) * 0x94D049BB133111EBu;
    return mixed ^ (mixed >> 31);
}

uint32_t virtual_random_below(struct virtual_random *random, uint32_t bound)
{
    return (uint32_t)(((virtual_random_next(random) >> 32) * bound) >> 32);
}

double virtual_random_share(struct virtual_random *random)
{
    return (double)(virtual_random_next(random) >> 11) * 0x1p-53;
}

/* The sum of the four 16-bit parts of one number: variance 4/12 of a part's range squared. */
double virtual_random_normal(struct virtual_random *random)
{
    uint64_t parts = virtual_random_next(random);
    double sum = 0;
    for (int i = 0; i < 4; i++)
        sum += ((double)((parts >> (16 * i)) & 0xFFFFu) + 0.5) * 0x1p-16 - 0.5;
    return sum * sqrt(3.0);
}

void virtual_noise_step(struct virtual_noise *noise, struct virtual_random *random,
                        double deviation, double memory_s, double dt_s)
{
    double forget = virtual_lag_share(dt_s, memory_s);
    /* What is added must make up for the variance that is forgotten: 1 - (1 - forget)^2. */
    double fresh = deviation * sqrt(forget * (2.0 - forget));
    noise->value += fresh * virtual_random_normal(random) - forget * noise->value;
}

double virtual_lag_share(double dt_s, double tau_s)
{
    if (tau_s <= 0)
        return 1.0;
    double x = dt_s / tau_s;
    return x / (1.0 + x / 2.0 + x * x / 12.0);
}
