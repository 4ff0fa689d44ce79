#include "text/journal.h"

#include <string.h>

#include "fields.h"
#include "ride/names.h"

#define HEADER     "afterset-journal "
#define TARGET_MAX 100000 /* above every limit a profile has; keeps sums of two in 32 bits */
#define LIST(array)                               \
    {                                             \
        sizeof(array) / sizeof((array)[0]), array \
    }

/* ---- the tables ---- */

#define RIDER(member, type)                                 \
    {                                                       \
#member, offsetof(struct rider, member), type, NULL \
    }
static const struct field rider_fields[] = {
    RIDER(mass_kg, FIELD_TENTHS),       RIDER(age_years, FIELD_U16),
    RIDER(heart_rest_bpm, FIELD_U16),   RIDER(heart_max_bpm, FIELD_U16),
    RIDER(heart_limit_bpm, FIELD_U16),  RIDER(heart_slowed, FIELD_BOOL),
    RIDER(critical_power_w, FIELD_U16), RIDER(w_prime_j, FIELD_U32),
    RIDER(power_limit_w, FIELD_U16),    RIDER(cadence_limit_rpm, FIELD_U16),
};
static const struct fields rider_table = LIST(rider_fields);

#define STEP(name, member, type, names)                       \
    {                                                         \
        name, offsetof(struct plan_step, member), type, names \
    }
static const struct field step_fields[] = {
    STEP("kind", kind, FIELD_ENUM, &step_names),
    STEP("duration_ms", duration_ms, FIELD_U32, NULL),
    STEP("power_w", targets.power_w, FIELD_RANGE, NULL),
    STEP("cadence_rpm", targets.cadence_rpm, FIELD_RANGE, NULL),
    STEP("heart_bpm", targets.heart_bpm, FIELD_RANGE, NULL),
    STEP("level_tenths", targets.level_tenths, FIELD_RANGE, NULL),
    STEP("round", round, FIELD_U16, NULL),
    STEP("rounds", rounds, FIELD_U16, NULL),
};
static const struct fields step_table = LIST(step_fields);

#define AT(structure, member, name, type, names)       \
    {                                                  \
        name, offsetof(structure, member), type, names \
    }
#define EVENT(member, name, type, names)  AT(struct event, member, name, type, names)
#define EFFECT(member, name, type, names) AT(struct effect, member, name, type, names)

static const struct field key_fields[] = {EVENT(key.key, "key", FIELD_ENUM, &key_names)};
static const struct field link_fields[] = {
    EVENT(link.source, "source", FIELD_ENUM, &link_names),
    EVENT(link.up, "up", FIELD_BOOL, NULL),
};
static const struct field machine_fields[] = {
    EVENT(machine.takes_power, "takes_power", FIELD_BOOL, NULL),
    EVENT(machine.takes_level, "takes_level", FIELD_BOOL, NULL),
    EVENT(machine.power_min_w, "power_min_w", FIELD_I32, NULL),
    EVENT(machine.power_max_w, "power_max_w", FIELD_I32, NULL),
    EVENT(machine.level_min_tenths, "level_min_tenths", FIELD_I32, NULL),
    EVENT(machine.level_max_tenths, "level_max_tenths", FIELD_I32, NULL),
};
static const struct field telemetry_fields[] = {
    EVENT(telemetry.has, "has", FIELD_U32, NULL),
    EVENT(telemetry.power_w, "power_w", FIELD_I32, NULL),
    EVENT(telemetry.cadence_rpm, "cadence_rpm", FIELD_I32, NULL),
    EVENT(telemetry.distance_m, "distance_m", FIELD_I32, NULL),
    EVENT(telemetry.heart_bpm, "heart_bpm", FIELD_I32, NULL),
};
static const struct field heart_fields[] = {
    EVENT(heart.heart_bpm, "heart_bpm", FIELD_I32, NULL),
    EVENT(heart.contact, "contact", FIELD_ENUM, &contact_names),
};
static const struct field answer_fields[] = {
    EVENT(answer.command, "command", FIELD_ENUM, &command_names),
    EVENT(answer.answer, "answer", FIELD_ENUM, &answer_names),
    EVENT(answer.load.kind, "kind", FIELD_ENUM, &load_names),
    EVENT(answer.load.value, "value", FIELD_I32, NULL),
};
static const struct field status_fields[] = {
    EVENT(status.status, "status", FIELD_ENUM, &status_names)};
