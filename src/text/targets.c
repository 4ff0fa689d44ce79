#include "targets.h"

#include <string.h>

enum quantity { POWER_W, POWER_CP, POWER_MARK, CADENCE, HEART, LEVEL, EFFORT, QUANTITY_COUNT };

/* The one place that says what a target may be. Common practice: no home bike brakes 2000 W and no
 * level scale known to us passes 100; heart limits leave out what no working rider has. */
static const struct quantity_form {
    const char *name;
    const char *unit; /* NULL: has none */
    bool has_tenths;
    uint32_t lowest, highest; /* in whole units */
} forms[QUANTITY_COUNT] = {
    [POWER_W] = {"power", "W", false, 0, 2000},
    [POWER_CP] = {"power", "%cp", true, 0, 300},
    [POWER_MARK] = {"power", "%mark", true, 0, 300},
    [CADENCE] = {"cadence", "rpm", false, 20, 200},
    [HEART] = {"heart", "bpm", false, 40, 220},
    [LEVEL] = {"level", NULL, true, 0, 100},
    [EFFORT] = {"effort", NULL, false, 0, PLAN_EFFORT_MAX},
};

/* What the words for effort mean on the scale from 0 to 10: our own choice. */
static const struct effort_word {
    const char *text;
    int32_t low, high;
} effort_words[] = {
    {"easy", 1, 3}, {"steady", 3, 5}, {"hard", 5, 7}, {"very-hard", 7, 9}, {"all-out", 9, 10},
};

#define EFFORT_WORDS (sizeof effort_words / sizeof effort_words[0])

static struct target_range *range_of(struct step_targets *targets, enum quantity quantity)
{
    switch (quantity) {
    case POWER_W: return &targets->power_w;
    case POWER_CP: return &targets->power_cp_tenths;
    case POWER_MARK: return &targets->power_mark_tenths;
    case CADENCE: return &targets->cadence_rpm;
    case HEART: return &targets->heart_bpm;
    case EFFORT: return &targets->effort;
    case LEVEL:
    case QUANTITY_COUNT: break;
    }
    return &targets->level_tenths;
}

/* ---- reading ---- */

/* low..high in the file, and what follows it in the same word. */
struct span {
    struct text_word word, after;
    uint32_t low, high; /* in tenths */
};

/* The first quantity of that name; which of the powers it is, the unit tells. */
static bool find_quantity(struct text_word name, enum quantity *ret)
{
    for (enum quantity i = POWER_W; i < QUANTITY_COUNT; i++) {
        if (text_word_is(name, forms[i].name)) {
            *ret = i;
            return true;
        }
    }
    return false;
}

static bool is_given(struct step_targets *targets, enum quantity quantity)
{
    for (enum quantity i = POWER_W; i < QUANTITY_COUNT; i++)
        if (strcmp(forms[i].name, forms[quantity].name) == 0 && range_of(targets, i)->set)
            return true;
    return false;
}

static bool read_span(struct text_lines *lines, struct span *ret, struct text_fault *ret_fault)
{
    ret->word = text_lines_word(lines);
    ret->after = ret->word;
    if (text_take_range(&ret->after, 1, &ret->low, &ret->high))
        return true;
    text_fault_word(ret_fault, ret->word, "a range such as 80..100");
    return false;
}

/* Takes "to" and the second range, if they are there; `*last` is the range that the unit follows.
 */
static bool read_ramp(struct text_lines *lines, struct span *last, bool *ret_has,
                      struct text_fault *ret_fault)
{
    struct text_lines ahead = *lines;

    *ret_has = last->after.length == 0 && text_word_is(text_lines_word(&ahead), "to");
    if (!*ret_has)
        return true;
    *lines = ahead;
    return read_span(lines, last, ret_fault);
}

static bool read_unit(struct text_lines *lines, struct text_word after, enum quantity *quantity,
                      struct text_fault *ret_fault)
{
    if (forms[*quantity].unit == NULL) {
        if (after.length > 0)
            text_fault_word(ret_fault, after, "nothing behind the range");
        return after.length == 0;
    }
    if (after.length == 0)
        after = text_lines_word(lines);
    const enum quantity last = *quantity == POWER_W ? POWER_MARK : *quantity;
    for (enum quantity i = *quantity; i <= last; i++) {
        if (text_word_is(after, forms[i].unit)) {
            *quantity = i;
            return true;
        }
    }
    text_fault_word(ret_fault, after,
                    *quantity == POWER_W ? "W, %cp or %mark" : forms[*quantity].unit);
    return false;
}

