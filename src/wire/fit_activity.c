#include "wire/fit_activity.h"

/* 1989-12-31T00:00:00Z, from which FIT counts. Source: the profile's type date_time. */
#define EPOCH_UNIX_S    INT64_C(631065600)
#define FIRST_DATE_TIME INT64_C(0x10000000)

_Static_assert(FIT_ACTIVITY_FIRST_UNIX_S == EPOCH_UNIX_S + FIRST_DATE_TIME, "type date_time");
_Static_assert(FIT_ACTIVITY_END_UNIX_S == EPOCH_UNIX_S + UINT32_MAX, "uint32, the last is unknown");

/* Values of the profile's types. */
enum {
    FILE_ACTIVITY = 4,
    MANUFACTURER_DEVELOPMENT = 255, /* for those who have no number */
    CREATOR = 0,
    EVENT_TIMER = 0,
    EVENT_SESSION = 8,
    EVENT_LAP = 9,
    EVENT_ACTIVITY = 26,
    EVENT_TYPE_START = 0,
    EVENT_TYPE_STOP = 1,
    EVENT_TYPE_STOP_ALL = 4,
    SPORT_CYCLING = 2,
    SUB_SPORT_INDOOR = 6,
    LAP_TRIGGER_TIME = 1,
    SESSION_TRIGGER_END = 0,
    ACTIVITY_MANUAL = 0
};

enum {
    LOCAL_FILE_ID,
    LOCAL_DEVICE,
    LOCAL_EVENT,
    LOCAL_RECORD,
    LOCAL_LAP,
    LOCAL_SESSION,
    LOCAL_ALL
};

#define NAME      "afterset"
#define TIMESTAMP 253
#define INDEX     254

#define MESSAGE(number, kind, list)                                                     \
    {                                                                                   \
        .global = (number), .local = (kind), .count = sizeof(list) / sizeof((list)[0]), \
        .fields = (list)                                                                \
    }

