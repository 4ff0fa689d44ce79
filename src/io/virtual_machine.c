#include "io/virtual_machine.h"

#include <math.h>

void virtual_machine_init(struct virtual_machine *machine,
                          const struct virtual_machine_config *config, uint64_t seed)
{
    *machine = (struct virtual_machine){.config = *config, .random = {.state = seed}};
    virtual_brake_init(&machine->brake, &config->brake);
    machine->knob = config->knob;
}

static double wanted_excitation(const struct virtual_machine *machine)
{
    switch (machine->load) {
    case VIRTUAL_LOAD_POWER:
        return virtual_brake_excitation_for(&machine->brake, machine->load_value);
    case VIRTUAL_LOAD_LEVEL:
        if (machine->config.level_tenths.maximum > 0)
            return (double)machine->load_value / machine->config.level_tenths.maximum;
        break;
    case VIRTUAL_LOAD_RELEASED: break;
    }
    return machine->knob;
}

/* ---- the knob ---- */

/* Legs that stand turn at about this soon. */
#define USUAL_OMEGA 9.0

static double share_of_number(const struct virtual_machine *machine, int32_t number)
{
    return (double)number / machine->config.knob_numbers;
}

void virtual_machine_turn(struct virtual_machine *machine, int32_t by_w)
{
    const struct virtual_brake *brake = &machine->brake;
    const double omega = brake->omega > 1 ? brake->omega : USUAL_OMEGA;
    const double full_w = virtual_brake_torque_nm(&brake->config, omega) * omega;
    const double knob = fmin(fmax(machine->knob + by_w / full_w, 0), 1);
    const uint32_t numbers = machine->config.knob_numbers;

    machine->knob = numbers > 0 ? share_of_number(machine, (int32_t)lround(knob * numbers)) : knob;
}

void virtual_machine_turn_to(struct virtual_machine *machine, int32_t number)
{
    if (number >= 0 && number <= (int32_t)machine->config.knob_numbers)
        machine->knob = share_of_number(machine, number);
}

int32_t virtual_machine_number(const struct virtual_machine *machine)
{
    const struct virtual_machine_config *config = &machine->config;

    return config->knob_numbers == 0 || config->takes_power || config->takes_level
               ? -1
               : (int32_t)lround(machine->knob * config->knob_numbers);
}

void virtual_machine_step(struct virtual_machine *machine, double rider_nm, double ripple,
                          double dt_s)
{
    virtual_brake_step(&machine->brake, rider_nm, ripple, wanted_excitation(machine), dt_s);
    virtual_noise_step(&machine->power_noise, &machine->random, machine->config.power_noise,
                       machine->config.power_noise_memory_s, dt_s);
    machine->distance_m += virtual_machine_speed_kmh(machine) / 3.6 * dt_s;
}

double virtual_machine_power_w(const struct virtual_machine *machine)
{
    double power_w = virtual_brake_power_w(&machine->brake) * (1.0 + machine->power_noise.value);
    return power_w > 0 ? power_w : 0;
}

double virtual_machine_cadence_rpm(const struct virtual_machine *machine)
{
    return machine->brake.omega * 60.0 / (2.0 * VIRTUAL_PI);
}

double virtual_machine_turns(const struct virtual_machine *machine)
{
    return machine->distance_m / machine->config.metres_per_turn;
}

double virtual_machine_speed_kmh(const struct virtual_machine *machine)
{
    double metres_per_min = virtual_machine_cadence_rpm(machine) * machine->config.metres_per_turn;
    return metres_per_min * 60.0 / 1000.0;
}

int16_t virtual_machine_level_tenths(const struct virtual_machine *machine)
{
    long level_tenths = lround(machine->brake.excitation * machine->config.level_tenths.maximum);
    return (int16_t)level_tenths;
}
