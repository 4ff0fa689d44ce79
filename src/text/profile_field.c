#include "text/profile_field.h"

#include <string.h>

#include "profile_line.h"

#define TEXT_MAX 512u

static const char *const names[PROFILE_FIELD_COUNT] = {
    [PROFILE_FIELD_TIME] = "time",       [PROFILE_FIELD_POWER] = "power",
    [PROFILE_FIELD_CADENCE] = "cadence", [PROFILE_FIELD_HEART] = "heart",
    [PROFILE_FIELD_LEVEL] = "level",     [PROFILE_FIELD_EFFORT] = "effort",
    [PROFILE_FIELD_UNTIL] = "until",     [PROFILE_FIELD_CUE] = "cue",
};

const char *profile_field_name(enum profile_field field)
{
    return names[field];
}

bool profile_field_is_for(enum profile_field field, enum step_kind kind)
{
    return kind != STEP_FLOOR || field == PROFILE_FIELD_TIME || field == PROFILE_FIELD_CUE;
}

/* ---- moving one field from a step to another ---- */

/* The ranges that a field has, in pairs of targets and ramps; the others have none. */
static size_t ranges_of(struct profile_item *item, enum profile_field field,
                        struct target_range *ret[6])
{
    struct step_targets *both[2] = {&item->targets, &item->ramp_to};
    size_t count = 0;

    for (size_t i = 0; i < 2; i++) {
        switch (field) {
        case PROFILE_FIELD_POWER:
            ret[count++] = &both[i]->power_w;
            ret[count++] = &both[i]->power_cp_tenths;
            ret[count++] = &both[i]->power_mark_tenths;
            break;
        case PROFILE_FIELD_CADENCE: ret[count++] = &both[i]->cadence_rpm; break;
        case PROFILE_FIELD_HEART: ret[count++] = &both[i]->heart_bpm; break;
        case PROFILE_FIELD_LEVEL: ret[count++] = &both[i]->level_tenths; break;
        case PROFILE_FIELD_EFFORT: ret[count++] = &both[i]->effort; break;
        case PROFILE_FIELD_TIME:
        case PROFILE_FIELD_UNTIL:
        case PROFILE_FIELD_CUE:
        case PROFILE_FIELD_COUNT: break;
        }
    }
    return count;
}

static void copy_field(struct profile_item *to, const struct profile_item *from,
                       enum profile_field field)
{
    struct profile_item source = *from;
    struct target_range *into[6], *out_of[6];
    const size_t count = ranges_of(to, field, into);

    (void)ranges_of(&source, field, out_of);
    for (size_t i = 0; i < count; i++)
        *into[i] = *out_of[i];
    if (field == PROFILE_FIELD_TIME) {
        to->duration_ms = from->duration_ms;
        to->reps = from->reps;
    } else if (field == PROFILE_FIELD_UNTIL) {
        to->end = from->end;
    } else if (field == PROFILE_FIELD_CUE) {
        memcpy(to->cue_text, from->cue_text, sizeof to->cue_text);
    }
}

static struct profile_item bare(enum step_kind kind)
{
    return (struct profile_item){
        .kind = PROFILE_STEP, .step = kind, .duration_ms = PLAN_STEP_MIN_MS};
}

/* ---- as text ---- */

static void put_line(char *ret, const struct profile_item *item)
{
    struct text_writer writer = text_writer(ret, TEXT_MAX);
    profile_line_put(&writer, item, 0);
}

static const char *past_blanks(const char *text)
{
    while (*text == ' ')
        text++;
    return text;
}

/* Out of the line of a step that has nothing else. */
void profile_field_put(struct text_writer *writer, const struct profile_item *item,
                       enum profile_field field)
{
    struct profile_item alone = bare(item->step);
    char line[TEXT_MAX], without[TEXT_MAX];

    if (field == PROFILE_FIELD_TIME) {
        copy_field(&alone, item, field);
        put_line(line, &alone);
        text_put(writer, past_blanks(line + strlen(step_kind_text(item->step))));
        return;
    }
    put_line(without, &alone);
    copy_field(&alone, item, field);
    put_line(line, &alone);
    const char *rest = past_blanks(line + strlen(without));
    if (*rest != '\0')
        text_put(writer, past_blanks(rest + strlen(names[field])));
}

static enum result refuse(struct text_fault *ret_fault, const char *text, uint32_t column,
                          const char *expected)
{
    struct text_word word = text_word(text);

    word.column = column;
    text_fault_word(ret_fault, word, expected);
    return RESULT_INVALID;
}

/* "0:01 power TEXT", or TEXT alone for the time; how much stands before the text. */
static size_t put_wanted(struct text_writer *writer, enum profile_field field, const char *text)
{
    if (field != PROFILE_FIELD_TIME) {
        text_put(writer, "0:01 ");
        text_put(writer, names[field]);
        text_put_char(writer, ' ');
    }
    const size_t before = writer->length;
    text_put(writer, text);
    return before;
}