static const struct fit_field file_id_fields[] = {
    {0, FIT_ENUM, 0},   /* type */
    {1, FIT_UINT16, 0}, /* manufacturer */
    {2, FIT_UINT16, 0}, /* product */
    {4, FIT_UINT32, 0}, /* time_created */
    {8, FIT_STRING, sizeof NAME},
};
static const struct fit_field device_fields[] = {
    {TIMESTAMP, FIT_UINT32, 0},
    {0, FIT_UINT8, 0},  /* device_index */
    {2, FIT_UINT16, 0}, /* manufacturer */
    {4, FIT_UINT16, 0}, /* product */
    {5, FIT_UINT16, 0}, /* software_version, in hundredths */
    {27, FIT_STRING, sizeof NAME},
};
static const struct fit_field event_fields[] = {
    {TIMESTAMP, FIT_UINT32, 0},
    {0, FIT_ENUM, 0}, /* event */
    {1, FIT_ENUM, 0}, /* event_type */
};
static const struct fit_field record_fields[] = {
    {TIMESTAMP, FIT_UINT32, 0}, {5, FIT_UINT32, 0}, /* distance, cm */
    {7, FIT_UINT16, 0},                             /* power */
    {4, FIT_UINT8, 0},                              /* cadence */
    {3, FIT_UINT8, 0},                              /* heart_rate */
};
static const struct fit_field lap_fields[] = {
    {INDEX, FIT_UINT16, 0}, {TIMESTAMP, FIT_UINT32, 0}, {2, FIT_UINT32, 0}, /* start_time */
    {7, FIT_UINT32, 0},  /* total_elapsed_time, ms */
    {8, FIT_UINT32, 0},  /* total_timer_time, ms */
    {9, FIT_UINT32, 0},  /* total_distance, cm */
    {41, FIT_UINT32, 0}, /* total_work */
    {19, FIT_UINT16, 0}, /* avg_power */
    {20, FIT_UINT16, 0}, /* max_power */
    {15, FIT_UINT8, 0},  /* avg_heart_rate */
    {16, FIT_UINT8, 0},  /* max_heart_rate */
    {17, FIT_UINT8, 0},  /* avg_cadence */
    {0, FIT_ENUM, 0},    /* event */
    {1, FIT_ENUM, 0},    /* event_type */
    {25, FIT_ENUM, 0},   /* sport */
    {39, FIT_ENUM, 0},   /* sub_sport */
    {23, FIT_ENUM, 0},   /* intensity */
    {24, FIT_ENUM, 0},   /* lap_trigger */
};
static const struct fit_field session_fields[] = {
    {INDEX, FIT_UINT16, 0}, {TIMESTAMP, FIT_UINT32, 0}, {2, FIT_UINT32, 0}, /* start_time */
    {7, FIT_UINT32, 0},  /* total_elapsed_time, ms */
    {8, FIT_UINT32, 0},  /* total_timer_time, ms */
    {9, FIT_UINT32, 0},  /* total_distance, cm */
    {48, FIT_UINT32, 0}, /* total_work */
    {20, FIT_UINT16, 0}, /* avg_power */
    {21, FIT_UINT16, 0}, /* max_power */
    {16, FIT_UINT8, 0},  /* avg_heart_rate */
    {17, FIT_UINT8, 0},  /* max_heart_rate */
    {18, FIT_UINT8, 0},  /* avg_cadence */
    {0, FIT_ENUM, 0},    /* event */
    {1, FIT_ENUM, 0},    /* event_type */
    {5, FIT_ENUM, 0},    /* sport */
    {6, FIT_ENUM, 0},    /* sub_sport */
    {11, FIT_UINT16, 0}, /* total_calories */
    {193, FIT_UINT8, 0}, /* workout_rpe, tenths */
    {25, FIT_UINT16, 0}, /* first_lap_index */
    {26, FIT_UINT16, 0}, /* num_laps */
    {28, FIT_ENUM, 0},   /* trigger */
};
static const struct fit_field activity_fields[] = {
    {TIMESTAMP, FIT_UINT32, 0}, {0, FIT_UINT32, 0}, /* total_timer_time, ms */
    {1, FIT_UINT16, 0},                             /* num_sessions */
    {2, FIT_ENUM, 0},                               /* type */
    {3, FIT_ENUM, 0},                               /* event */
    {4, FIT_ENUM, 0},                               /* event_type */
    {5, FIT_UINT32, 0},                             /* local_timestamp */
};

static const struct fit_message file_id = MESSAGE(0, LOCAL_FILE_ID, file_id_fields),
                                device = MESSAGE(23, LOCAL_DEVICE, device_fields),
                                event = MESSAGE(21, LOCAL_EVENT, event_fields),
                                record = MESSAGE(20, LOCAL_RECORD, record_fields),
                                lap = MESSAGE(19, LOCAL_LAP, lap_fields),
                                session = MESSAGE(18, LOCAL_SESSION, session_fields),
                                activity = MESSAGE(34, LOCAL_ALL, activity_fields);

static struct fit_value number(int64_t value)
{
    return (struct fit_value){.known = value >= 0 && value < UINT32_MAX, .number = (uint32_t)value};
}

/* Metres as the profile's hundredths. */
static struct fit_value hundredths(int64_t value)
{
    return number(value < 0 || value > UINT32_MAX / 100 ? -1 : value * 100);
}

static struct fit_value time_of(int64_t unix_s)
{
    if (unix_s < FIT_ACTIVITY_FIRST_UNIX_S || unix_s >= FIT_ACTIVITY_END_UNIX_S)
        return number(-1);
    return number(unix_s - EPOCH_UNIX_S);
}

static struct fit_value local_time_of(int64_t unix_s, int32_t offset_s)
{
    if (unix_s < FIT_ACTIVITY_FIRST_UNIX_S || unix_s >= FIT_ACTIVITY_END_UNIX_S)
        return number(-1);
    return time_of(unix_s + offset_s);
}

