#include "hold_plant.h"

#include "common.h"

#define RAMP_TENTHS 25 /* a tick's worth of what the program's limits allow */

/* Excitation in ten-thousandths: a scale fine enough for any map of levels. */
#define FINE 10000

static double excitation_of(const struct hold_brake *kind, int32_t level_tenths)
{
    const double share = (double)(level_tenths - kind->levels.minimum) /
                         (kind->levels.maximum - kind->levels.minimum);

    return (1 - kind->bend) * share + kind->bend * share * share;
}

void hold_plant_init(struct hold_plant *plant, const struct hold_brake *kind,
                     const struct virtual_rider_config *rider, uint64_t seed)
{
    const struct virtual_machine_config machine = {
        .level_tenths.maximum = FINE,
        .power_noise = 0.07, /* as the built-in machine */
        .power_noise_memory_s = 0.6,
        .brake = kind->brake,
    };

    if (kind->delay_ms > HOLD_PLANT_DELAY_MAX_MS)
        bench_fail("a delay longer than the plant has places for");
    *plant = (struct hold_plant){.kind = kind, .level_tenths = kind->levels.minimum};
    for (size_t i = 0; i < sizeof plant->on_its_way / sizeof plant->on_its_way[0]; i++)
        plant->on_its_way[i] = kind->levels.minimum;
    virtual_machine_init(&plant->machine, &machine, seed);
    virtual_rider_init(&plant->rider, rider, seed + 1);
    plant->machine.load = VIRTUAL_LOAD_LEVEL;
}

static int32_t delayed(struct hold_plant *plant)
{
    const size_t places = sizeof plant->on_its_way / sizeof plant->on_its_way[0];
    const size_t now = plant->t_ms / TICK_MS;

    plant->on_its_way[now % places] = plant->level_tenths;
    return plant->on_its_way[(now + places - plant->kind->delay_ms / TICK_MS) % places];
}

struct hold_reading hold_plant_tick(struct hold_plant *plant, int32_t level_tenths)
{
    const int32_t climb = level_tenths - plant->level_tenths;

    plant->level_tenths = climb > RAMP_TENTHS ? plant->level_tenths + RAMP_TENTHS : level_tenths;
    plant->machine.load_value = (int32_t)(excitation_of(plant->kind, delayed(plant)) * FINE);
    for (uint32_t ms = 0; ms < TICK_MS; ms += VIRTUAL_STEP_MS) {
        virtual_rider_step(&plant->rider, plant->t_ms + ms, plant->machine.brake.omega,
                           VIRTUAL_STEP_S);
        virtual_machine_step(&plant->machine, plant->rider.torque_nm,
                             plant->rider.config.stroke_ripple, VIRTUAL_STEP_S);
    }
    plant->t_ms += TICK_MS;
    return (struct hold_reading){
        .t_ms = plant->t_ms,
        .power_w = (int32_t)virtual_machine_power_w(&plant->machine),
        .cadence_rpm = (int32_t)virtual_machine_cadence_rpm(&plant->machine),
    };
}

double hold_plant_power_w(const struct hold_plant *plant, int32_t level_tenths, double cadence_rpm)
{
    const struct virtual_brake_config *brake = &plant->kind->brake;
    const double omega = cadence_rpm * 2 * VIRTUAL_PI / 60;

    return omega * (brake->friction_nm + excitation_of(plant->kind, level_tenths) *
                                             virtual_brake_torque_nm(brake, omega));
}
