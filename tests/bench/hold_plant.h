/*
 * A brake that takes levels, under a rider: what a hold of power has to cope with. All invented.
 */
#ifndef BENCH_HOLD_PLANT_H
#define BENCH_HOLD_PLANT_H

#include "io/virtual_machine.h"
#include "io/virtual_rider.h"
#include "ride/event.h"
#include "ride/power_hold.h"

#define HOLD_PLANT_DELAY_MAX_MS 3000u

struct hold_brake {
    const char *name;
    struct virtual_brake_config brake;
    struct hold_levels levels;
    double bend;       /* excitation of a level's share l: (1 - bend) l + bend l² */
    uint32_t delay_ms; /* from level to brake */
};

struct hold_plant {
    const struct hold_brake *kind;
    struct virtual_machine machine;
    struct virtual_rider rider;
    uint32_t t_ms;
    int32_t level_tenths; /* asked for, ramped as safety ramps */
    int32_t on_its_way[HOLD_PLANT_DELAY_MAX_MS / TICK_MS + 1]; /* one a tick, a ring */
};

void hold_plant_init(struct hold_plant *plant, const struct hold_brake *kind,
                     const struct virtual_rider_config *rider, uint64_t seed);
/* A tick towards this level; what the sensors say at its end. */
struct hold_reading hold_plant_tick(struct hold_plant *plant, int32_t level_tenths);
/* What this level takes once it has settled, at this cadence. */
double hold_plant_power_w(const struct hold_plant *plant, int32_t level_tenths, double cadence_rpm);

#endif
