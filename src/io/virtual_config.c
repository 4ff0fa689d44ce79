#include "io/virtual_config.h"

#include <string.h>

/* How the value of a key is written, and what is at its offset:
 *   name     the rest of the line      char[VIRTUAL_NAME_MAX + 1]
 *   number   "0.476 kgm2"              double, times `scale`
 *   count    "247 octets"              uint32_t
 *   time     "1.5 s" or "1500 ms"      uint32_t, in ms
 *   rate     "4 Hz"                    uint32_t, the interval in ms
 *   flag     "yes" or "no"             bool
 *   range    "0..600 W step 1"         struct ftms_range, in units of the last decimal
 *   control  "power", "level", "none"  no offset */
enum kind {
    KIND_NAME,
    KIND_NUMBER,
    KIND_COUNT,
    KIND_TIME,
    KIND_RATE,
    KIND_FLAG,
    KIND_RANGE,
    KIND_CONTROL
};

struct key {
    const char *name;
    size_t offset;
    const char *unit; /* NULL: a number without one */
    double low, high; /* as written */
    double scale;
    const char *expected; /* for the fault message */
    enum kind kind;
    unsigned decimals; /* KIND_RANGE */
};

#define KEYS_MAX 64u /* one bit each in `seen` */

struct source {
    const struct key *keys;
    size_t key_count;
    struct text_lines lines;
    const char *what; /* for the fault message */
    struct text_fault *fault;
    uint64_t seen;
};

#define MACHINE(member) offsetof(struct virtual_machine_config, member)
#define RIDER(member)   offsetof(struct virtual_rider_config, member)

#define NAME(key, at)                                                                            \
    {                                                                                            \
        .name = (key), .kind = KIND_NAME, .offset = (at), .expected = "a name of 1 to 40 octets" \
    }
#define FLAG(key, at)                                                             \
    {                                                                             \
        .name = (key), .kind = KIND_FLAG, .offset = (at), .expected = "yes or no" \
    }
#define CONTROL(key)                                                                              \
    {                                                                                             \
        .name = (key), .kind = KIND_CONTROL, .expected = "power, level, power and level, or none" \
    }
#define TIME(key, at)                                                    \
    {                                                                    \
        .name = (key), .kind = KIND_TIME, .offset = (at), .high = 86400, \
        .expected = "a time from 0 to 86400 s"                           \
    }
#define WITHIN(key, at, kind_of, in, least, most, by)                                   \
    {                                                                                   \
        .name = (key), .kind = (kind_of), .offset = (at), .unit = (in), .low = (least), \
        .high = (most), .scale = (by), .expected = #least " to " #most " " in           \
    }
#define NUMBER(key, at, in, least, most) WITHIN(key, at, KIND_NUMBER, in, least, most, 1)
#define SHARE(key, at, most)             WITHIN(key, at, KIND_NUMBER, "%", 0, most, 0.01)
#define COUNT(key, at, in, least, most)  WITHIN(key, at, KIND_COUNT, in, least, most, 1)
#define RATE(key, at, in, least, most)   WITHIN(key, at, KIND_RATE, in, least, most, 1)
#define RANGE(key, at, in, places, most, wanted)                                         \
    {                                                                                    \
        .name = (key), .kind = KIND_RANGE, .offset = (at), .unit = (in), .high = (most), \
        .decimals = (places), .expected = (wanted)                                       \
    }

