/*
 * A machine that speaks the Fitness Machine Service, over any link that carries attribute PDUs.
 */
#ifndef APP_MACHINE_FTMS_H
#define APP_MACHINE_FTMS_H

#include "machine_protocol.h"
#include "wire/ftms_client.h"

struct machine_ftms {
    struct ftms_client client;
    struct gatt_known known; /* of this machine, from an earlier link; may be set */
    bool takes_power;
    struct ftms_range power_w, level_tenths;
    struct load last_load; /* what was commanded, and the number it became */
    uint8_t last_opcode;
    int16_t last_value;
    unsigned stuck_step, skipped_steps; /* subscriptions without an answer: the last, twice */
};

extern const struct machine_protocol machine_ftms;

#endif
