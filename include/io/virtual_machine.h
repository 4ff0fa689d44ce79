/*
 * The machine of the virtual bike: flywheel, brake, the loop that holds power, its sensors; and all
 * that a machine file can say, its deviations from the standards included. Invented, no product.
 */
#ifndef IO_VIRTUAL_MACHINE_H
#define IO_VIRTUAL_MACHINE_H

#include <stdbool.h>
#include <stdint.h>

#include "io/virtual_brake.h"
#include "io/virtual_rider.h"
#include "wire/ftms.h"

#define VIRTUAL_STEP_MS 10u /* of the ride; VIRTUAL_STEP_S in seconds */
#define VIRTUAL_STEP_S  0.01

/* The rider's sensors in place of the bike under the rider. */
enum virtual_only {
    VIRTUAL_WHOLE_BIKE,
    VIRTUAL_STRAP_ONLY,
    VIRTUAL_POWER_ONLY,  /* a sensor of power that counts turns of the crank */
    VIRTUAL_CADENCE_ONLY /* one of cadence alone */
};

/* Times "at" and "after" count from the first link; 0: never. */
struct virtual_machine_config {
    char name[VIRTUAL_NAME_MAX + 1];
    bool takes_power, takes_level;              /* neither: there is no control point */
    bool has_feature;                           /* serves the feature characteristic at all */
    bool has_training;                          /* serves the training status */
    bool sends_speed, sends_heart, sends_power; /* in the bike data */
    bool has_strap;                             /* a Heart Rate Service on the same link */
    enum virtual_only only; /* what it is instead of a bike; not said in files */
    struct ftms_range power_w, level_tenths;
    uint32_t level_octets; /* 1 or 2: the width of resistance on the air */
    uint32_t mtu;
    uint32_t data_interval_ms;
    double knob;           /* excitation while nothing is commanded, 0 to 1 */
    uint32_t knob_numbers; /* its greatest number, where it gives all; 0: it has none */
    double knob_then;      /* where somebody turns it, at this time: */
    uint32_t knob_then_at_ms;
    double metres_per_turn; /* of the crank: makes speed and distance */
    double power_noise;     /* standard deviation as a share of power */
    double power_noise_memory_s;
    struct virtual_brake_config brake;

    /* deviations */
    bool splits_records;   /* two notifications a record */
    bool refuses_commands; /* answers "failed" to all but Request Control */
    bool needs_start;      /* fails loads until it is started */
    bool refuses_start;    /* it runs by itself, and fails Start */
    bool ignores_loads;    /* "success", and nothing happens */
    bool short_answers;    /* the result octet alone */
    bool double_answers;   /* says it twice, the second time for the command before */
    bool command_only;     /* takes the control point by Write Command alone */
    bool other_services;   /* cycling power, speed and cadence beside the fitness machine */
    bool hides_status;     /* its status has no client configuration */
    bool zero_ranges, swapped_ranges; /* all octets 0; greatest first */
    bool swallows_subscription;       /* to its training status: never answered */
    double cadence_told, power_told;  /* the share of the truth that it sends */
    uint32_t moody_every; /* refuses every so many-th write with an error of its own; 0: none */
    uint32_t cut_at;      /* octets of a data frame that it sends at most; 0: all */
    bool never_answers;   /* takes control point writes, does nothing, indicates nothing */
    double garbage_share; /* of notifications that hold chance octets instead */
    uint32_t answer_delay_ms;
    uint32_t silent_after_ms, silent_for_ms; /* no notifications; for 0: for good */
    uint32_t safety_key_at_ms;
    uint32_t stopped_at_ms, started_at_ms; /* by the rider, at the console */
    uint32_t control_lost_at_ms;
    uint32_t strap_lost_at_ms;
    uint32_t link_dropped_at_ms;
};

enum virtual_load { VIRTUAL_LOAD_RELEASED, VIRTUAL_LOAD_POWER, VIRTUAL_LOAD_LEVEL };

struct virtual_machine {
    struct virtual_machine_config config;
    struct virtual_brake brake;
    double knob; /* now, as in the configuration */
    struct virtual_random random;
    struct virtual_noise power_noise; /* share of power */
    enum virtual_load load;
    int32_t load_value; /* W or tenths of a level */
    double distance_m;
};

void virtual_machine_init(struct virtual_machine *machine,
                          const struct virtual_machine_config *config, uint64_t seed);
void virtual_machine_step(struct virtual_machine *machine, double rider_nm, double ripple,
                          double dt_s);
/* Turns the knob so that the legs find so many watts more, or less; with numbers on it to the
 * nearest one. */
void virtual_machine_turn(struct virtual_machine *machine, int32_t by_w);
void virtual_machine_turn_to(struct virtual_machine *machine, int32_t number);
/* Where the knob stands; -1: it has no numbers, or nobody turns it since the machine obeys. */
int32_t virtual_machine_number(const struct virtual_machine *machine);
/* What its sensors say now. */
double virtual_machine_power_w(const struct virtual_machine *machine);
double virtual_machine_cadence_rpm(const struct virtual_machine *machine);
/* Of the crank, since the beginning. */
double virtual_machine_turns(const struct virtual_machine *machine);
double virtual_machine_speed_kmh(const struct virtual_machine *machine);
/* Of the brake as it stands, whatever commanded it; on the scale of level_tenths. */
int16_t virtual_machine_level_tenths(const struct virtual_machine *machine);

#endif