static const struct key machine_keys[] = {
    NAME("name", MACHINE(name)),
    CONTROL("control"),
    FLAG("features", MACHINE(has_feature)),
    FLAG("training", MACHINE(has_training)),
    FLAG("speed", MACHINE(sends_speed)),
    FLAG("heart", MACHINE(sends_heart)),
    FLAG("power", MACHINE(sends_power)),
    FLAG("strap", MACHINE(has_strap)),
    RANGE("power-range", MACHINE(power_w), "W", 0, 4000, "a range within 0..4000 W"),
    RANGE("level-range", MACHINE(level_tenths), NULL, 1, 1000, "a range within 0..1000"),
    COUNT("level-octets", MACHINE(level_octets), "octets", 1, 2),
    COUNT("mtu", MACHINE(mtu), "octets", 23, 517),
    RATE("data-rate", MACHINE(data_interval_ms), "Hz", 0.2, 20),
    SHARE("knob", MACHINE(knob), 100),
    COUNT("knob-numbers", MACHINE(knob_numbers), "numbers", 0, 100),
    SHARE("knob-then", MACHINE(knob_then), 100),
    TIME("knob-then-at", MACHINE(knob_then_at_ms)),
    NUMBER("metres-per-turn", MACHINE(metres_per_turn), "m", 0.5, 20),
    SHARE("power-noise", MACHINE(power_noise), 30),
    NUMBER("power-noise-memory", MACHINE(power_noise_memory_s), "s", 0.01, 60),
    NUMBER("flywheel", MACHINE(brake.inertia_kgm2), "kgm2", 0.005, 20),
    NUMBER("gear", MACHINE(brake.gear), "turns", 0.5, 20),
    NUMBER("brake-torque", MACHINE(brake.peak_torque_nm), "Nm", 1, 300),
    NUMBER("brake-peak", MACHINE(brake.peak_rpm), "rpm", 20, 1000),
    NUMBER("brake-lag", MACHINE(brake.lag_s), "s", 0, 30),
    NUMBER("friction", MACHINE(brake.friction_nm), "Nm", 0, 20),
    FLAG("split-records", MACHINE(splits_records)),
    FLAG("refuse-commands", MACHINE(refuses_commands)),
    FLAG("never-answer", MACHINE(never_answers)),
    FLAG("needs-start", MACHINE(needs_start)),
    FLAG("refuse-start", MACHINE(refuses_start)),
    FLAG("ignore-loads", MACHINE(ignores_loads)),
    FLAG("short-answers", MACHINE(short_answers)),
    FLAG("double-answers", MACHINE(double_answers)),
    FLAG("command-only", MACHINE(command_only)),
    FLAG("other-services", MACHINE(other_services)),
    FLAG("hide-status", MACHINE(hides_status)),
    FLAG("zero-ranges", MACHINE(zero_ranges)),
    FLAG("swapped-ranges", MACHINE(swapped_ranges)),
    FLAG("swallow-subscription", MACHINE(swallows_subscription)),
    SHARE("cadence-told", MACHINE(cadence_told), 200),
    SHARE("power-told", MACHINE(power_told), 200),
    COUNT("moody-every", MACHINE(moody_every), "writes", 0, 1000),
    COUNT("cut-at", MACHINE(cut_at), "octets", 0, 40),
    SHARE("garbage", MACHINE(garbage_share), 100),
    TIME("answer-delay", MACHINE(answer_delay_ms)),
    TIME("silent-after", MACHINE(silent_after_ms)),
    TIME("silent-for", MACHINE(silent_for_ms)),
    TIME("safety-key-at", MACHINE(safety_key_at_ms)),
    TIME("stop-at", MACHINE(stopped_at_ms)),
    TIME("start-at", MACHINE(started_at_ms)),
    TIME("control-lost-at", MACHINE(control_lost_at_ms)),
    TIME("strap-lost-at", MACHINE(strap_lost_at_ms)),
    TIME("drop-link-at", MACHINE(link_dropped_at_ms)),
};

static const struct key rider_keys[] = {
    NAME("name", RIDER(name)),
    NUMBER("critical-power", RIDER(critical_power_w), "W", 20, 600),
    NUMBER("w-prime", RIDER(w_prime_j), "J", 100, 60000),
    NUMBER("peak-power", RIDER(peak_power_w), "W", 50, 3000),
    NUMBER("peak-cadence", RIDER(peak_cadence_rpm), "rpm", 40, 200),
    NUMBER("cadence", RIDER(cadence_rpm), "rpm", 20, 180),
    NUMBER("cadence-wander", RIDER(cadence_wander_rpm), "rpm", 0, 10),
    NUMBER("effort-rate", RIDER(effort_rate_nm_s), "Nm/s", 1, 1000),
    SHARE("stroke-ripple", RIDER(stroke_ripple), 100),
    TIME("start-at", RIDER(starts_at_ms)),
    TIME("rest-at", RIDER(rests_at_ms)),
    TIME("rest-for", RIDER(rests_for_ms)),
    TIME("hand-after", RIDER(hand_after_ms)),
    NUMBER("heart-rest", RIDER(heart_rest_bpm), "bpm", 30, 120),
    NUMBER("heart-max", RIDER(heart_max_bpm), "bpm", 80, 240),
    SHARE("heart-at-critical", RIDER(heart_at_critical), 200),
    NUMBER("heart-rise", RIDER(heart_rise_s), "s", 1, 600),
    NUMBER("heart-fall", RIDER(heart_fall_s), "s", 1, 600),
    NUMBER("heart-noise", RIDER(heart_noise_bpm), "bpm", 0, 20),
};