static const struct field store_fields[] = {EVENT(store.failed, "failed", FIELD_BOOL, NULL)};

static const struct fields event_tables[EVENT_KIND_COUNT] = {
    [EVENT_TICK] = {0, NULL},
    [EVENT_KEY] = LIST(key_fields),
    [EVENT_LINK] = LIST(link_fields),
    [EVENT_MACHINE] = LIST(machine_fields),
    [EVENT_TELEMETRY] = LIST(telemetry_fields),
    [EVENT_HEART] = LIST(heart_fields),
    [EVENT_ANSWER] = LIST(answer_fields),
    [EVENT_STATUS] = LIST(status_fields),
    [EVENT_STORE] = LIST(store_fields),
};

static const struct field command_fields[] = {
    EFFECT(command.command, "command", FIELD_ENUM, &command_names),
    EFFECT(command.load.kind, "kind", FIELD_ENUM, &load_names),
    EFFECT(command.load.value, "value", FIELD_I32, NULL),
    EFFECT(command.now, "now", FIELD_BOOL, NULL),
};
static const struct field phase_fields[] = {EFFECT(phase.phase, "phase", FIELD_ENUM, &phase_names)};
static const struct field index_fields[] = {EFFECT(step.index, "index", FIELD_I32, NULL)};
static const struct field sample_fields[] = {
    EFFECT(sample.has, "has", FIELD_U32, NULL),
    EFFECT(sample.power_w, "power_w", FIELD_I32, NULL),
    EFFECT(sample.cadence_rpm, "cadence_rpm", FIELD_I32, NULL),
    EFFECT(sample.distance_m, "distance_m", FIELD_I32, NULL),
    EFFECT(sample.heart_bpm, "heart_bpm", FIELD_I32, NULL),
};
static const struct field hold_fields[] = {EFFECT(hold.hold, "hold", FIELD_ENUM, &hold_names)};
static const struct field shift_fields[] = {EFFECT(shift.shift_pct, "shift_pct", FIELD_I32, NULL)};
static const struct field caution_fields[] = {
    EFFECT(caution.caution, "caution", FIELD_ENUM, &caution_names)};
static const struct field cut_off_fields[] = {
    EFFECT(cut_off.cut_off, "cut_off", FIELD_ENUM, &cut_off_names)};
#define SUMMARY(member, type, names) EFFECT(summary.member, #member, type, names)
static const struct field summary_fields[] = {
    SUMMARY(end, FIELD_ENUM, &end_names),
    SUMMARY(reason, FIELD_ENUM, &reason_names),
    SUMMARY(cut_off, FIELD_ENUM, &cut_off_names),
    SUMMARY(unreleased, FIELD_BOOL, NULL),
    SUMMARY(skipped, FIELD_I32, NULL),
    SUMMARY(duration_ms, FIELD_U32, NULL),
    SUMMARY(work_j, FIELD_I64, NULL),
    SUMMARY(average_power_w, FIELD_I32, NULL),
    SUMMARY(work_power_w, FIELD_I32, NULL),
    SUMMARY(distance_m, FIELD_I32, NULL),
    SUMMARY(in_range_s, FIELD_I32, NULL),
    SUMMARY(work_s, FIELD_I32, NULL),
    SUMMARY(average_heart_bpm, FIELD_I32, NULL),
    SUMMARY(max_heart_bpm, FIELD_I32, NULL),
    SUMMARY(max_power_w, FIELD_I32, NULL),
    SUMMARY(best_5s_w, FIELD_I32, NULL),
    SUMMARY(best_30s_w, FIELD_I32, NULL),
    SUMMARY(best_60s_w, FIELD_I32, NULL),
    SUMMARY(best_180s_w, FIELD_I32, NULL),
};

static const struct fields effect_tables[EFFECT_KIND_COUNT] = {
    [EFFECT_COMMAND] = LIST(command_fields), [EFFECT_PHASE] = LIST(phase_fields),
    [EFFECT_STEP] = LIST(index_fields),      [EFFECT_SAMPLE] = LIST(sample_fields),
    [EFFECT_HOLD] = LIST(hold_fields),       [EFFECT_SHIFT] = LIST(shift_fields),
    [EFFECT_CAUTION] = LIST(caution_fields), [EFFECT_CUT_OFF] = LIST(cut_off_fields),
    [EFFECT_SUMMARY] = LIST(summary_fields),
};

