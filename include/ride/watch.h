/*
 * What readings should do while a block is ridden, and do not: reasons for a caution, never for a
 * load. It asks for no trust in one reading: means, medians and stretches of time.
 */
#ifndef RIDE_WATCH_H
#define RIDE_WATCH_H

#include <stdbool.h>
#include <stdint.h>

/* A heart that has not risen by so much after so long of hard riding, in which the mean power was
 * so much, and by half, above that of the time before the first work step. Not rising as work rises
 * is on the ACSM and ACC/AHA lists of reasons to stop. In 25 rides to exhaustion (Weigend et al.
 * 2022, arXiv:2207.14295) the slowest time constant of rides as short as these was 74 s, so after
 * 60 s more than half of a rise is done; how much is too little is common practice. A heart within
 * WATCH_ROOM_BPM of its limit has little room and is not judged. */
#define WATCH_RISE_AFTER_MS 60000u
#define WATCH_RISE_BPM      5
#define WATCH_RISE_W        40
#define WATCH_ROOM_BPM      30

/* One that falls by no more than heart_fall_is_low_1_min() allows in the first minute after work,
 * where there is something to fall from (vigorous, from 77 % of the maximum: Garber et al. 2011,
 * MSSE 43:1334) and the power went down to half or less (common practice). */
#define WATCH_FALL_AFTER_MS    60000u
#define WATCH_FALL_FROM_PCT    77
#define WATCH_FALL_LATE_MAX_MS 2000u /* so late it is another time than the minute's end */

/* A value that is the same to the last digit for so long, while another one swings by so much
 * (common practice). A heart keeps no beat for two minutes through work and rest. Some trainers
 * report the load for the power; the loads of intervals change oftener than once a minute. */
#define WATCH_HEART_STILL_MS  120000u
#define WATCH_HEART_SWING_W   100
#define WATCH_POWER_STILL_MS  60000u
#define WATCH_POWER_SWING_RPM 30

/* So long in work steps without any power while the legs turn (common practice: some bikes take
 * seconds to tell power at all). In a rest a bike may have nothing to tell. */
#define WATCH_POWERLESS_MS  10000u
#define WATCH_POWERLESS_RPM 30

/* So long that bike and sensor tell cadences of which one is twice the other, within a tenth, both
 * of them of legs that turn (common practice). Some machines take the half turns of the field for
 * whole ones or the other way round; readings that only lag behind each other meet sooner. */
#define WATCH_TWOFOLD_MS      10000u
#define WATCH_TWOFOLD_RPM     30
#define WATCH_TWOFOLD_LOW_PCT 180
#define WATCH_TWOFOLD_TOP_PCT 220

/* Bike and power sensor far apart (body/two_powers.h), the same way round in so many windows one
 * after the other, in which either power stayed within so much of its highest, the legs turned
 * steadily, and both told more than a machine that turns by itself (common practice). Other windows
 * than steady ones do not count: a source that follows late is off on the way up and down. One that
 * tells the same to the last digit through all of them is frozen, and says nothing. */
#define WATCH_APART_WINDOW_MS  10000u
#define WATCH_APART_WINDOWS    4u
#define WATCH_APART_STEADY_PCT 40
#define WATCH_APART_STEADY_RPM 15
#define WATCH_APART_LEAST_W    50

struct watch_mean {
    int64_t sum_w_ms;
    uint32_t ms;
};

struct watch_span {
    int32_t low, high;
};

struct watch_apart {
    bool has_window;
    struct watch_mean machine, sensor; /* of this window, and what they stayed in: */
    struct watch_span machine_w, sensor_w, cadence_rpm;
    uint32_t windows; /* far apart, one after the other; all of them: */
    bool sensor_is_higher;
    struct watch_span all_machine_w, all_sensor_w;
};

struct watch_still {
    int32_t value; /* 0: none */
    uint64_t since_ms;
    int32_t low, high; /* of the other one since then */
};

/* Zeroed: nothing seen yet. */
struct watch {
    bool begun, has_worked, in_work, has_risen;
    uint64_t t_ms;
    struct watch_mean before, since, after; /* the first work; since it began; since the last */
    int32_t rise_from_bpm;
    bool falls; /* a minute after work is counted */
    uint64_t fall_t_ms;
    int32_t fall_from_bpm;
    struct watch_still heart, power;
    uint32_t powerless_ms, twofold_ms;
    struct watch_apart apart;
};

/* Readings that are not known, or too old, are 0. */
struct watch_inputs {
    uint64_t t_ms;
    bool is_riding, in_work; /* the block clock runs; in a work step of it */
    int32_t power_w, cadence_rpm;
    int32_t machine_rpm, sensor_rpm; /* cadence as each of them tells it */
    int32_t machine_w, sensor_w;     /* and power */
    int32_t heart_bpm, heart_median_bpm;
    int32_t heart_limit_bpm;
};

struct watch_verdict {
    bool heart_is_flat, heart_stays_up, heart_is_frozen, power_is_frozen, has_no_power;
    bool cadence_is_twofold, powers_are_apart;
};

/* With every event, once its time has passed. */
struct watch_verdict watch_step(struct watch *watch, const struct watch_inputs *inputs);

#endif
