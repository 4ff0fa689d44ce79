#include "ride_json.h"

#include <stddef.h>
#include <string.h>

#include "text/utf8.h"

/* ---- the table ---- */

enum kind {
    KIND_NUMBER,   /* an uint32_t */
    KIND_KNOWN,    /* likewise; 0 is not known, and null, or not there in an older file */
    KIND_OLD_TEXT, /* likewise, empty where an older file has none */
    KIND_TEXT      /* of at most `most` octets */
};

struct field {
    const char *key;
    size_t offset;
    enum kind kind;
    uint32_t most;
};

#define POWER_MOST_W INT16_MAX /* what every sum over power is made for */
#define HEART_MOST   240
#define RIDE(member, kind, most)                                 \
    {                                                            \
#member, offsetof(struct store_ride, member), kind, most \
    }
#define CAME_TO(member, kind, most)                                      \
    {                                                                    \
#member, offsetof(struct store_ride, summary.member), kind, most \
    }

/* Most of what there may be: far above any ride, and below what sums could not hold. */
static const struct field fields[] = {
    RIDE(title, KIND_TEXT, PLAN_TITLE_MAX),
    RIDE(bike, KIND_TEXT, STORE_BIKE_MAX),
    RIDE(power_sensor, KIND_OLD_TEXT, STORE_BIKE_MAX),
    RIDE(profile, KIND_TEXT, STORE_PROFILE_MAX),
    RIDE(length_ms, KIND_KNOWN, 1000000000),
    RIDE(feel, KIND_KNOWN, STORE_FEEL_MAX),
    RIDE(proposed, KIND_KNOWN, POWER_MOST_W),
    RIDE(proposed_length_ms, KIND_KNOWN, 1000000000),
    CAME_TO(reason, KIND_TEXT, STORE_REASON_MAX),
    CAME_TO(duration_s, KIND_NUMBER, 1000000),
    CAME_TO(work_j, KIND_NUMBER, 1000000000),
    CAME_TO(average_power_w, KIND_NUMBER, POWER_MOST_W),
    CAME_TO(work_s, KIND_NUMBER, 1000000),
    CAME_TO(work_power_w, KIND_KNOWN, POWER_MOST_W),
    CAME_TO(distance_m, KIND_NUMBER, 1000000000),
    CAME_TO(calories_kcal, KIND_KNOWN, 1000000),
    CAME_TO(calories_low_kcal, KIND_KNOWN, 1000000),
    CAME_TO(calories_high_kcal, KIND_KNOWN, 1000000),
    CAME_TO(average_heart_bpm, KIND_KNOWN, HEART_MOST),
    CAME_TO(max_heart_bpm, KIND_KNOWN, HEART_MOST),
    CAME_TO(best_5s_w, KIND_KNOWN, POWER_MOST_W),
    CAME_TO(best_30s_w, KIND_KNOWN, POWER_MOST_W),
    CAME_TO(best_60s_w, KIND_KNOWN, POWER_MOST_W),
    CAME_TO(best_180s_w, KIND_KNOWN, POWER_MOST_W),
    CAME_TO(sensor_pct, KIND_KNOWN, 100),
    CAME_TO(difference_error_tenths, KIND_KNOWN, STORE_DIFFERENCE_MAX),
    {"note", offsetof(struct store_ride, rating.note), KIND_TEXT, STORE_NOTE_MAX},
};
#define FIELD_COUNT (sizeof fields / sizeof fields[0])

static const char *const states[] = {[STORE_RIDING] = NULL,
                                     [STORE_FINISHED] = "finished",
                                     [STORE_RECOVERED] = "recovered",
                                     [STORE_BY_HAND] = "by_hand"};
static const char *const endings[] = {[STORE_ENDING_UNKNOWN] = NULL,
                                      [STORE_ENDING_DONE] = "done",
                                      [STORE_ENDING_STOPPED] = "stopped",
                                      [STORE_ENDING_CUT_OFF] = "cut_off"};

/* ---- writing ---- */

static json_t *field_json(const struct field *field, const void *base)
{
    const char *at = (const char *)base + field->offset;
    uint32_t number;

    if (field->kind >= KIND_OLD_TEXT)
        return json_string(at);
    memcpy(&number, at, sizeof number);
    return field->kind == KIND_KNOWN && number == 0 ? json_null() : json_integer(number);
}

static json_t *known(bool is_known, int64_t value)
{
    return is_known ? json_integer(value) : json_null();
}

json_t *ride_json(const struct store_ride *ride)
{
    const struct store_summary *summary = &ride->summary;
    json_t *object = json_pack("{sI ss ss? ss}", "started_unix_s", (json_int_t)ride->started_unix_s,
                               "state", states[ride->state], "end", endings[summary->ending],
                               "after", ride->is_fresh ? "fresh" : "legs");
    int failed = 0;

    for (size_t i = 0; i < FIELD_COUNT; i++)
        failed |= json_object_set_new(object, fields[i].key, field_json(&fields[i], ride));
    failed |= json_object_set_new(object, "in_range_pct",
                                  known(summary->has_in_range, summary->in_range_pct));
    failed |= json_object_set_new(object, "heart_fall_bpm",
                                  known(summary->heart_fall_bpm != 0, summary->heart_fall_bpm));
    failed |= json_object_set_new(
        object, "difference_tenths",
        known(summary->difference_error_tenths > 0, summary->difference_tenths));
    failed |=
        json_object_set_new(object, "effort", known(ride->rating.has_effort, ride->rating.effort));
    if (failed == 0)
        return object;
    json_decref(object);
    return NULL;
}

