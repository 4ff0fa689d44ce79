#include "text/targets.h"

#include "base/text.h"

enum quantity { POWER_W, POWER_CP, CADENCE, HEART, LEVEL, QUANTITY_COUNT };

/* The one place that says what a target may be. Common practice: no home bike brakes 2000 W and no
 * level scale known to us passes 100; heart limits leave out what no working rider has. */
static const struct quantity_form {
    const char *name;
    const char *unit; /* NULL: has none */
    bool has_tenths;
    uint32_t lowest, highest; /* in whole units */
} forms[QUANTITY_COUNT] = {
    [POWER_W] = {"power", "W", false, 0, 2000},     [POWER_CP] = {"power", "%cp", true, 0, 300},
    [CADENCE] = {"cadence", "rpm", false, 20, 200}, [HEART] = {"heart", "bpm", false, 40, 220},
    [LEVEL] = {"level", NULL, true, 0, 100},
};

static struct target_range *range_of(struct step_targets *targets, enum quantity quantity)
{
    switch (quantity) {
    case POWER_W: return &targets->power_w;
    case POWER_CP: return &targets->power_cp_tenths;
    case CADENCE: return &targets->cadence_rpm;
    case HEART: return &targets->heart_bpm;
    case LEVEL:
    case QUANTITY_COUNT: break;
    }
    return &targets->level_tenths;
}

/* The first quantity of that name; which of the two powers it is, the unit tells. */
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

static bool is_given(const struct step_targets *targets, enum quantity quantity)
{
    switch (quantity) {
    case POWER_W:
    case POWER_CP: return targets->power_w.set || targets->power_cp_tenths.set;
    case CADENCE: return targets->cadence_rpm.set;
    case HEART: return targets->heart_bpm.set;
    case LEVEL:
    case QUANTITY_COUNT: break;
    }
    return targets->level_tenths.set;
}

/* `after` is what stands behind the range, or the next word where nothing does. */
static bool read_unit(struct text_word after, enum quantity *quantity, struct text_fault *ret_fault)
{
    if (*quantity == POWER_W && text_word_is(after, forms[POWER_CP].unit)) {
        *quantity = POWER_CP;
        return true;
    }
    if (text_word_is(after, forms[*quantity].unit))
        return true;
    text_fault_word(ret_fault, after, *quantity == POWER_W ? "W or %cp" : forms[*quantity].unit);
    return false;
}

static bool check_limits(struct text_word word, const struct quantity_form *form, uint32_t low,
                         uint32_t high, struct text_fault *ret_fault)
{
    if (low >= form->lowest * 10 && high <= form->highest * 10)
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
    text_fault_word(ret_fault, word, expected);
    return false;
}

static bool check_range(struct text_word word, const struct quantity_form *form, uint32_t low,
                        uint32_t high, struct text_fault *ret_fault)
{
    if (!check_limits(word, form, low, high, ret_fault))
        return false;
    if (!form->has_tenths && (low % 10 != 0 || high % 10 != 0)) {
        text_fault_word(ret_fault, word, "whole numbers");
        return false;
    }
    if (low > high) {
        text_fault_word(ret_fault, word, "the lower end first");
        return false;
    }
    return true;
}

static bool read_target(struct text_lines *lines, enum quantity quantity,
                        struct step_targets *targets, struct text_fault *ret_fault)
{
    struct text_word word = text_lines_word(lines);
    struct text_word after = word;
    uint32_t low, high;
    if (!text_take_range(&after, 1, &low, &high)) {
        text_fault_word(ret_fault, word, "a range such as 80..100");
        return false;
    }
    if (forms[quantity].unit != NULL) {
        if (after.length == 0)
            after = text_lines_word(lines);
        if (!read_unit(after, &quantity, ret_fault))
            return false;
    } else if (after.length > 0) {
        text_fault_word(ret_fault, after, "nothing behind the range");
        return false;
    }
    if (!check_range(word, &forms[quantity], low, high, ret_fault))
        return false;
    int32_t divisor = forms[quantity].has_tenths ? 1 : 10;
    *range_of(targets, quantity) = (struct target_range){
        .set = true,
        .low = (int32_t)low / divisor,
        .high = (int32_t)high / divisor,
    };
    return true;
}

bool targets_read(struct text_lines *lines, struct step_targets *targets,
                  struct text_fault *ret_fault)
{
    for (;;) {
        struct text_word name = text_lines_word(lines);
        enum quantity quantity;
        if (name.length == 0)
            return true;
        if (!find_quantity(name, &quantity)) {
            text_fault_word(ret_fault, name, "power, cadence, heart or level");
            return false;
        }
        if (is_given(targets, quantity)) {
            text_fault_at(ret_fault, name, "each target once", "a second one of its kind");
            return false;
        }
        if (!read_target(lines, quantity, targets, ret_fault))
            return false;
    }
}