static bool is_alone(const struct profile_item *read, enum profile_field field)
{
    struct profile_item alone = bare(read->step);
    char line[TEXT_MAX], whole[TEXT_MAX];

    copy_field(&alone, read, field);
    put_line(line, &alone);
    put_line(whole, read);
    return strcmp(line, whole) == 0;
}

enum result profile_field_set(struct profile_item *item, enum profile_field field, const char *text,
                              struct text_fault *ret_fault)
{
    struct profile_item read = bare(item->step);
    struct text_lines lines;
    char wanted[TEXT_MAX];
    struct text_writer writer = text_writer(wanted, sizeof wanted);
    const char *sign = strchr(text, '#');

    if (*past_blanks(text) == '\0' && field != PROFILE_FIELD_TIME) {
        copy_field(item, &read, field);
        return RESULT_OK;
    }
    if (sign != NULL)
        return refuse(ret_fault, sign, (uint32_t)(sign - text) + 1, "no #, which begins a comment");
    const uint32_t before = (uint32_t)put_wanted(&writer, field, text);
    if (writer.failed)
        return refuse(ret_fault, text, 1, "less than that");
    enum result result = text_lines_open(wanted, writer.length, &lines, ret_fault);
    if (result == RESULT_OK && !(text_lines_next(&lines) || field == PROFILE_FIELD_TIME))
        result = RESULT_INVALID;
    if (result == RESULT_OK && !profile_line_read(&lines, &read, ret_fault))
        result = RESULT_INVALID;
    if (result != RESULT_OK) {
        ret_fault->column -= ret_fault->column > before ? before : 0;
        return result;
    }
    if (!is_alone(&read, field))
        return refuse(ret_fault, text, 1, "this alone");
    copy_field(item, &read, field);
    return RESULT_OK;
}

/* ---- a little more, a little less ---- */

/* In the units of the model. Steps that are felt and not more (common practice). */
static int32_t size_of(const struct target_range *range, const struct profile_item *item)
{
    const struct step_targets *targets = &item->targets, *ramp_to = &item->ramp_to;

    if (range == &targets->power_cp_tenths || range == &ramp_to->power_cp_tenths ||
        range == &targets->power_mark_tenths || range == &ramp_to->power_mark_tenths)
        return 10;
    if (range == &targets->effort || range == &ramp_to->effort)
        return 1;
    return 5;
}

static bool shift_ranges(struct profile_item *item, enum profile_field field, int32_t by)
{
    struct target_range *ranges[6];
    const size_t count = ranges_of(item, field, ranges);
    bool is_there = false;

    for (size_t i = 0; i < count; i++) {
        if (!ranges[i]->set)
            continue;
        ranges[i]->low += by * size_of(ranges[i], item);
        ranges[i]->high += by * size_of(ranges[i], item);
        is_there = true;
    }
    return is_there;
}

static bool shift_time(struct profile_item *item, int32_t by)
{
    const bool is_long = item->duration_ms > 120000 || (item->duration_ms == 120000 && by > 0);
    const int64_t step_ms = is_long ? 15000 : 5000;
    const int64_t to_ms = item->duration_ms + by * step_ms;

    if (item->reps.reps > 0) {
        item->reps.reps = (uint16_t)(item->reps.reps + by);
        item->duration_ms = reps_duration_ms(item->reps);
    } else {
        item->duration_ms = to_ms > 0 ? (uint32_t)to_ms : 0;
    }
    return true;
}

static bool shift_end(struct profile_item *item, int32_t by)
{
    static const int32_t sizes[] = {
        [UNTIL_TIME] = 0, [UNTIL_WORK] = 1000, [UNTIL_DISTANCE] = 50, [UNTIL_HEART] = 5};

    item->end.value += by * sizes[item->end.until];
    return item->end.until != UNTIL_TIME;
}

static bool shift(struct profile_item *item, enum profile_field field, int32_t by)
{
    if (field == PROFILE_FIELD_TIME)
        return shift_time(item, by);
    return field == PROFILE_FIELD_UNTIL ? shift_end(item, by) : shift_ranges(item, field, by);
}

/* The reader says what may be: there is one place for that. */
enum result profile_field_nudge(struct profile_item *item, enum profile_field field, int32_t by)
{
    struct profile_item nudged = *item;
    struct text_fault fault;
    char text[TEXT_MAX];
    struct text_writer writer = text_writer(text, sizeof text);

    if (!shift(&nudged, field, by))
        return RESULT_UNSUPPORTED;
    profile_field_put(&writer, &nudged, field);
    return profile_field_set(item, field, text, &fault) == RESULT_OK ? RESULT_OK : RESULT_RANGE;
}
