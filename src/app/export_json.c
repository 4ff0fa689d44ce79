#include <jansson.h>
#include <string.h>

#include "export.h"
#include "ride/names.h"
#include "ride_json.h"

/* ---- the plan ---- */

static json_t *range_json(const struct target_range *range)
{
    return range->set ? json_pack("[ii]", range->low, range->high) : json_null();
}

static json_t *step_json(const struct plan_step *step)
{
    const struct step_targets *targets = &step->targets;

    return json_pack(
        "{ss sI so so so so si si}", "kind", name_of(&step_names, step->kind), "duration_ms",
        (json_int_t)step->duration_ms, "power_w", range_json(&targets->power_w), "cadence_rpm",
        range_json(&targets->cadence_rpm), "heart_bpm", range_json(&targets->heart_bpm),
        "level_tenths", range_json(&targets->level_tenths), "round", step->round, "rounds",
        step->rounds);
}

static json_t *plan_json(const struct plan *plan)
{
    json_t *steps = json_array();
    for (size_t i = 0; i < plan->step_count; i++)
        (void)json_array_append_new(steps, step_json(&plan->steps[i]));
    return steps;
}

/* ---- the seconds, a column each ---- */

static json_t *known(bool is_known, int64_t value)
{
    return is_known ? json_integer(value) : json_null();
}

static json_t *second_of(const struct ride_series_point *point)
{
    return json_integer(point->second);
}

static json_t *block_ms_of(const struct ride_series_point *point)
{
    return json_integer(point->block_ms);
}

static json_t *phase_of(const struct ride_series_point *point)
{
    return json_string(name_of(&phase_names, point->phase));
}

static json_t *step_of(const struct ride_series_point *point)
{
    return known(point->phase != PHASE_EASY, (int64_t)point->step);
}

static json_t *power_of(const struct ride_series_point *point)
{
    return known((point->now.has & HAS_POWER) != 0, point->now.power_w);
}

static json_t *cadence_of(const struct ride_series_point *point)
{
    return known((point->now.has & HAS_CADENCE) != 0, point->now.cadence_rpm);
}

static json_t *heart_of(const struct ride_series_point *point)
{
    return known((point->now.has & HAS_HEART) != 0, point->now.heart_bpm);
}

static json_t *distance_of(const struct ride_series_point *point)
{
    return known((point->now.has & HAS_DISTANCE) != 0, point->now.distance_m);
}

static json_t *work_of(const struct ride_series_point *point)
{
    return json_integer(point->work_j);
}

static json_t *load_of(const struct ride_series_point *point)
{
    return known(point->load.kind == LOAD_POWER, point->load.value);
}

static json_t *level_of(const struct ride_series_point *point)
{
    return known(point->load.kind == LOAD_LEVEL, point->load.value);
}

static const struct column {
    const char *key;
    json_t *(*value)(const struct ride_series_point *point);
} columns[] = {
    {"second", second_of},   {"block_ms", block_ms_of},       {"phase", phase_of},
    {"step", step_of},       {"power_w", power_of},           {"cadence_rpm", cadence_of},
    {"heart_bpm", heart_of}, {"distance_m", distance_of},     {"work_j", work_of},
    {"load_w", load_of},     {"load_level_tenths", level_of},
};

static json_t *series_json(const struct ride_series *series)
{
    json_t *object = json_object();

    for (size_t c = 0; c < sizeof columns / sizeof columns[0]; c++) {
        json_t *array = json_array();
        for (size_t i = 0; i < series->point_count; i++)
            (void)json_array_append_new(array, columns[c].value(&series->points[i]));
        (void)json_object_set_new(object, columns[c].key, array);
    }
    return object;
}

/* ---- all of it ---- */

enum result export_json(const struct export_ride *from, struct export_file *ret)
{
    const struct ride_series *series = from->series;
    json_t *ride = ride_json(&from->ride);
    json_t *journal =
        from->journal != NULL ? json_stringn(from->journal, from->journal_length) : json_null();

    if (ride == NULL || journal == NULL) {
        json_decref(ride);
        json_decref(journal);
        return RESULT_INVALID;
    }
    json_t *root = json_pack(
        "{ss si so so so so}", "format", RIDE_JSON_FORMAT, "version", RIDE_JSON_VERSION, "ride",
        ride, "plan", series != NULL ? plan_json(&series->setup.plan) : json_null(), "series",
        series != NULL ? series_json(series) : json_null(), "journal", journal);
    char *text = root != NULL ? json_dumps(root, JSON_COMPACT) : NULL;
    json_decref(root);
    if (text == NULL)
        return RESULT_FULL;
    *ret = (struct export_file){text, strlen(text)};
    return RESULT_OK;
}
