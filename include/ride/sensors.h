/*
 * The latest believable readings, and how old they are.
 *
 * A reading that cannot be true is dropped and counted; it then ages like one that never came.
 */
#ifndef RIDE_SENSORS_H
#define RIDE_SENSORS_H

#include "body/heart.h"
#include "ride/event.h"

#define HEART_READINGS_MAX 16u /* more than a strap sends in the window that is judged */

struct reading {
    bool known;
    int32_t value;
    uint64_t t_ms;
};

struct sensors {
    struct reading power_w, cadence_rpm, distance_m;
    struct reading data; /* any believable power or cadence; the value means nothing */
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
void sensors_heart(struct sensors *sensors, uint64_t t_ms, int32_t heart_bpm, enum contact contact);

bool reading_is_fresh(const struct reading *reading, uint64_t t_ms, uint32_t max_age_ms);
/* The strap's while it is fresh, else the machine's. Unknown when neither is. */
struct reading sensors_heart_rate(const struct sensors *sensors, uint64_t t_ms,
                                  uint32_t max_age_ms);
/* The median of the readings of the last `window_ms`. Of a source that sends fewer than three in
 * that time, the lowest of its last three; 0 while there are none so young as 15 s. */
int32_t sensors_heart_median(const struct sensors *sensors, uint64_t t_ms, uint32_t window_ms);

#endif
