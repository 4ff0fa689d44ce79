#include <stdlib.h>
#include <time.h>

#include "export.h"
#include "wire/fit_activity.h"

/* What is written, and how far. A lap goes out when the seconds come to its end, for messages stand
 * in the order of their time. */
struct progress {
    const struct ride_series *series;
    int64_t begin_unix_s; /* of the block */
    size_t laps;          /* written so far */
    bool stands;          /* the timer, in a hold */
    struct bytes_writer writer;
};

/* Means and maxima of the seconds from one up to before another. */
struct middle {
    int64_t heart_sum, cadence_sum;
    int32_t heart_count, cadence_count, max_heart_bpm, max_power_w;
};

static struct middle middle_of(const struct ride_series *series, uint32_t from_s, uint32_t to_s)
{
    struct middle middle = {.max_heart_bpm = -1, .max_power_w = -1};

    for (size_t i = 0; i < series->point_count; i++) {
        const struct ride_series_point *point = &series->points[i];
        const struct telemetry *now = &point->now;
        if (point->second < from_s || point->second >= to_s)
            continue;
        if ((now->has & HAS_HEART) != 0) {
            middle.heart_sum += now->heart_bpm;
            middle.heart_count++;
            if (now->heart_bpm > middle.max_heart_bpm)
                middle.max_heart_bpm = now->heart_bpm;
        }
        if ((now->has & HAS_CADENCE) != 0) {
            middle.cadence_sum += now->cadence_rpm;
            middle.cadence_count++;
        }
        if ((now->has & HAS_POWER) != 0 && now->power_w > middle.max_power_w)
            middle.max_power_w = now->power_w;
    }
    return middle;
}

static int32_t mean(int64_t sum, int32_t count)
{
    return count > 0 ? (int32_t)((sum + count / 2) / count) : -1;
}

/* Power of the timer's time: with gaps in the readings the store's own mean is a little higher. */
static struct fit_span span_of(const struct progress *at, uint32_t from_ms, uint32_t to_ms,
                               const struct mark_point *begin, const struct mark_point *end)
{
    const struct middle middle = middle_of(at->series, from_ms / 1000, to_ms / 1000);
    const int64_t timer_ms = (int64_t)end->block_ms - begin->block_ms;
    const int64_t done_j = end->work_j - begin->work_j;

    return (struct fit_span){
        .begin_unix_s = at->begin_unix_s + from_ms / 1000,
        .end_unix_s = at->begin_unix_s + to_ms / 1000,
        .elapsed_ms = (int64_t)to_ms - from_ms,
        .timer_ms = timer_ms,
        .work_j = done_j,
        .distance_m = end->distance_m - begin->distance_m,
        .average_power_w = timer_ms > 0 ? (int32_t)((done_j * 1000 + timer_ms / 2) / timer_ms) : -1,
        .max_power_w = middle.max_power_w,
        .average_heart_bpm = mean(middle.heart_sum, middle.heart_count),
        .max_heart_bpm = middle.max_heart_bpm,
        .average_cadence_rpm = mean(middle.cadence_sum, middle.cadence_count),
    };
}

static void put_lap(struct progress *at, const struct ride_series_lap *lap)
{
    static const enum fit_intensity intensities[STEP_KIND_COUNT] = {[STEP_WARM_UP] = FIT_WARM_UP,
                                                                    [STEP_WORK] = FIT_WORK,
                                                                    [STEP_REST] = FIT_REST,
                                                                    [STEP_COOL_DOWN] =
                                                                        FIT_COOL_DOWN};
    const struct plan_step *step = &at->series->setup.plan.steps[lap->step];
    const struct fit_span span = span_of(at, lap->begin_ms, lap->end_ms, &lap->begin, &lap->end);

    fit_activity_lap(&at->writer, (uint16_t)at->laps++, intensities[step->kind], &span);
}

static void put_laps_until(struct progress *at, uint32_t second)
{
    const struct ride_series *series = at->series;

    while (at->laps < series->lap_count && series->laps[at->laps].end_ms / 1000 <= second)
        put_lap(at, &series->laps[at->laps]);
}

static void put_point(struct progress *at, const struct ride_series_point *point)
{
    const struct telemetry *now = &point->now;
    const bool stands = point->phase == PHASE_HELD;
    const int64_t unix_s = at->begin_unix_s + point->second;
    const struct fit_record record = {
        .unix_s = unix_s,
        .distance_m = (now->has & HAS_DISTANCE) != 0 ? now->distance_m : -1,
        .power_w = (now->has & HAS_POWER) != 0 ? now->power_w : -1,
        .cadence_rpm = (now->has & HAS_CADENCE) != 0 ? now->cadence_rpm : -1,
        .heart_bpm = (now->has & HAS_HEART) != 0 ? now->heart_bpm : -1,
    };

    if (stands != at->stands)
        fit_activity_timer(&at->writer, unix_s, stands ? FIT_TIMER_STANDS : FIT_TIMER_RUNS);
    at->stands = stands;
    fit_activity_record(&at->writer, &record);
}