/* ---- reading ---- */

struct reader {
    const json_t *object;
    struct ride_json_fault *fault;
    bool failed;
};

static void fail(struct reader *reader, const char *key, const char *what)
{
    if (!reader->failed)
        *reader->fault = (struct ride_json_fault){key, what};
    reader->failed = true;
}

/* NULL where it is missing, which is a fault. */
static const json_t *get(struct reader *reader, const char *key)
{
    const json_t *value = json_object_get(reader->object, key);
    if (value == NULL)
        fail(reader, key, "is missing");
    return value;
}

static int64_t take_number(struct reader *reader, const char *key, int64_t least, int64_t most)
{
    const json_t *value = get(reader, key);
    if (value == NULL)
        return 0;
    const int64_t number = json_integer_value(value);
    if (!json_is_integer(value))
        fail(reader, key, "is not a whole number");
    else if (number < least || number > most)
        fail(reader, key, "is out of its range");
    else
        return number;
    return 0;
}

static int64_t take_known(struct reader *reader, const char *key, int64_t least, int64_t most,
                          bool *ret_known)
{
    const json_t *value = json_object_get(reader->object, key);

    *ret_known = value != NULL && !json_is_null(value);
    return *ret_known ? take_number(reader, key, least, most) : 0;
}

static bool is_clean(const char *text, size_t length)
{
    for (size_t at = 0, taken; at < length; at += taken) {
        taken = text[at] == '\t' ? 0 : utf8_character(text + at, length - at);
        if (taken == 0)
            return false;
    }
    return true;
}

static void take_text(struct reader *reader, const struct field *field, char *ret)
{
    const json_t *value = field->kind == KIND_OLD_TEXT ? json_object_get(reader->object, field->key)
                                                       : get(reader, field->key);
    if (value == NULL)
        return;
    const char *text = json_string_value(value);
    const size_t length = json_string_length(value);
    if (text == NULL)
        fail(reader, field->key, "is not a text");
    else if (length > field->most)
        fail(reader, field->key, "is too long");
    else if (!is_clean(text, length))
        fail(reader, field->key, "holds what is no text");
    else
        memcpy(ret, text, length + 1);
}

static void take_field(struct reader *reader, const struct field *field, struct store_ride *ret)
{
    char *at = (char *)ret + field->offset;
    bool is_known = true;
    uint32_t number;

    if (field->kind >= KIND_OLD_TEXT) {
        take_text(reader, field, at);
        return;
    }
    if (field->kind == KIND_KNOWN)
        number = (uint32_t)take_known(reader, field->key, 1, field->most, &is_known);
    else
        number = (uint32_t)take_number(reader, field->key, 0, field->most);
    memcpy(at, &number, sizeof number);
}

/* The index of the word in the list; null is where the list has none. */
static size_t take_word(struct reader *reader, const char *key, const char *const *words,
                        size_t count)
{
    const json_t *value = get(reader, key);
    const char *word = json_string_value(value);

    for (size_t i = 0; value != NULL && i < count; i++)
        if (word != NULL ? words[i] != NULL && strcmp(words[i], word) == 0
                         : words[i] == NULL && json_is_null(value))
            return i;
    fail(reader, key, "is none of the words that stand there");
    return 0;
}

static void take_rest(struct reader *reader, struct store_ride *ret)
{
    static const char *const after[] = {"legs", "fresh"};
    struct store_summary *summary = &ret->summary;
    bool is_known;

    ret->started_unix_s = take_number(reader, "started_unix_s", 0, INT64_C(253402300799));
    const size_t state = take_word(reader, "state", states, sizeof states / sizeof states[0]);
    const size_t ending = take_word(reader, "end", endings, sizeof endings / sizeof endings[0]);
    if (state == STORE_RIDING)
        fail(reader, "state", "is none of the words that stand there");
    ret->state = (enum store_state)state;
    summary->ending = (enum store_ending)ending;
    ret->is_fresh = take_word(reader, "after", after, 2) == 1;
    summary->in_range_pct =
        (uint32_t)take_known(reader, "in_range_pct", 0, 100, &summary->has_in_range);
    summary->heart_fall_bpm =
        (int32_t)take_known(reader, "heart_fall_bpm", -HEART_MOST, HEART_MOST, &is_known);
    summary->difference_tenths = (int32_t)take_known(
        reader, "difference_tenths", -STORE_DIFFERENCE_MAX, STORE_DIFFERENCE_MAX, &is_known);
    ret->rating.effort =
        (uint32_t)take_known(reader, "effort", 0, STORE_EFFORT_MAX, &ret->rating.has_effort);
}

enum result ride_json_read(const json_t *object, struct store_ride *ret,
                           struct ride_json_fault *ret_fault)
{
    struct reader reader = {.object = object, .fault = ret_fault};
    struct store_ride ride = {0};

    if (!json_is_object(object))
        fail(&reader, "", "is no object");
    for (size_t i = 0; i < FIELD_COUNT && !reader.failed; i++)
        take_field(&reader, &fields[i], &ride);
    if (!reader.failed)
        take_rest(&reader, &ride);
    if (reader.failed)
        return RESULT_INVALID;
    *ret = ride;
    return RESULT_OK;
}