/* ---- writing ---- */

void journal_put_setup(struct text_writer *writer, const struct ride_setup *setup)
{
    text_put(writer, HEADER);
    text_put_unsigned(writer, JOURNAL_VERSION);
    text_put(writer, "\ntitle ");
    text_put(writer, setup->plan.title);
    text_put(writer, "\nrider");
    fields_put(writer, &rider_table, &setup->rider);
    text_put(writer, setup->strap_expected ? "\nstrap\n" : "\n");
    for (size_t i = 0; i < setup->plan.step_count; i++) {
        text_put(writer, "step");
        fields_put(writer, &step_table, &setup->plan.steps[i]);
        text_put_char(writer, '\n');
    }
}

void journal_put_event(struct text_writer *writer, const struct event *event)
{
    text_put(writer, "> ");
    text_put_unsigned(writer, event->t_ms);
    text_put_char(writer, ' ');
    text_put(writer, name_of(&event_names, event->kind));
    fields_put(writer, &event_tables[event->kind], event);
    text_put_char(writer, '\n');
}

void journal_put_effect(struct text_writer *writer, const struct effect *effect)
{
    text_put(writer, "< ");
    text_put(writer, name_of(&effect_names, effect->kind));
    fields_put(writer, &effect_tables[effect->kind], effect);
    text_put_char(writer, '\n');
}

/* ---- reading ---- */

struct line {
    const char *text;
    size_t length; /* without the newline */
};

/* A last line without a newline was being written when the program died: it does not count. */
struct journal_reader journal_reader(const char *text, size_t length)
{
    while (length > 0 && text[length - 1] != '\n')
        length--;
    return (struct journal_reader){.text = text, .length = length};
}

static bool peek(const struct journal_reader *reader, struct line *ret)
{
    if (reader->at == reader->length)
        return false;
    const char *begin = reader->text + reader->at;
    const char *end = memchr(begin, '\n', reader->length - reader->at);
    *ret = (struct line){begin, (size_t)(end - begin)};
    return true;
}

static bool take(struct line *line, const char *literal)
{
    const size_t length = strlen(literal);
    if (line->length < length || memcmp(line->text, literal, length) != 0)
        return false;
    line->text += length;
    line->length -= length;
    return true;
}

static enum result fault_at(const struct journal_reader *reader, size_t column, enum result result,
                            const char *message, struct text_fault *ret)
{
    struct text_writer writer = text_writer(ret->message, sizeof ret->message);

    text_put(&writer, message);
    ret->line = reader->line;
    ret->column = (uint32_t)column;
    return result;
}

static enum result read_fields(const struct journal_reader *reader, const struct fields *fields,
                               struct line line, void *ret, struct text_fault *ret_fault)
{
    size_t at = 0;
    if (fields_read(fields, line.text, line.length, ret, &at) == RESULT_OK)
        return RESULT_OK;
    const size_t column = (size_t)(line.text - (reader->text + reader->at)) + at + 1;
    return fault_at(reader, column, RESULT_INVALID, "a name or value that this line does not have",
                    ret_fault);
}

static enum result read_header(struct journal_reader *reader, struct text_fault *ret_fault)
{
    struct line line;

    reader->line = 1;
    if (!peek(reader, &line) || !take(&line, HEADER))
        return fault_at(reader, 1, RESULT_INVALID, "this is not a journal", ret_fault);
    if (line.length != 1 || line.text[0] != (char)('0' + JOURNAL_VERSION))
        return fault_at(reader, sizeof HEADER, RESULT_UNSUPPORTED, "a journal of another version",
                        ret_fault);
    reader->at += sizeof HEADER - 1 + line.length + 1;
    return RESULT_OK;
}

static bool is_sound_range(const struct target_range *range)
{
    return range->low >= 0 && range->high <= TARGET_MAX;
}

static bool is_sound(const struct plan_step *step)
{
    return step->duration_ms >= PLAN_STEP_MIN_MS && step->duration_ms <= PLAN_STEP_MAX_MS &&
           is_sound_range(&step->targets.power_w) && is_sound_range(&step->targets.cadence_rpm) &&
           is_sound_range(&step->targets.heart_bpm) && is_sound_range(&step->targets.level_tenths);
}