_Static_assert(sizeof(machine_keys) / sizeof(machine_keys[0]) <= KEYS_MAX, "a bit for each key");

static enum result fault(struct source *source, struct text_word word, const char *expected)
{
    text_fault_word(source->fault, word, expected);
    return RESULT_INVALID;
}

/* A decimal number within the key's limits; three decimals, read as thousandths, so that the double
 * is the nearest one to what was written. */
static enum result take_decimal(struct source *source, const struct key *key, double *ret)
{
    struct text_word word = text_lines_word(&source->lines);
    struct text_word left = word;
    uint32_t thousandths;
    if (!text_take_number(&left, 3, &thousandths) || left.length > 0)
        return fault(source, word, key->expected);
    double value = thousandths / 1000.0;
    if (value < key->low || value > key->high)
        return fault(source, word, key->expected);
    *ret = value;
    return RESULT_OK;
}

static enum result take_unit(struct source *source, const char *unit)
{
    if (unit == NULL)
        return RESULT_OK;
    struct text_word word = text_lines_word(&source->lines);
    return text_word_is(word, unit) ? RESULT_OK : fault(source, word, unit);
}

static enum result read_name(struct source *source, const struct key *key, char *field)
{
    struct text_word word = text_lines_rest(&source->lines);
    if (word.length == 0 || word.length > VIRTUAL_NAME_MAX)
        return fault(source, word, key->expected);
    memset(field, 0, VIRTUAL_NAME_MAX + 1);
    memcpy(field, word.text, word.length);
    return RESULT_OK;
}

static enum result read_number(struct source *source, const struct key *key, char *field)
{
    double value = 0;
    enum result result = take_decimal(source, key, &value);
    if (result == RESULT_OK)
        result = take_unit(source, key->unit);
    if (result != RESULT_OK)
        return result;
    value *= key->scale;
    memcpy(field, &value, sizeof(value));
    return RESULT_OK;
}

static enum result read_count(struct source *source, const struct key *key, char *field)
{
    struct text_word word = text_lines_word(&source->lines);
    struct text_word left = word;
    uint32_t count = 0;
    if (!text_take_number(&left, 0, &count) || left.length > 0 || count < key->low ||
        count > key->high)
        return fault(source, word, key->expected);
    memcpy(field, &count, sizeof(count));
    return take_unit(source, key->unit);
}

static enum result read_time(struct source *source, const struct key *key, char *field)
{
    struct text_word number = text_lines_word(&source->lines);
    struct text_word unit = text_lines_word(&source->lines);
    struct text_word left = number;
    bool in_seconds = text_word_is(unit, "s");
    uint32_t time_ms = 0;
    if (!text_take_number(&left, in_seconds ? 3 : 0, &time_ms) || left.length > 0 ||
        time_ms > key->high * 1000.0)
        return fault(source, number, key->expected);
    if (!in_seconds && !text_word_is(unit, "ms"))
        return fault(source, unit, "s or ms");
    memcpy(field, &time_ms, sizeof(time_ms));
    return RESULT_OK;
}

static enum result read_rate(struct source *source, const struct key *key, char *field)
{
    double rate_hz = 0;
    enum result result = take_decimal(source, key, &rate_hz);
    if (result == RESULT_OK)
        result = take_unit(source, key->unit);
    if (result != RESULT_OK)
        return result;
    uint32_t interval_ms = (uint32_t)(1000.0 / rate_hz + 0.5);
    memcpy(field, &interval_ms, sizeof(interval_ms));
    return RESULT_OK;
}

static enum result read_flag(struct source *source, const struct key *key, char *field)
{
    struct text_word word = text_lines_word(&source->lines);
    bool flag = text_word_is(word, "yes");
    if (!flag && !text_word_is(word, "no"))
        return fault(source, word, key->expected);
    memcpy(field, &flag, sizeof(flag));
    return RESULT_OK;
}

