#include "profile_line.h"

#include <string.h>

#include "targets.h"

#define TIME_COLUMN 10u /* where times stand, counted from 0 */
#define INDENT      2u

/* ---- how long ---- */

static bool read_time(struct text_word word, struct profile_item *item,
                      struct text_fault *ret_fault)
{
    struct text_word rest = word;

    if (!text_take_time(&rest, &item->duration_ms) || rest.length > 0) {
        text_fault_word(ret_fault, word,
                        item->step == STEP_FLOOR ? "a time such as 0:40, or 8 x 3010"
                                                 : "a time such as 0:20");
        return false;
    }
    if (item->duration_ms < PLAN_STEP_MIN_MS || item->duration_ms > PLAN_STEP_MAX_MS) {
        text_fault_word(ret_fault, word, "a time from 0:01 to 30:00");
        return false;
    }
    return true;
}

static bool take_whole_number(struct text_word word, uint32_t *ret)
{
    return text_take_number(&word, 0, ret) && word.length == 0;
}

/* "8 x 3010", of which `word` is the first. */
static bool read_reps(struct text_lines *lines, struct text_word word, uint32_t reps,
                      struct profile_item *item, struct text_fault *ret_fault)
{
    const struct text_word times = text_lines_word(lines);
    struct text_word tempo;
    uint32_t digits;

    if (reps < 1 || reps > PLAN_REPS_MAX) {
        text_fault_word(ret_fault, word, "1 to 99 repetitions");
        return false;
    }
    if (!text_word_is(times, "x")) {
        text_fault_word(ret_fault, times, "x and a tempo such as 3010");
        return false;
    }
    tempo = text_lines_word(lines);
    if (tempo.length != 4 || !take_whole_number(tempo, &digits) || digits == 0) {
        text_fault_word(ret_fault, tempo, "a tempo of four digits such as 3010");
        return false;
    }
    item->reps = (struct step_reps){(uint16_t)reps, (uint16_t)digits};
    item->duration_ms = reps_duration_ms(item->reps);
    if (item->duration_ms > PLAN_STEP_MAX_MS) {
        text_fault_word(ret_fault, tempo, "at most 30:00 of repetitions");
        return false;
    }
    return true;
}

static bool read_duration(struct text_lines *lines, struct profile_item *item,
                          struct text_fault *ret_fault)
{
    const struct text_word word = text_lines_word(lines);
    uint32_t reps;

    if (item->step == STEP_FLOOR && take_whole_number(word, &reps))
        return read_reps(lines, word, reps, item, ret_fault);
    return read_time(word, item, ret_fault);
}

/* ---- until what ---- */

/* A block is minutes long: more than this is a slip of the finger. */
static const struct end_form {
    const char *unit;
    unsigned decimals;
    uint32_t lowest, highest; /* in units of the last decimal */
    int32_t scale;            /* of those, to what the model counts */
    const char *expected;
} end_forms[] = {
    [UNTIL_WORK] = {"kJ", 1, 1, 9999, 100, "0.1 to 999.9 kJ"},
    [UNTIL_DISTANCE] = {"m", 0, 10, 20000, 1, "10 to 20000 m"},
    [UNTIL_HEART] = {"bpm", 0, 60, 200, 1, "60 to 200 bpm"},
};

static bool take_end(struct text_word number, struct text_word rest, enum step_until until,
                     struct profile_item *item, struct text_fault *ret_fault)
{
    const struct end_form *form = &end_forms[until];
    struct text_word digits = number;
    uint32_t value = 0;

    if (until == UNTIL_HEART && item->step == STEP_WORK) {
        text_fault_at(ret_fault, rest, "kJ or m to end work", "a heart rate to fall to");
        return false;
    }
    if (!text_take_number(&digits, form->decimals, &value) || value < form->lowest ||
        value > form->highest || (digits.length > 0 && !text_word_is(digits, form->unit))) {
        text_fault_word(ret_fault, number, form->expected);
        return false;
    }
    item->end = (struct step_end){until, (int32_t)value * form->scale};
    return true;
}

/* What follows "until". */
static bool read_end(struct text_lines *lines, struct profile_item *item,
                     struct text_fault *ret_fault)
{
    const struct text_word number = text_lines_word(lines);
    struct text_word unit = number;
    uint32_t ignored;

