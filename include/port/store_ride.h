/*
 * What is remembered of one ride beside its journal: how it began, what it came to, what the rider
 * said of it.
 */
#ifndef PORT_STORE_RIDE_H
#define PORT_STORE_RIDE_H

#include <stdbool.h>
#include <stdint.h>

#include "ride/plan.h"

#define STORE_BIKE_MAX       127u /* octets of UTF-8, as for all text here */
#define STORE_PROFILE_MAX    1023u
#define STORE_REASON_MAX     127u
#define STORE_NOTE_MAX       240u
#define STORE_FEEL_MAX       5u
#define STORE_EFFORT_MAX     10u
#define STORE_DIFFERENCE_MAX 99999 /* tenths of a per cent */

enum store_state {
    STORE_RIDING,    /* under way, or broken off by a crash */
    STORE_FINISHED,  /* ended by the ride itself */
    STORE_RECOVERED, /* ended at a later start, out of its journal */
    STORE_BY_HAND    /* written down by the rider: no journal */
};

enum store_ending {
    STORE_ENDING_UNKNOWN,
    STORE_ENDING_DONE,    /* the plan was ridden to its end */
    STORE_ENDING_STOPPED, /* the rider stopped */
    STORE_ENDING_CUT_OFF  /* the controller stopped */
};

/* Zero means not known for calories, heart and best power. */
struct store_summary {
    enum store_ending ending;
    char reason[STORE_REASON_MAX + 1]; /* words; empty when there is nothing to say */
    uint32_t duration_s;
    uint32_t work_j;
    uint32_t average_power_w;
    uint32_t work_s, work_power_w; /* of the work steps: whole seconds, mean power */
    uint32_t distance_m;
    uint32_t calories_kcal, calories_low_kcal, calories_high_kcal;
    bool has_in_range; /* the plan asked for something */
    uint32_t in_range_pct;
    uint32_t average_heart_bpm, max_heart_bpm;
    int32_t heart_fall_bpm; /* in the minute after the last work; below 0 it rose; 0: not known */
    uint32_t best_5s_w, best_30s_w, best_60s_w, best_180s_w; /* highest mean power so long */
    uint32_t sensor_pct; /* of the power, measured by the sensor; else the bike's own */
    /* How far that read above the bike, in tenths of a per cent, and half of the 95 % interval; 0:
     * not known. See body/two_powers.h. */
    int32_t difference_tenths;
    uint32_t difference_error_tenths;
};

/* What the rider says of a ride when it is over. */
struct store_rating {
    bool has_effort;
    uint32_t effort; /* 0, none, to STORE_EFFORT_MAX, all there was */
    char note[STORE_NOTE_MAX + 1];
};

/* Text read from a store is valid UTF-8 without control characters, whatever the file holds. */
struct store_ride {
    int64_t id;
    int64_t started_unix_s;
    char title[PLAN_TITLE_MAX + 1];
    char bike[STORE_BIKE_MAX + 1];         /* as port/device_store.h calls it */
    char power_sensor[STORE_BIKE_MAX + 1]; /* likewise; empty: none was named */
    char profile[STORE_PROFILE_MAX + 1];   /* its file; empty: not known, as of rides of old */
    uint32_t length_ms;                    /* of the plan: its intervals; 0: not known */
    uint32_t feel; /* of the legs, 1 bad to STORE_FEEL_MAX good; 0: not said */
    bool
        is_fresh; /* ridden without leg work before it; those of rides of old are taken for tired */
    /* What was proposed for it where the rider chose otherwise: the mean target of its work, in
     * watts or tenths of a level, and its length; 0: as was chosen, or nothing was proposed. */
    uint32_t proposed, proposed_length_ms;
    enum store_state state;
    struct store_summary summary; /* all zero while STORE_RIDING */
    struct store_rating rating;
};

#endif