static enum result read_range(struct source *source, const struct key *key, char *field)
{
    struct text_word word = text_lines_word(&source->lines);
    struct text_word left = word;
    uint32_t low = 0, high = 0, step = 0;
    double tenfold = key->decimals > 0 ? 10 : 1;
    if (!text_take_range(&left, key->decimals, &low, &high) || left.length > 0 || low >= high ||
        high > key->high * tenfold)
        return fault(source, word, key->expected);
    if (take_unit(source, key->unit) != RESULT_OK || take_unit(source, "step") != RESULT_OK)
        return RESULT_INVALID;
    word = left = text_lines_word(&source->lines);
    if (!text_take_number(&left, key->decimals, &step) || left.length > 0 || step == 0 ||
        step > high)
        return fault(source, word, "a step within the range");
    struct ftms_range range = {
        .minimum = (int32_t)low, .maximum = (int32_t)high, .increment = (int32_t)step};
    memcpy(field, &range, sizeof(range));
    return RESULT_OK;
}

/* Only machines have this key, so `config` is one. */
static enum result read_control(struct source *source, const struct key *key, char *config)
{
    struct text_word word = text_lines_word(&source->lines);
    bool power = text_word_is(word, "power"), level = text_word_is(word, "level");
    if (!power && !level && !text_word_is(word, "none"))
        return fault(source, word, key->expected);
    if (power || level) {
        word = text_lines_word(&source->lines);
        if (word.length > 0 && !text_word_is(word, power ? "level" : "power"))
            return fault(source, word, key->expected);
        power = power || word.length > 0;
        level = level || word.length > 0;
    }
    memcpy(config + MACHINE(takes_power), &power, sizeof(power));
    memcpy(config + MACHINE(takes_level), &level, sizeof(level));
    return RESULT_OK;
}

static enum result read_value(struct source *source, const struct key *key, char *config)
{
    char *field = config + key->offset;
    switch (key->kind) {
    case KIND_NAME: return read_name(source, key, field);
    case KIND_NUMBER: return read_number(source, key, field);
    case KIND_COUNT: return read_count(source, key, field);
    case KIND_TIME: return read_time(source, key, field);
    case KIND_RATE: return read_rate(source, key, field);
    case KIND_FLAG: return read_flag(source, key, field);
    case KIND_RANGE: return read_range(source, key, field);
    case KIND_CONTROL: return read_control(source, key, config);
    }
    return RESULT_INVALID;
}

static enum result read_line(struct source *source, char *config)
{
    struct text_word word = text_lines_word(&source->lines);
    size_t i = 0;
    while (i < source->key_count && !text_word_is(word, source->keys[i].name))
        i++;
    if (i == source->key_count)
        return fault(source, word, source->what);
    if ((source->seen >> i & 1u) != 0)
        return fault(source, word, "each key once");
    source->seen |= UINT64_C(1) << i;
    enum result result = read_value(source, &source->keys[i], config);
    if (result != RESULT_OK)
        return result;
    word = text_lines_word(&source->lines);
    return word.length == 0 ? RESULT_OK : fault(source, word, "the end of the line");
}

static enum result read_lines(struct source *source, const char *text, size_t length, char *config)
{
    enum result result = text_lines_open(text, length, &source->lines, source->fault);
    while (result == RESULT_OK && text_lines_next(&source->lines))
        result = read_line(source, config);
    return result;
}

enum result virtual_machine_read(const char *text, size_t length,
                                 struct virtual_machine_config *ret, struct text_fault *ret_fault)
{
    struct virtual_machine_config config = *ret;
    struct source source = {.keys = machine_keys,
                            .key_count = sizeof(machine_keys) / sizeof(machine_keys[0]),
                            .what = "a key of machine files",
                            .fault = ret_fault};
    enum result result = read_lines(&source, text, length, (char *)&config);
    if (result == RESULT_OK)
        *ret = config;
    return result;
}

enum result virtual_rider_read(const char *text, size_t length, struct virtual_rider_config *ret,
                               struct text_fault *ret_fault)
{
    struct virtual_rider_config config = *ret;
    struct source source = {.keys = rider_keys,
                            .key_count = sizeof(rider_keys) / sizeof(rider_keys[0]),
                            .what = "a key of rider files",
                            .fault = ret_fault};
    enum result result = read_lines(&source, text, length, (char *)&config);
    if (result == RESULT_OK && config.peak_power_w <= config.critical_power_w)
        result = fault(&source, text_lines_word(&source.lines), "peak-power above critical-power");
    if (result == RESULT_OK && config.heart_max_bpm <= config.heart_rest_bpm)
        result = fault(&source, text_lines_word(&source.lines), "heart-max above heart-rest");
    if (result == RESULT_OK)
        *ret = config;
    return result;
}
