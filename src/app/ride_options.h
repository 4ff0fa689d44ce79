/*
 * The options of `afterset ride`, checked.
 */
#ifndef APP_RIDE_OPTIONS_H
#define APP_RIDE_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

#include "io/link_address.h"

struct ride_options {
    const char *profile;
    const char *bike;                 /* as it was named */
    struct link_address bike_address; /* kind NONE: the virtual bike in this process */
    const char *strap;                /* as it was named, or NULL */
    struct link_address strap_address;
    const char *capture;                /* file to be written, or NULL */
    const char *machine;                /* file of the virtual bike, or NULL */
    const char *rider;                  /* file of the virtual rider, or NULL */
    char bike_text[24], strap_text[24]; /* names of remembered ones */
    uint64_t seed;
    double rate;
    bool jsonl, cautions_read, unrecorded;
};

/* Complains and gives false on wrong use. `options` must not move afterwards. */
bool ride_options_read(int argc, char **argv, struct ride_options *options);

#endif