static struct mark_point end_of(const struct ride_series *series)
{
    return (struct mark_point){
        .block_ms = series->summary.duration_ms,
        .work_j = series->summary.work_j,
        .distance_m = series->summary.distance_m,
    };
}

/* Riding out is no step of the plan, but part of the ride. */
static uint32_t put_last_lap(struct progress *at)
{
    const struct ride_series *series = at->series;
    const struct ride_series_lap *last =
        series->lap_count > 0 ? &series->laps[series->lap_count - 1] : NULL;
    const uint32_t last_s = series->points[series->point_count - 1].second;
    const uint32_t over_ms = last_s < UINT32_MAX / 1000 ? (last_s + 1) * 1000 : UINT32_MAX;
    const struct mark_point end = end_of(series);

    if (last == NULL || last->end_ms >= over_ms)
        return last != NULL ? last->end_ms : over_ms;
    if (last->end.block_ms >= end.block_ms)
        return last->end_ms;
    const struct fit_span span = span_of(at, last->end_ms, over_ms, &last->end, &end);
    fit_activity_lap(&at->writer, (uint16_t)at->laps++, FIT_COOL_DOWN, &span);
    return over_ms;
}

static int32_t local_offset_s(int64_t unix_s)
{
    const time_t at = (time_t)unix_s;
    struct tm parts;

    return localtime_r(&at, &parts) != NULL ? (int32_t)parts.tm_gmtoff : 0;
}

/* "0.1.0" is 10, and so is "0.1.1". */
static uint32_t version_hundredths(void)
{
    char *at = NULL;
    const unsigned long major = strtoul(AFTERSET_VERSION, &at, 10);
    const unsigned long minor = *at == '.' ? strtoul(at + 1, NULL, 10) : 0;

    return (uint32_t)(major * 100 + minor * 10);
}

static int32_t known(uint32_t value)
{
    return value > 0 && value <= INT32_MAX ? (int32_t)value : -1;
}

static struct fit_totals totals_of(const struct progress *at, const struct store_ride *ride,
                                   uint32_t over_ms)
{
    const struct mark_point begin = {0}, end = end_of(at->series);
    struct fit_totals totals = {
        .span = span_of(at, 0, over_ms, &begin, &end),
        .calories_kcal = known(ride->summary.calories_kcal),
        .effort = ride->rating.has_effort ? (int32_t)ride->rating.effort : -1,
        .laps = (uint16_t)at->laps,
        .local_offset_s = local_offset_s(at->begin_unix_s),
    };

    totals.span.average_power_w = known(ride->summary.average_power_w);
    totals.span.average_heart_bpm = known(ride->summary.average_heart_bpm);
    totals.span.max_heart_bpm = known(ride->summary.max_heart_bpm);
    return totals;
}

static void put_all(struct progress *at, const struct store_ride *ride)
{
    const struct ride_series *series = at->series;

    fit_activity_begin(&at->writer, ride->started_unix_s, version_hundredths());
    fit_activity_timer(&at->writer, at->begin_unix_s, FIT_TIMER_RUNS);
    for (size_t i = 0; i < series->point_count; i++) {
        put_laps_until(at, series->points[i].second);
        put_point(at, &series->points[i]);
    }
    put_laps_until(at, UINT32_MAX);
    const uint32_t over_ms = put_last_lap(at);
    fit_activity_timer(&at->writer, at->begin_unix_s + over_ms / 1000, FIT_TIMER_IS_OVER);
    const struct fit_totals totals = totals_of(at, ride, over_ms);
    fit_activity_end(&at->writer, &totals);
}

enum result export_fit(const struct export_ride *from, struct export_file *ret)
{
    const struct ride_series *series = from->series;

    if (series == NULL || series->point_count == 0)
        return RESULT_UNSUPPORTED;
    const int64_t begin_unix_s = from->ride.started_unix_s + (int64_t)(series->before_ms / 1000);
    if (begin_unix_s < FIT_ACTIVITY_FIRST_UNIX_S ||
        begin_unix_s >= FIT_ACTIVITY_END_UNIX_S - UINT32_MAX / 1000)
        return RESULT_RANGE;
    /* A second is a record and at most one event; and begin, end, a last lap. */
    const size_t room =
        FIT_ACTIVITY_CALL_OCTETS * (series->lap_count + 4) + 64 * (series->point_count + 2);
    uint8_t *octets = malloc(room);
    if (octets == NULL)
        return RESULT_FULL;
    struct progress at = {series, begin_unix_s, 0, false, bytes_writer(octets, room)};
    put_all(&at, &from->ride);
    *ret = (struct export_file){(char *)octets, at.writer.length};
    return RESULT_OK;
}
