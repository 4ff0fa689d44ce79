/*
 * The machine as a ride sees it: what it can do, what is commanded of it, and what it says to that.
 * Plain structs: zeroed is valid, and a field left at zero is not written to the journal.
 */
#ifndef RIDE_MACHINE_H
#define RIDE_MACHINE_H

#include <stdbool.h>
#include <stdint.h>

/* 0 for both ends of a range: the machine does not say. */
struct machine {
    bool takes_power, takes_level;
    int32_t power_min_w, power_max_w;
    int32_t level_min_tenths, level_max_tenths;
    int32_t level_step_tenths; /* between two levels; 0: it does not say */
};

/* What is commanded of the machine. Zeroed: released, the least the machine can do. */
enum load_kind { LOAD_RELEASED, LOAD_POWER, LOAD_LEVEL };
struct load {
    enum load_kind kind;
    int32_t value; /* watts, or tenths of a resistance level */
};

enum machine_command {
    COMMAND_NONE,
    COMMAND_REQUEST_CONTROL,
    COMMAND_START,
    COMMAND_LOAD,
    COMMAND_STOP
};

enum answer {
    ANSWER_ACCEPTED,
    ANSWER_ALREADY,       /* "operation failed": to a start it means that it has started */
    ANSWER_REFUSED,       /* not supported, or the parameter is not liked */
    ANSWER_NOT_PERMITTED, /* we do not have control */
    ANSWER_ERROR          /* the link refused the write */
};

enum machine_status {
    STATUS_NONE,
    STATUS_STOPPED, /* at its console */
    STATUS_PAUSED,
    STATUS_STARTED,
    STATUS_SAFETY_KEY,
    STATUS_CONTROL_LOST,
    STATUS_RESET
};

#endif