static enum result read_setup_line(struct journal_reader *reader, struct line line,
                                   struct ride_setup *setup, struct text_fault *ret_fault)
{
    if (take(&line, "title ")) {
        if (line.length > PLAN_TITLE_MAX)
            return fault_at(reader, 7, RESULT_RANGE, "the title is too long", ret_fault);
        memcpy(setup->plan.title, line.text, line.length);
        setup->plan.title[line.length] = '\0';
        return RESULT_OK;
    }
    if (take(&line, "rider"))
        return read_fields(reader, &rider_table, line, &setup->rider, ret_fault);
    if (take(&line, "strap") && line.length == 0) {
        setup->strap_expected = true;
        return RESULT_OK;
    }
    if (take(&line, "step")) {
        if (setup->plan.step_count == PLAN_STEPS_MAX)
            return fault_at(reader, 1, RESULT_FULL, "too many steps", ret_fault);
        struct plan_step *step = &setup->plan.steps[setup->plan.step_count++];
        const enum result result = read_fields(reader, &step_table, line, step, ret_fault);
        if (result == RESULT_OK && !is_sound(step))
            return fault_at(reader, 1, RESULT_RANGE,
                            "a step with a duration or target that no plan has", ret_fault);
        return result;
    }
    return fault_at(reader, 1, RESULT_INVALID, "expected title, rider, strap, step or an event",
                    ret_fault);
}

enum result journal_read_setup(struct journal_reader *reader, struct ride_setup *ret,
                               struct text_fault *ret_fault)
{
    struct line line;
    enum result result = read_header(reader, ret_fault);

    if (result != RESULT_OK)
        return result;
    memset(ret, 0, sizeof *ret);
    while (peek(reader, &line) && line.length > 0 && line.text[0] != '>') {
        reader->line++;
        result = read_setup_line(reader, line, ret, ret_fault);
        if (result != RESULT_OK)
            return result;
        reader->at += line.length + 1;
    }
    if (ret->plan.step_count == 0)
        return fault_at(reader, 1, RESULT_INVALID, "the setup has no steps", ret_fault);
    return RESULT_OK;
}

static bool take_time(struct line *line, uint64_t *ret_t_ms)
{
    uint64_t t_ms = 0;
    size_t digits = 0;

    for (; digits < line->length && digits < 18; digits++) {
        const char character = line->text[digits];
        if (character < '0' || character > '9')
            break;
        t_ms = t_ms * 10 + (uint64_t)(character - '0');
    }
    line->text += digits;
    line->length -= digits;
    *ret_t_ms = t_ms;
    return digits > 0 && take(line, " ");
}

static bool take_kind(struct line *line, enum event_kind *ret)
{
    for (unsigned i = 0; i < EVENT_KIND_COUNT; i++) {
        struct line rest = *line;
        if (take(&rest, name_of(&event_names, i)) && (rest.length == 0 || rest.text[0] == ' ')) {
            *line = rest;
            *ret = (enum event_kind)i;
            return true;
        }
    }
    return false;
}

enum result journal_read_event(struct journal_reader *reader, struct event *ret,
                               struct text_fault *ret_fault)
{
    struct line line;
    struct event event = {0};
    const char *ignored;

    /* Effects that the caller did not ask for. */
    while (journal_read_effect(reader, &ignored) > 0) {
    }
    if (!peek(reader, &line))
        return RESULT_NOT_FOUND;
    const size_t length = line.length;
    reader->line++;
    if (!take(&line, "> ") || !take_time(&line, &event.t_ms) || !take_kind(&line, &event.kind))
        return fault_at(reader, 1, RESULT_INVALID, "expected '> TIME EVENT'", ret_fault);
    if (event.t_ms < reader->t_ms)
        return fault_at(reader, 3, RESULT_RANGE, "the time goes back", ret_fault);
    const enum result result =
        read_fields(reader, &event_tables[event.kind], line, &event, ret_fault);
    if (result != RESULT_OK)
        return result;
    reader->at += length + 1;
    reader->t_ms = event.t_ms;
    *ret = event;
    return RESULT_OK;
}

size_t journal_read_effect(struct journal_reader *reader, const char **ret)
{
    struct line line;

    if (!peek(reader, &line) || line.length < 2 || memcmp(line.text, "< ", 2) != 0)
        return 0;
    *ret = line.text;
    reader->at += line.length + 1;
    reader->line++;
    return line.length + 1;
}
