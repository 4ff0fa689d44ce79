/*
 * A ride on an indoor bike as the messages of a FIT activity file, over wire/fit_file.h.
 *
 * Source: the FIT profile 21.87, tables of file_id, device_info, event, record, lap, session and
 * activity; the order is "summary last" of the description of activity files: everything by its
 * time, a lap when it is over, the session and the activity at the end.
 */
#ifndef WIRE_FIT_ACTIVITY_H
#define WIRE_FIT_ACTIVITY_H

#include "wire/fit_file.h"

/* More than any call below puts: begin() with all definitions, the others one or two messages. */
#define FIT_ACTIVITY_CALL_OCTETS 400u

/* The first second that a file can name, and the first that it cannot: before, its numbers count
 * from when a device was switched on. */
#define FIT_ACTIVITY_FIRST_UNIX_S INT64_C(899501056)
#define FIT_ACTIVITY_END_UNIX_S   INT64_C(4926032895)

/* All times below are Unix seconds within these two; what is outside becomes "not known". */

enum fit_timer { FIT_TIMER_RUNS, FIT_TIMER_STANDS, FIT_TIMER_IS_OVER };

/* Numbers of the profile's "intensity". */
enum fit_intensity { FIT_WORK = 0, FIT_REST = 1, FIT_WARM_UP = 2, FIT_COOL_DOWN = 3 };

/* Below 0: not known. */
struct fit_record {
    int64_t unix_s;
    int64_t distance_m;
    int32_t power_w, cadence_rpm, heart_bpm;
};

/* A stretch of the ride and what it came to. Below 0: not known. */
struct fit_span {
    int64_t begin_unix_s, end_unix_s;
    int64_t elapsed_ms, timer_ms; /* with holds and without */
    int64_t work_j, distance_m;
    int32_t average_power_w, max_power_w;
    int32_t average_heart_bpm, max_heart_bpm;
    int32_t average_cadence_rpm;
};

struct fit_totals {
    struct fit_span span;
    int32_t calories_kcal, effort; /* 0 to 10; below 0: not known */
    uint16_t laps;
    int32_t local_offset_s; /* of the rider's clock, east of UTC above 0 */
};

void fit_activity_begin(struct bytes_writer *writer, int64_t created_unix_s,
                        uint32_t version_hundredths);
void fit_activity_timer(struct bytes_writer *writer, int64_t unix_s, enum fit_timer timer);
void fit_activity_record(struct bytes_writer *writer, const struct fit_record *record);
void fit_activity_lap(struct bytes_writer *writer, uint16_t index, enum fit_intensity intensity,
                      const struct fit_span *span);
/* The file is whole after it. */
void fit_activity_end(struct bytes_writer *writer, const struct fit_totals *totals);

#endif