void fit_activity_begin(struct bytes_writer *writer, int64_t created_unix_s,
                        uint32_t version_hundredths)
{
    const struct fit_value name = {.known = true, .text = NAME};
    const struct fit_value id[] = {number(FILE_ACTIVITY), number(MANUFACTURER_DEVELOPMENT),
                                   number(0), time_of(created_unix_s), name};
    const struct fit_value creator[] = {time_of(created_unix_s),          number(CREATOR),
                                        number(MANUFACTURER_DEVELOPMENT), number(0),
                                        number(version_hundredths),       name};

    fit_file_begin(writer);
    fit_file_define(writer, &file_id);
    fit_file_put(writer, &file_id, id);
    fit_file_define(writer, &device);
    fit_file_put(writer, &device, creator);
    fit_file_define(writer, &event);
    fit_file_define(writer, &record);
    fit_file_define(writer, &lap);
    fit_file_define(writer, &session);
    fit_file_define(writer, &activity);
}

void fit_activity_timer(struct bytes_writer *writer, int64_t unix_s, enum fit_timer timer)
{
    static const uint8_t types[] = {[FIT_TIMER_RUNS] = EVENT_TYPE_START,
                                    [FIT_TIMER_STANDS] = EVENT_TYPE_STOP,
                                    [FIT_TIMER_IS_OVER] = EVENT_TYPE_STOP_ALL};
    const struct fit_value values[] = {time_of(unix_s), number(EVENT_TIMER), number(types[timer])};

    fit_file_put(writer, &event, values);
}

void fit_activity_record(struct bytes_writer *writer, const struct fit_record *is)
{
    const struct fit_value values[] = {time_of(is->unix_s), hundredths(is->distance_m),
                                       number(is->power_w), number(is->cadence_rpm),
                                       number(is->heart_bpm)};

    fit_file_put(writer, &record, values);
}

/* What laps and sessions have in common stands first in both, in this order. */
#define SPAN_VALUES 16u

static void span_values(const struct fit_span *span, uint16_t index, uint32_t event_number,
                        struct fit_value *ret)
{
    const struct fit_value values[SPAN_VALUES] = {
        number(index),
        time_of(span->end_unix_s),
        time_of(span->begin_unix_s),
        number(span->elapsed_ms),
        number(span->timer_ms),
        hundredths(span->distance_m),
        number(span->work_j),
        number(span->average_power_w),
        number(span->max_power_w),
        number(span->average_heart_bpm),
        number(span->max_heart_bpm),
        number(span->average_cadence_rpm),
        number(event_number),
        number(EVENT_TYPE_STOP),
        number(SPORT_CYCLING),
        number(SUB_SPORT_INDOOR),
    };
    for (size_t i = 0; i < SPAN_VALUES; i++)
        ret[i] = values[i];
}

void fit_activity_lap(struct bytes_writer *writer, uint16_t index, enum fit_intensity intensity,
                      const struct fit_span *span)
{
    struct fit_value values[FIT_FIELDS_MAX];

    span_values(span, index, EVENT_LAP, values);
    values[SPAN_VALUES] = number(intensity);
    values[SPAN_VALUES + 1] = number(LAP_TRIGGER_TIME);
    fit_file_put(writer, &lap, values);
}

void fit_activity_end(struct bytes_writer *writer, const struct fit_totals *totals)
{
    const struct fit_span *span = &totals->span;
    struct fit_value values[FIT_FIELDS_MAX];
    const struct fit_value all[] = {time_of(span->end_unix_s),
                                    number(span->timer_ms),
                                    number(1),
                                    number(ACTIVITY_MANUAL),
                                    number(EVENT_ACTIVITY),
                                    number(EVENT_TYPE_STOP),
                                    local_time_of(span->end_unix_s, totals->local_offset_s)};

    span_values(span, 0, EVENT_SESSION, values);
    values[SPAN_VALUES] = number(totals->calories_kcal);
    values[SPAN_VALUES + 1] = number(totals->effort < 0 ? -1 : totals->effort * 10);
    values[SPAN_VALUES + 2] = number(0);
    values[SPAN_VALUES + 3] = number(totals->laps);
    values[SPAN_VALUES + 4] = number(SESSION_TRIGGER_END);
    fit_file_put(writer, &session, values);
    fit_file_put(writer, &activity, all);
    fit_file_end(writer);
}
