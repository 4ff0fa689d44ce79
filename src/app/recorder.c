#include "recorder.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "app/command.h"
#include "body/energy.h"
#include "ride/names.h"
#include "text/journal.h"

/* A step is written in less than 512 octets, its cue included. */
#define SETUP_MAX ((size_t)PLAN_STEPS_MAX * 512)

/* A copy with a gap would be no journal. */
static void give_up_copy(struct recorder *recorder)
{
    free(recorder->text);
    recorder->text = NULL;
    recorder->length = recorder->capacity = 0;
    recorder->has_no_copy = true;
}

static void copy(struct recorder *recorder, const char *text, size_t length)
{
    if (recorder->has_no_copy)
        return;
    if (recorder->length + length > recorder->capacity) {
        const size_t capacity = 2 * (recorder->length + length);
        char *larger = realloc(recorder->text, capacity);
        if (larger == NULL) {
            give_up_copy(recorder);
            return;
        }
        recorder->text = larger;
        recorder->capacity = capacity;
    }
    memcpy(recorder->text + recorder->length, text, length);
    recorder->length += length;
}

static void append(struct recorder *recorder, const char *text, size_t length)
{
    copy(recorder, text, length);
    if (recorder->store != NULL && store_append(recorder->store, text, length) != RESULT_OK)
        recorder->is_incomplete = true;
}

static void append_written(struct recorder *recorder, const struct text_writer *writer)
{
    if (writer->failed)
        recorder->is_incomplete = true;
    else
        append(recorder, writer->data, writer->length);
}

enum result recorder_begin(struct recorder *recorder, const struct ride_setup *setup,
                           const struct store_ride *about)
{
    char *text = malloc(SETUP_MAX);
    if (text == NULL)
        return RESULT_FULL;
    if (recorder->store != NULL) {
        struct store_ride ride = *about;
        ride.started_unix_s = (int64_t)time(NULL);
        ride.length_ms = plan_length_ms(&setup->plan);
        (void)snprintf(ride.title, sizeof ride.title, "%s", setup->plan.title);
        const enum result result = store_begin(recorder->store, &ride, &recorder->ride_id);
        if (result != RESULT_OK) {
            free(text);
            return result;
        }
    }
    struct text_writer writer = text_writer(text, SETUP_MAX);
    journal_put_setup(&writer, setup);
    append_written(recorder, &writer);
    free(text);
    return RESULT_OK;
}

void recorder_event(struct recorder *recorder, const struct event *event)
{
    char line[JOURNAL_LINE_MAX];
    struct text_writer writer = text_writer(line, sizeof line);

    journal_put_event(&writer, event);
    append_written(recorder, &writer);
}

void recorder_effects(struct recorder *recorder, const struct effects *effects)
{
    for (size_t i = 0; i < effects->count; i++) {
        char line[JOURNAL_LINE_MAX];
        struct text_writer writer = text_writer(line, sizeof line);

        journal_put_effect(&writer, &effects->list[i]);
        append_written(recorder, &writer);
    }
}

bool recorder_save(struct recorder *recorder)
{
    if (recorder->store == NULL)
        return false;
    const bool was_failing = recorder->is_failing;
    recorder->is_failing = store_commit(recorder->store) != RESULT_OK || recorder->is_incomplete;
    return recorder->is_failing != was_failing;
}

static uint32_t not_negative(int64_t value)
{
    return value > 0 ? (uint32_t)value : 0;
}

void summary_for_store(const struct summary *summary, struct store_summary *ret)
{
    const struct energy_range energy = energy_range((double)summary->work_j / 1000.0);

    *ret = (struct store_summary){
        .ending = summary->end == END_DONE      ? STORE_ENDING_DONE
                  : summary->end == END_CUT_OFF ? STORE_ENDING_CUT_OFF
                                                : STORE_ENDING_STOPPED,
        .duration_s = summary->duration_ms / 1000,
        .work_j = not_negative(summary->work_j),
        .average_power_w = not_negative(summary->average_power_w),
        .work_s = not_negative(summary->work_s),
        .work_power_w = not_negative(summary->work_power_w),
        .distance_m = not_negative(summary->distance_m),
        .calories_kcal = (uint32_t)(energy.mid_kcal + 0.5),
        .calories_low_kcal = (uint32_t)(energy.low_kcal + 0.5),
        .calories_high_kcal = (uint32_t)(energy.high_kcal + 0.5),
        .has_in_range = summary->work_s > 0,
        .average_heart_bpm = not_negative(summary->average_heart_bpm),
        .max_heart_bpm = not_negative(summary->max_heart_bpm),
        .heart_fall_bpm = summary->heart_fall_bpm,
        .best_5s_w = not_negative(summary->best_5s_w),
        .best_30s_w = not_negative(summary->best_30s_w),
        .best_60s_w = not_negative(summary->best_60s_w),
        .best_180s_w = not_negative(summary->best_180s_w),
        .sensor_pct = not_negative(summary->sensor_pct),
        .difference_tenths = summary->difference_tenths,
        .difference_error_tenths = not_negative(summary->difference_error_tenths),
    };
    if (summary->work_s > 0)
        ret->in_range_pct =
            (uint32_t)((200 * summary->in_range_s + summary->work_s) / (2 * summary->work_s));
    (void)snprintf(ret->reason, sizeof ret->reason, "%s",
                   summary->end == END_CUT_OFF ? name_of(&cut_off_names, summary->cut_off)
                                               : name_of(&reason_names, summary->reason));
}

/* The last resort: the journal in a file of its own, which `afterset replay` reads. */
static void save_elsewhere(const struct recorder *recorder)
{
    const char *folder = getenv("TMPDIR");
    char path[512];
    size_t written = 0;

    (void)snprintf(path, sizeof path, "%s/afterset-ride-%lld.journal",
                   folder != NULL && folder[0] == '/' ? folder : "/tmp", (long long)time(NULL));
    const int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    while (fd >= 0 && written < recorder->length) {
        const ssize_t part = write(fd, recorder->text + written, recorder->length - written);
        if (part <= 0 && errno != EINTR)
            break;
        written += part > 0 ? (size_t)part : 0;
    }
    const bool saved =
        fd >= 0 && !recorder->has_no_copy && written == recorder->length && fsync(fd) == 0;
    if (fd >= 0)
        (void)close(fd);
    if (saved)
        complain("the ride could not be saved: %s; its journal is in %s ('afterset replay' reads "
                 "it)",
                 store_problem(recorder->store), path);
    else
        complain("the ride could not be saved: %s; nor could its journal be written to %s",
                 store_problem(recorder->store), path);
    if (!saved && fd >= 0)
        (void)unlink(path);
}

enum result recorder_end(struct recorder *recorder, const struct summary *summary)
{
    struct store_summary kept;

    if (recorder->store == NULL || recorder->ride_id == 0)
        return RESULT_OK;
    summary_for_store(summary, &kept);
    const enum result result = store_end(recorder->store, recorder->ride_id, STORE_FINISHED, &kept);
    if (result != RESULT_OK)
        save_elsewhere(recorder);
    return result;
}

void recorder_free(struct recorder *recorder)
{
    free(recorder->text);
    *recorder = (struct recorder){0};
}