static bool check_limits(const struct span *span, const struct quantity_form *form,
                         struct text_fault *ret_fault)
{
    if (span->low >= form->lowest * 10 && span->high <= form->highest * 10)
        return true;
    char expected[64];
    struct text_writer writer = text_writer(expected, sizeof(expected));
    text_put(&writer, form->name);
    text_put(&writer, " from ");
    text_put_unsigned(&writer, form->lowest);
    text_put(&writer, " to ");
    text_put_unsigned(&writer, form->highest);
    if (form->unit != NULL) {
        text_put_char(&writer, ' ');
        text_put(&writer, form->unit);
    }
    text_fault_word(ret_fault, span->word, expected);
    return false;
}

static bool take_span(const struct span *span, enum quantity quantity, struct step_targets *targets,
                      struct text_fault *ret_fault)
{
    const struct quantity_form *form = &forms[quantity];
    const int32_t divisor = form->has_tenths ? 1 : 10;

    if (!check_limits(span, form, ret_fault))
        return false;
    if (!form->has_tenths && (span->low % 10 != 0 || span->high % 10 != 0)) {
        text_fault_word(ret_fault, span->word, "whole numbers");
        return false;
    }
    if (span->low > span->high) {
        text_fault_word(ret_fault, span->word, "the lower end first");
        return false;
    }
    *range_of(targets, quantity) = (struct target_range){
        .set = true,
        .low = (int32_t)span->low / divisor,
        .high = (int32_t)span->high / divisor,
    };
    return true;
}

static bool read_effort_word(struct text_lines *lines, struct step_targets *targets)
{
    struct text_lines ahead = *lines;
    const struct text_word word = text_lines_word(&ahead);

    for (size_t i = 0; i < EFFORT_WORDS; i++) {
        if (text_word_is(word, effort_words[i].text)) {
            targets->effort =
                (struct target_range){true, effort_words[i].low, effort_words[i].high};
            *lines = ahead;
            return true;
        }
    }
    return false;
}

static bool read_target(struct text_lines *lines, enum quantity quantity, struct profile_item *item,
                        struct text_fault *ret_fault)
{
    struct span first, last;
    bool is_ramp;

    if (quantity == EFFORT && read_effort_word(lines, &item->targets))
        return true;
    if (!read_span(lines, &first, ret_fault))
        return false;
    last = first;
    return read_ramp(lines, &last, &is_ramp, ret_fault) &&
           read_unit(lines, last.after, &quantity, ret_fault) &&
           take_span(&first, quantity, &item->targets, ret_fault) &&
           (!is_ramp || take_span(&last, quantity, &item->ramp_to, ret_fault));
}

enum targets_read targets_read(struct text_lines *lines, struct text_word name,
                               struct profile_item *item, struct text_fault *ret_fault)
{
    enum quantity quantity;

    if (!find_quantity(name, &quantity))
        return TARGETS_ARE_NO_TARGET;
    if (is_given(&item->targets, quantity)) {
        text_fault_at(ret_fault, name, "each target once", "a second one of its kind");
        return TARGETS_ARE_FAULTY;
    }
    return read_target(lines, quantity, item, ret_fault) ? TARGETS_ARE_READ : TARGETS_ARE_FAULTY;
}

/* ---- writing ---- */

static void put_number(struct text_writer *writer, int32_t value, bool has_tenths)
{
    if (has_tenths && value % 10 != 0)
        text_put_fixed(writer, value, 1);
    else
        text_put_signed(writer, has_tenths ? value / 10 : value);
}

static void put_range(struct text_writer *writer, const struct target_range *range, bool has_tenths)
{
    put_number(writer, range->low, has_tenths);
    text_put(writer, "..");
    put_number(writer, range->high, has_tenths);
}

static bool put_effort_word(struct text_writer *writer, const struct target_range *range)
{
    for (size_t i = 0; i < EFFORT_WORDS; i++) {
        if (range->low == effort_words[i].low && range->high == effort_words[i].high) {
            text_put(writer, effort_words[i].text);
            return true;
        }
    }
    return false;
}

static void put_target(struct text_writer *writer, enum quantity quantity,
                       const struct target_range *range, const struct target_range *to)
{
    const struct quantity_form *form = &forms[quantity];

    text_put(writer, "  ");
    text_put(writer, form->name);
    text_put_char(writer, ' ');
    if (quantity == EFFORT && !to->set && put_effort_word(writer, range))
        return;
    put_range(writer, range, form->has_tenths);
    if (to->set) {
        text_put(writer, " to ");
        put_range(writer, to, form->has_tenths);
    }
    if (form->unit != NULL) {
        text_put_char(writer, ' ');
        text_put(writer, form->unit);
    }
}

void targets_put(struct text_writer *writer, const struct profile_item *item)
{
    struct step_targets targets = item->targets, ramp_to = item->ramp_to;

    for (enum quantity i = POWER_W; i < QUANTITY_COUNT; i++)
        if (range_of(&targets, i)->set)
            put_target(writer, i, range_of(&targets, i), range_of(&ramp_to, i));
}
