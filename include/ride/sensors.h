/*
 * The latest believable readings, and how old they are.
 *
 * A reading that cannot be true is dropped and counted; it then ages like one that never came.
 *
 * Power and cadence may have several sources. Power is that of the power sensor while it speaks,
 * else the machine's; cadence that of the cadence sensor, else of the power sensor, else the
 * machine's. Which sensors there are is the rider's choice, made before the ride. Whether there are
 * readings at all to command a load by (`data`) is a matter of the machine alone.
 */
#ifndef RIDE_SENSORS_H
#define RIDE_SENSORS_H

#include "body/heart.h"
#include "ride/event.h"

/* A sensor that said nothing for longer does not speak: it sends every second, as machines do
 * (common practice). */
#define SENSOR_SPEAKS_MS 3000u

#define HEART_READINGS_MAX 16u /* more than a strap sends in the window that is judged */

struct reading {
    bool known;
    int32_t value;
    uint64_t t_ms;
};

struct sensors {
    struct reading power_w, cadence_rpm; /* of the source that was chosen */
    struct reading distance_m;
    struct reading data; /* the machine's believable power or cadence; the value means nothing */
    struct reading machine_power_w, machine_cadence_rpm;
    struct reading sensor_power_w, sensor_cadence_rpm; /* of the power sensor */
    struct reading crank_rpm;                          /* of the cadence sensor */
    bool machine_has_power;                            /* it has told another one than 0 */
    bool sensor_has_cadence;                           /* the power sensor has told one */
    enum link_source power_from, cadence_from;
    uint32_t fell_silent; /* sensors that were in use and did, not told yet: 1 << link_source */
    struct reading strap_bpm, machine_bpm;
    struct heart_filter strap_filter, machine_filter;
    struct {
        int32_t heart_bpm;
        uint64_t t_ms;
    } window[HEART_READINGS_MAX]; /* a ring, the newest before window_next */
    uint32_t window_next, window_count;
    uint32_t doubtful_in_a_row;
};

void sensors_telemetry(struct sensors *sensors, uint64_t t_ms, const struct telemetry *data);
/* Of what came with EVENT_SENSOR; a source that is no sensor of power or cadence says nothing. */
void sensors_effort(struct sensors *sensors, uint64_t t_ms, enum link_source source,
                    const struct telemetry *data);
/* That sensor's link is gone, and its readings with it. */
void sensors_lose(struct sensors *sensors, uint64_t t_ms, enum link_source source);
/* Chooses anew, as what was chosen may have grown too old; with every event. */
void sensors_choose(struct sensors *sensors, uint64_t t_ms);
/* The highest of what the machine said last and what sensors that speak say: for limits. */
int32_t sensors_highest_power_w(const struct sensors *sensors, uint64_t t_ms);
int32_t sensors_highest_cadence_rpm(const struct sensors *sensors, uint64_t t_ms);
void sensors_heart(struct sensors *sensors, uint64_t t_ms, int32_t heart_bpm, enum contact contact);

bool reading_is_fresh(const struct reading *reading, uint64_t t_ms, uint32_t max_age_ms);
/* The strap's while it is fresh, else the machine's. Unknown when neither is. */
struct reading sensors_heart_rate(const struct sensors *sensors, uint64_t t_ms,
                                  uint32_t max_age_ms);
/* The median of the readings of the last `window_ms`. Of a source that sends fewer than three in
 * that time, the lowest of its last three; 0 while there are none so young as 15 s. */
int32_t sensors_heart_median(const struct sensors *sensors, uint64_t t_ms, uint32_t window_ms);

#endif