    if (!text_take_number(&unit, 1, &ignored)) {
        text_fault_word(ret_fault, number, "12 kJ, 400 m or 120 bpm");
        return false;
    }
    if (unit.length == 0)
        unit = text_lines_word(lines);
    for (enum step_until until = UNTIL_WORK; until <= UNTIL_HEART; until++)
        if (text_word_is(unit, end_forms[until].unit))
            return take_end(number, unit, until, item, ret_fault);
    text_fault_word(ret_fault, unit, "kJ, m or bpm");
    return false;
}

/* ---- the rest of the line ---- */

static bool read_cue(struct text_lines *lines, struct profile_item *item,
                     struct text_fault *ret_fault)
{
    const struct text_word cue = text_lines_rest(lines);

    if (cue.length == 0) {
        text_fault_word(ret_fault, cue, "words for the rider");
        return false;
    }
    if (cue.length > PLAN_CUE_MAX) {
        text_fault_at(ret_fault, cue, "a cue of at most 40 octets", "a longer one");
        return false;
    }
    memcpy(item->cue_text, cue.text, cue.length);
    return true;
}

static bool read_part(struct text_lines *lines, struct text_word name, bool is_first,
                      struct profile_item *item, struct text_fault *ret_fault)
{
    const bool is_floor = item->step == STEP_FLOOR;

    if (text_word_is(name, "cue"))
        return read_cue(lines, item, ret_fault);
    if (is_floor) {
        text_fault_word(ret_fault, name, "cue or the end of the line");
        return false;
    }
    if (is_first && text_word_is(name, "until"))
        return read_end(lines, item, ret_fault);
    switch (targets_read(lines, name, item, ret_fault)) {
    case TARGETS_ARE_READ: return true;
    case TARGETS_ARE_FAULTY: return false;
    case TARGETS_ARE_NO_TARGET: break;
    }
    text_fault_word(ret_fault, name,
                    is_first ? "until, power, cadence, heart, level, effort or cue"
                             : "power, cadence, heart, level, effort or cue");
    return false;
}

bool profile_line_read(struct text_lines *lines, struct profile_item *item,
                       struct text_fault *ret_fault)
{
    if (!read_duration(lines, item, ret_fault))
        return false;
    for (bool is_first = true;; is_first = false) {
        const struct text_word name = text_lines_word(lines);
        if (name.length == 0)
            return true;
        if (!read_part(lines, name, is_first, item, ret_fault))
            return false;
    }
}

/* ---- writing ---- */

static void put_padding(struct text_writer *writer, size_t begin)
{
    do
        text_put_char(writer, ' ');
    while (!writer->failed && writer->length < begin + TIME_COLUMN);
}

static void put_end(struct text_writer *writer, struct step_end end)
{
    const struct end_form *form = &end_forms[end.until];
    const int32_t value = end.until == UNTIL_TIME ? 0 : end.value / form->scale;

    if (end.until == UNTIL_TIME)
        return;
    text_put(writer, " until ");
    if (form->decimals > 0 && value % 10 == 0)
        text_put_signed(writer, value / 10);
    else
        text_put_fixed(writer, value, form->decimals);
    text_put_char(writer, ' ');
    text_put(writer, form->unit);
}

static void put_step(struct text_writer *writer, const struct profile_item *item, size_t begin)
{
    text_put(writer, step_kind_text(item->step));
    put_padding(writer, begin);
    if (item->reps.reps > 0) {
        text_put_unsigned(writer, item->reps.reps);
        text_put(writer, " x ");
        text_put_padded(writer, item->reps.tempo, 4);
    } else {
        text_put_time(writer, item->duration_ms);
    }
    put_end(writer, item->end);
    targets_put(writer, item);
    if (item->cue_text[0] != '\0') {
        text_put(writer, "  cue ");
        text_put(writer, item->cue_text);
    }
}

void profile_line_put(struct text_writer *writer, const struct profile_item *item, size_t depth)
{
    const size_t begin = writer->length;

    for (size_t i = 0; i < depth * INDENT; i++)
        text_put_char(writer, ' ');
    switch (item->kind) {
    case PROFILE_STEP: put_step(writer, item, begin); return;
    case PROFILE_END: text_put(writer, "end"); return;
    case PROFILE_ROUNDS: break;
    }
    text_put(writer, "rounds ");
    if (item->fits)
        text_put(writer, "fit");
    else
        text_put_unsigned(writer, item->rounds);
}
