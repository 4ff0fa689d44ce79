#include "app/ride_record.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "app/command.h"
#include "json_line.h"

enum result ride_record_open(struct store **ret)
{
    char path[4096], why[4096 + 160];
    if (!data_path(STORE_FILE_NAME, path, sizeof path))
        return RESULT_IO;
    enum result result = store_open(path, STORE_EXISTING, why, sizeof why, ret);
    if (result != RESULT_OK && result != RESULT_NOT_FOUND)
        complain("%s", why);
    return result;
}

const char *ride_record_end(const struct store_ride *ride)
{
    if (ride->state == STORE_RIDING)
        return "unfinished";
    if (ride->state == STORE_RECOVERED)
        return "recovered";
    if (ride->state == STORE_BY_HAND)
        return "written by hand";
    switch (ride->summary.ending) {
    case STORE_ENDING_DONE: return "done";
    case STORE_ENDING_STOPPED: return "stopped";
    case STORE_ENDING_CUT_OFF: return "cut off";
    case STORE_ENDING_UNKNOWN: break;
    }
    return "unknown";
}

/* False for a time beyond the calendar, which only a damaged file has. */
static bool local_time(const struct store_ride *ride, struct tm *ret)
{
    time_t at = (time_t)ride->started_unix_s;
    return localtime_r(&at, ret) != NULL && ret->tm_year < 9999 - 1900;
}

void ride_record_started(const struct store_ride *ride, char *ret, size_t size)
{
    struct tm parts;
    if (!local_time(ride, &parts) || strftime(ret, size, "%Y-%m-%d %H:%M", &parts) == 0)
        snprintf(ret, size, "?");
}

void ride_record_day(const struct store_ride *ride, char *ret, size_t size)
{
    struct tm parts;
    if (!local_time(ride, &parts) || strftime(ret, size, "%a %e %b", &parts) == 0)
        snprintf(ret, size, "?");
}

static void set_known(json_t *object, const char *key, bool known, uint32_t value)
{
    json_object_set_new(object, key, known ? json_integer(value) : json_null());
}

/* Keys are the columns of the store. */
static void set_summary(json_t *object, const struct store_summary *summary)
{
    const char *reason = summary->reason;
    json_object_set_new(object, "reason", reason[0] != '\0' ? json_string(reason) : json_null());
    set_known(object, "duration_s", true, summary->duration_s);
    set_known(object, "work_j", true, summary->work_j);
    set_known(object, "average_power_w", true, summary->average_power_w);
    set_known(object, "work_power_w", summary->work_s > 0, summary->work_power_w);
    set_known(object, "distance_m", true, summary->distance_m);
    set_known(object, "calories_kcal", summary->calories_kcal > 0, summary->calories_kcal);
    set_known(object, "calories_low_kcal", summary->calories_low_kcal > 0,
              summary->calories_low_kcal);
    set_known(object, "calories_high_kcal", summary->calories_high_kcal > 0,
              summary->calories_high_kcal);
    set_known(object, "in_range_pct", summary->has_in_range, summary->in_range_pct);
    set_known(object, "average_heart_bpm", summary->average_heart_bpm > 0,
              summary->average_heart_bpm);
    set_known(object, "max_heart_bpm", summary->max_heart_bpm > 0, summary->max_heart_bpm);
    json_object_set_new(object, "heart_fall_bpm",
                        summary->heart_fall_bpm != 0 ? json_integer(summary->heart_fall_bpm)
                                                     : json_null());
    set_known(object, "best_5s_w", summary->best_5s_w > 0, summary->best_5s_w);
    set_known(object, "best_30s_w", summary->best_30s_w > 0, summary->best_30s_w);
    set_known(object, "best_60s_w", summary->best_60s_w > 0, summary->best_60s_w);
    set_known(object, "best_180s_w", summary->best_180s_w > 0, summary->best_180s_w);
    set_known(object, "sensor_pct", true, summary->sensor_pct);
    const bool has_difference = summary->difference_error_tenths > 0;
    json_object_set_new(object, "difference_tenths",
                        has_difference ? json_integer(summary->difference_tenths) : json_null());
    set_known(object, "difference_error_tenths", has_difference, summary->difference_error_tenths);
}

/* What the rider said of it, before and after. */
static void set_said(json_t *object, const struct store_ride *ride)
{
    const struct store_rating *rating = &ride->rating;
    json_object_set_new(object, "after", json_string(ride->is_fresh ? "fresh" : "legs"));
    json_object_set_new(object, "power_sensor",
                        ride->power_sensor[0] != '\0' ? json_string(ride->power_sensor)
                                                      : json_null());
    set_known(object, "length_s", ride->length_ms > 0, ride->length_ms / 1000);
    set_known(object, "feel", ride->feel > 0, ride->feel);
    set_known(object, "effort", rating->has_effort, rating->effort);
    json_object_set_new(object, "note",
                        rating->note[0] != '\0' ? json_string(rating->note) : json_null());
}

bool ride_record_print_json(const struct store_ride *ride, const char *verdict)
{
    static const char *const states[] = {
        [STORE_RIDING] = "riding",
        [STORE_FINISHED] = "finished",
        [STORE_RECOVERED] = "recovered",
        [STORE_BY_HAND] = "by_hand",
    };
    static const char *const endings[] = {[STORE_ENDING_DONE] = "done",
                                          [STORE_ENDING_STOPPED] = "stopped",
                                          [STORE_ENDING_CUT_OFF] = "cut_off"};
    const char *ending = endings[ride->summary.ending];
    char started[40];
    struct tm parts;
    bool dated = local_time(ride, &parts) &&
                 strftime(started, sizeof started, "%Y-%m-%dT%H:%M:%S%z", &parts) > 0;
    json_t *object = json_pack("{sI ss? sI ss ss ss ss?}", "ride_id", (json_int_t)ride->id,
                               "started", dated ? started : NULL, "started_unix_s",
                               (json_int_t)ride->started_unix_s, "profile", ride->title, "bike",
                               ride->bike, "state", states[ride->state], "end", ending);
    if (ride->state != STORE_RIDING)
        set_summary(object, &ride->summary);
    set_said(object, ride);
    json_object_set_new(object, "verdict", verdict != NULL ? json_string(verdict) : json_null());
    return json_line_print(object);
}

void ride_record_complain(const char *verb, const struct store *store, enum result result)
{
    const char *why = result == RESULT_FULL ? "no memory left" : store_problem(store);
    complain("%s: cannot read what is remembered: %s", verb, why);
}

bool ride_record_parse_number(const char *text, int64_t *ret)
{
    char *end = NULL;
    if (text[0] < '0' || text[0] > '9')
        return false;
    errno = 0;
    long long number = strtoll(text, &end, 10);
    if (errno != 0 || *end != '\0' || number < 1)
        return false;
    *ret = number;
    return true;
}

bool ride_record_flush(void)
{
    if (fflush(stdout) == 0 && ferror(stdout) == 0)
        return true;
    complain("cannot write the output: %s", strerror(errno));
    return false;
}
