#include "ride_series.h"

#include <stdlib.h>

#include "rerun.h"

struct reading_in {
    struct ride_series *series;
    struct ride_series_point *points;
    size_t count, capacity;
    uint64_t first_t_ms; /* of the first event */
    bool has_first, is_in_lap, is_full;
};

static bool has_begun(const struct ride *ride)
{
    return ride->phase == PHASE_RIDING || ride->phase == PHASE_HELD || ride->phase == PHASE_EASY;
}

static struct telemetry telemetry_of(const struct ride *ride)
{
    const struct sensors *sensors = &ride->sensors;
    const uint32_t stale_ms = ride->limits.data_stale_ms;
    const struct reading heart =
        sensors_heart_rate(sensors, ride->t_ms, ride->limits.heart_stale_ms);
    struct telemetry now = {.has = HAS_DISTANCE, .distance_m = totals_distance_m(&ride->totals)};

    if (reading_is_fresh(&sensors->power_w, ride->t_ms, stale_ms)) {
        now.has |= HAS_POWER;
        now.power_w = sensors->power_w.value;
    }
    if (reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, stale_ms)) {
        now.has |= HAS_CADENCE;
        now.cadence_rpm = sensors->cadence_rpm.value;
    }
    if (heart.known) {
        now.has |= HAS_HEART;
        now.heart_bpm = heart.value;
    }
    return now;
}

static bool make_room(struct reading_in *in)
{
    if (in->count < in->capacity)
        return true;
    const size_t capacity = in->capacity > 0 ? 2 * in->capacity : 1024;
    struct ride_series_point *larger = realloc(in->points, capacity * sizeof in->points[0]);
    if (larger == NULL)
        return false;
    in->points = larger;
    in->capacity = capacity;
    return true;
}

static uint32_t since_begin_ms(const struct ride *ride)
{
    const uint64_t ms = ride->t_ms - ride->start_t_ms;
    return ms < UINT32_MAX ? (uint32_t)ms : UINT32_MAX; /* of a hostile journal */
}

static void begin_lap(struct reading_in *in, const struct ride *ride)
{
    struct ride_series *series = in->series;

    in->is_in_lap = series->lap_count < PLAN_STEPS_MAX;
    if (!in->is_in_lap)
        return;
    series->laps[series->lap_count++] = (struct ride_series_lap){
        .step = ride->step,
        .begin_ms = since_begin_ms(ride),
        .end_ms = since_begin_ms(ride),
        .begin = mark_point_of(ride),
        .end = mark_point_of(ride),
    };
}

/* The event that ends a step is the one that begins the next. */
static void take_lap(struct reading_in *in, const struct ride *ride)
{
    struct ride_series *series = in->series;
    const bool is_on_plan = ride_current_step(ride) != NULL;

    if (in->is_in_lap) {
        struct ride_series_lap *lap = &series->laps[series->lap_count - 1];
        lap->end_ms = since_begin_ms(ride);
        lap->end = mark_point_of(ride);
        in->is_in_lap = is_on_plan && lap->step == ride->step;
    }
    if (is_on_plan && !in->is_in_lap)
        begin_lap(in, ride);
}

static void take_point(struct reading_in *in, const struct ride *ride)
{
    const uint32_t second = since_begin_ms(ride) / 1000;

    if (in->count == 0 || in->points[in->count - 1].second != second) {
        in->is_full = !make_room(in);
        if (in->is_full)
            return;
        in->count++;
    }
    in->points[in->count - 1] = (struct ride_series_point){
        .second = second,
        .block_ms = ride->block_ms,
        .phase = ride->phase,
        .step = ride->step,
        .load = ride->control.accepted,
        .now = telemetry_of(ride),
        .work_j = work_j(&ride->totals.work),
    };
}

static void take(void *user, const struct ride *ride)
{
    struct reading_in *in = user;

    if (!in->has_first) {
        in->has_first = true;
        in->first_t_ms = ride->t_ms;
        in->series->setup = ride->setup;
    }
    if (ride->start_t_ms == 0)
        return;
    in->series->before_ms = ride->start_t_ms - in->first_t_ms;
    take_lap(in, ride);
    if (has_begun(ride) && !in->is_full)
        take_point(in, ride);
}

static enum result read_text(const char *text, size_t length, struct ride_series *series,
                             struct text_fault *ret_fault)
{
    struct reading_in in = {.series = series};
    struct rerun rerun = {0};
    const enum result result =
        rerun_watched(text, length, (struct rerun_watch){take, &in}, &rerun, ret_fault);

    series->points = in.points;
    series->point_count = in.count;
    series->summary = rerun.summary;
    series->has_ended = rerun.has_ended;
    return in.is_full ? RESULT_FULL : result;
}

enum result ride_series_read(struct store *store, int64_t id, struct ride_series **ret,
                             struct text_fault *ret_fault)
{
    struct ride_series *series = calloc(1, sizeof *series);
    char *text = NULL;
    size_t length = 0;

    *ret = NULL;
    *ret_fault = (struct text_fault){0};
    if (series == NULL)
        return RESULT_FULL;
    enum result result = store_journal(store, id, &text, &length);
    if (result == RESULT_OK && length == 0)
        result = RESULT_NOT_FOUND;
    if (result == RESULT_OK)
        result = read_text(text, length, series, ret_fault);
    free(text);
    if (result == RESULT_OK || series->point_count > 0)
        *ret = series;
    else
        ride_series_free(series);
    return result;
}

void ride_series_free(struct ride_series *series)
{
    if (series == NULL)
        return;
    free(series->points);
    free(series);
}
