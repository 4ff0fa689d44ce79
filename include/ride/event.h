/*
 * Everything that can happen to a ride.
 *
 * A ride is a list of events; the same list gives the same effects (ride/effect.h). The shell
 * performs effects in their order and reports the outcome as events. Plain structs: zeroed is
 * valid, and a field left at zero is not written to the journal.
 */
#ifndef RIDE_EVENT_H
#define RIDE_EVENT_H

#include <stdbool.h>
#include <stdint.h>

#include "ride/machine.h"

enum event_kind {
    EVENT_TICK, /* at least every TICK_MS, whatever else happens */
    EVENT_KEY,
    EVENT_LINK,      /* a link came up or went down */
    EVENT_MACHINE,   /* the machine is ready, and what it can do */
    EVENT_TELEMETRY, /* the machine's readings */
    EVENT_HEART,     /* the strap's reading */
    EVENT_ANSWER,    /* the machine answered a command */
    EVENT_STATUS,    /* the machine reports what happened to it */
    EVENT_STORE,     /* saving failed, or works again */
    EVENT_SENSOR,    /* the reading of a sensor of power or cadence beside the machine */
    EVENT_KIND_COUNT
};
#define TICK_MS 250u

enum ride_key {
    KEY_NONE,
    KEY_STOP,      /* release and ride out; once more: leave */
    KEY_HOLD,      /* hold and resume */
    KEY_PAUSE,     /* hold, and nothing else */
    KEY_MORE,      /* shift the load up a little */
    KEY_LESS,      /* and down */
    KEY_SKIP,      /* to the next step */
    KEY_LEAVE,     /* release and end at once: the terminal is gone, the program is told to end */
    KEY_UNGUARDED, /* the same: the process that would let go in our place is gone */
    KEY_KNOB       /* a brake that is turned by hand stands at `position` now */
};

enum link_source { LINK_MACHINE, LINK_STRAP, LINK_POWER, LINK_CADENCE };

enum telemetry_field {
    HAS_POWER = 1u << 0,
    HAS_CADENCE = 1u << 1,
    HAS_DISTANCE = 1u << 2,
    HAS_HEART = 1u << 3
};
struct telemetry {
    uint32_t has; /* enum telemetry_field */
    int32_t power_w;
    int32_t cadence_rpm;
    int32_t distance_m; /* in events the machine's own count; in samples that of the block */
    int32_t heart_bpm;
};

enum contact { CONTACT_UNKNOWN, CONTACT_NONE, CONTACT_GOOD };

struct event {
    uint64_t t_ms; /* never goes back */
    enum event_kind kind;
    union {
        struct {
            enum ride_key key;
            int32_t position; /* of KEY_KNOB: the number on the knob, 0 to KNOB_TOP_MAX */
        } key;
        struct {
            enum link_source source;
            bool up;
        } link;
        struct machine machine;
        struct telemetry telemetry;
        struct {
            int32_t heart_bpm;
            enum contact contact;
        } heart;
        struct {
            enum machine_command command;
            enum answer answer;
            struct load load; /* of COMMAND_LOAD: which one is answered */
        } answer;
        struct {
            enum machine_status status;
        } status;
        struct {
            bool failed;
        } store;
        struct {
            enum link_source source; /* LINK_POWER or LINK_CADENCE */
            uint32_t has;            /* enum telemetry_field: power, cadence */
            int32_t power_w;
            int32_t cadence_rpm;
        } sensor;
    };
};

#endif
