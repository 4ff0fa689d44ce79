/*
 * The options of `afterset ride`, checked.
 */
#ifndef APP_RIDE_OPTIONS_H
#define APP_RIDE_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

#include "io/link_address.h"
#include "ride/fit.h"
#include "ride/mark.h"
#include "wire/sensor_client.h"

enum ride_legs { LEGS_AS_LAST_TIME, LEGS_TRAINED, LEGS_FRESH };

enum ride_load { LOAD_AS_WRITTEN, LOAD_NEXT, LOAD_SAID };

struct ride_sensor {
    const char *name; /* as it was named, or NULL: none */
    struct link_address address;
    char text[DEVICE_NAME_SIZE]; /* the name of a remembered one */
    bool is_bikes_own;           /* a remembered one stays out of it */
    bool is_remembered;          /* and not named */
};

/* The option that names each, and the word for it. */
extern const struct ride_sensor_name {
    const char *option, *word;
    enum device_kind device;
} ride_sensor_names[SENSOR_KIND_COUNT];

struct ride_options {
    const char *profile;
    struct fit_wish wish; /* how long, how the legs feel, and the load where it is said */
    enum ride_load load;
    enum ride_legs legs;
    bool beats; /* an earlier block runs beside it */
    enum mark_measure beat;
    const char *bike;                 /* as it was named */
    struct link_address bike_address; /* kind NONE: the virtual bike in this process */
    struct ride_sensor sensors[SENSOR_KIND_COUNT];
    struct device_address adapter;    /* of ours; type NONE: any */
    bool has_adapter;                 /* named by the rider */
    uint16_t adapter_index;           /* then */
    const char *capture;              /* file to be written, or NULL */
    const char *machine;              /* file of the virtual bike, or NULL */
    const char *rider;                /* file of the virtual rider, or NULL */
    char bike_text[DEVICE_NAME_SIZE]; /* the name of a remembered one */
    uint64_t seed;
    double rate;
    bool plain, jsonl; /* at most one; neither: the whole terminal, where there is one */
    bool cautions_read, unrecorded;
    bool mute, has_volume;
    uint32_t volume_pct;
    const char *cues_to; /* a WAV file, or NULL */
};

/* EXIT_DONE; or complains and gives the exit status: wrong use, or the file of remembered devices
 * failed. `options` must not move afterwards. */
int ride_options_read(int argc, char **argv, struct ride_options *options);
/* Whether the bike is in this process, virtual or recorded: it takes no time of its own. */
bool ride_options_bike_is_inside(const struct ride_options *options);

#endif
