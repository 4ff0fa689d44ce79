#include "text/journal.h"

#include <string.h>

#include "journal_tables.h"
#include "ride/names.h"

#define HEADER     "afterset-journal "
#define TARGET_MAX 100000 /* above every limit a profile has; keeps sums of two in 32 bits */

/* ---- writing ---- */

void journal_put_setup(struct text_writer *writer, const struct ride_setup *setup)
{
    text_put(writer, HEADER);
    text_put_unsigned(writer, JOURNAL_VERSION);
    text_put(writer, "\ntitle ");
    text_put(writer, setup->plan.title);
    text_put(writer, "\nrider");
    fields_put(writer, &journal_rider, &setup->rider);
    text_put(writer, setup->strap_expected ? "\nstrap\n" : "\n");
    text_put(writer, setup->counts_recovery ? "recovery\n" : "");
    text_put(writer, setup->is_watched ? "watched\n" : "");
    text_put(writer, setup->tells_sources ? "sources\n" : "");
    text_put(writer, setup->compares_powers ? "powers\n" : "");
    if (setup->holds_power) {
        text_put(writer, "brake");
        fields_put(writer, &journal_brake, &setup->brake);
        text_put_char(writer, '\n');
    }
    if (setup->tells_knob) {
        text_put(writer, "knob");
        fields_put(writer, &journal_knob, &setup->knob);
        text_put_char(writer, '\n');
    }
    for (size_t i = 0; i < setup->plan.step_count; i++) {
        text_put(writer, "step");
        fields_put(writer, &journal_step, &setup->plan.steps[i]);
        text_put(writer, setup->plan.steps[i].cue_text[0] != '\0' ? "\ncue " : "");
        text_put(writer, setup->plan.steps[i].cue_text);
        text_put_char(writer, '\n');
    }
}

void journal_put_event(struct text_writer *writer, const struct event *event)
{
    text_put(writer, "> ");
    text_put_unsigned(writer, event->t_ms);
    text_put_char(writer, ' ');
    text_put(writer, name_of(&event_names, event->kind));
    fields_put(writer, &journal_events[event->kind], event);
    text_put_char(writer, '\n');
}

void journal_put_effect(struct text_writer *writer, const struct effect *effect)
{
    text_put(writer, "< ");
    text_put(writer, name_of(&effect_names, effect->kind));
    fields_put(writer, &journal_effects[effect->kind], effect);
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
        return fault_at(reader, 1, RESULT_INVALID,
                        "this is not a journal; 'afterset show N --journal' writes one", ret_fault);
    if (line.length != 1 || line.text[0] != (char)('0' + JOURNAL_VERSION))
        return fault_at(reader, sizeof HEADER, RESULT_UNSUPPORTED,
                        "a journal of another version: the afterset that wrote it reads it",
                        ret_fault);
    reader->at += sizeof HEADER - 1 + line.length + 1;
    return RESULT_OK;
}

static bool is_sound_range(const struct target_range *range)
{
    return range->low >= 0 && range->high <= TARGET_MAX;
}

static bool are_sound_targets(const struct step_targets *targets)
{
    return is_sound_range(&targets->power_w) && is_sound_range(&targets->cadence_rpm) &&
           is_sound_range(&targets->heart_bpm) && is_sound_range(&targets->level_tenths) &&
           is_sound_range(&targets->effort);
}

static bool is_sound(const struct plan_step *step)
{
    const struct step_end *end = &step->end;

    return step->duration_ms >= PLAN_STEP_MIN_MS && step->duration_ms <= PLAN_STEP_MAX_MS &&
           (step->reps.reps == 0 || step->duration_ms == reps_duration_ms(step->reps)) &&
           (end->until == UNTIL_TIME ? end->value == 0 : end->value > 0) &&
           are_sound_targets(&step->targets) && are_sound_targets(&step->ramp_to);
}

/* Off the bike is before everything else. */
static bool is_in_place(const struct plan *plan)
{
    const struct plan_step *last = &plan->steps[plan->step_count - 1];

    return last->kind != STEP_FLOOR || plan_floor_steps(plan) == plan->step_count;
}

static bool take_flag(struct line line, const char *word, bool *ret)
{
    if (!take(&line, word) || line.length > 0)
        return false;
    *ret = true;
    return true;
}

static enum result read_step(struct journal_reader *reader, struct line line, struct plan *plan,
                             struct text_fault *ret_fault)
{
    if (plan->step_count == PLAN_STEPS_MAX)
        return fault_at(reader, 1, RESULT_FULL, "too many steps", ret_fault);
    struct plan_step *step = &plan->steps[plan->step_count++];
    const enum result result = read_fields(reader, &journal_step, line, step, ret_fault);
    if (result == RESULT_OK && !(is_sound(step) && is_in_place(plan)))
        return fault_at(reader, 1, RESULT_RANGE,
                        "a step with a duration, a target or a place that no plan has", ret_fault);
    return result;
}

/* Of the step above it. */
static enum result read_cue(struct journal_reader *reader, struct line line, struct plan *plan,
                            struct text_fault *ret_fault)
{
    if (plan->step_count == 0 || line.length > PLAN_CUE_MAX)
        return fault_at(reader, 5, RESULT_RANGE, "a cue that is too long, or of no step",
                        ret_fault);
    char *cue = plan->steps[plan->step_count - 1].cue_text;
    memcpy(cue, line.text, line.length);
    cue[line.length] = '\0';
    return RESULT_OK;
}

static enum result read_knob(struct journal_reader *reader, struct line line,
                             struct ride_setup *setup, struct text_fault *ret_fault)
{
    struct knob_place *place = &setup->knob;
    const enum result result = read_fields(reader, &journal_knob, line, place, ret_fault);

    setup->tells_knob = true;
    if (result == RESULT_OK &&
        !(place->position >= 0 && place->position <= place->top && place->top <= KNOB_TOP_MAX))
        return fault_at(reader, 1, RESULT_RANGE, "a number that no knob has", ret_fault);
    return result;
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
        return read_fields(reader, &journal_rider, line, &setup->rider, ret_fault);
    if (take_flag(line, "strap", &setup->strap_expected) ||
        take_flag(line, "recovery", &setup->counts_recovery) ||
        take_flag(line, "sources", &setup->tells_sources) ||
        take_flag(line, "powers", &setup->compares_powers) ||
        take_flag(line, "watched", &setup->is_watched))
        return RESULT_OK;
    if (take(&line, "brake")) {
        setup->holds_power = true;
        return read_fields(reader, &journal_brake, line, &setup->brake, ret_fault);
    }
    if (take(&line, "knob"))
        return read_knob(reader, line, setup, ret_fault);
    if (take(&line, "cue "))
        return read_cue(reader, line, &setup->plan, ret_fault);
    if (take(&line, "step"))
        return read_step(reader, line, &setup->plan, ret_fault);
    return fault_at(reader, 1, RESULT_INVALID,
                    "expected title, rider, strap, recovery, sources, powers, watched, knob, "
                    "brake, step, cue or "
                    "an event",
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
    if (ret->plan.step_count == plan_floor_steps(&ret->plan))
        return fault_at(reader, 1, RESULT_INVALID, "the setup has no steps on the bike", ret_fault);
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
        read_fields(reader, &journal_events[event.kind], line, &event, ret_fault);
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
