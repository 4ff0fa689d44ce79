#include "text/settings.h"

#include <assert.h>

/* A setting is a number of its last decimals here, 0 or NONE when not known (a volume of 0 is
 * known), and 0 or 1 for yes or no. The limits keep out slips of the hand, not people. */
#define NONE       UINT64_MAX
#define KEY_DIGITS 16u

static const struct setting_form {
    const char *key;
    const char *unit; /* NULL: has none */
    unsigned decimals;
    uint32_t lowest, highest; /* in whole units; both 0 for yes or no, and for the key */
} forms[SETTING_COUNT] = {
    [SETTING_MASS] = {"mass", "kg", 1, 25, 250},
    [SETTING_AGE] = {"age", "years", 0, 10, 100},
    [SETTING_HEART_REST] = {"heart-rest", "bpm", 0, 25, 99},
    [SETTING_HEART_MAX] = {"heart-max", "bpm", 0, 100, 230},
    [SETTING_HEART_LIMIT] = {"heart-limit", "bpm", 0, 60, 230},
    [SETTING_HEART_SLOWED] = {"heart-slowed", NULL, 0, 0, 0},
    [SETTING_CRITICAL_POWER] = {"critical-power", "W", 0, 30, 600},
    [SETTING_W_PRIME] = {"w-prime", "kJ", 1, 1, 60},
    [SETTING_POWER_LIMIT] = {"power-limit", "W", 0, 20, 2000},
    [SETTING_CADENCE_LIMIT] = {"cadence-limit", "rpm", 0, 40, 200},
    [SETTING_VOLUME] = {"volume", "%", 0, 0, 100},
    [SETTING_EXPERIENCED] = {"experienced", NULL, 0, 0, 0},
    [SETTING_CAUTIONS_READ] = {"cautions-read", NULL, 0, 1, 9999},
    [SETTING_USB_KEY] = {"usb-network-key", NULL, 0, 0, 0},
};

static bool is_key(const struct setting_form *form)
{
    return form == &forms[SETTING_USB_KEY];
}

static bool is_yes_or_no(const struct setting_form *form)
{
    return form->highest == 0 && !is_key(form);
}

static uint32_t mass_tenths(double mass_kg)
{
    return (uint32_t)(mass_kg * 10 + 0.5);
}

static uint64_t get(const struct settings *settings, enum setting setting)
{
    const struct rider *rider = &settings->rider;
    switch (setting) {
    case SETTING_MASS: return mass_tenths(rider->mass_kg);
    case SETTING_AGE: return rider->age_years;
    case SETTING_HEART_REST: return rider->heart_rest_bpm;
    case SETTING_HEART_MAX: return rider->heart_max_bpm;
    case SETTING_HEART_LIMIT: return rider->heart_limit_bpm;
    case SETTING_HEART_SLOWED: return rider->heart_slowed;
    case SETTING_CRITICAL_POWER: return rider->critical_power_w;
    case SETTING_W_PRIME: return rider->w_prime_j / 100;
    case SETTING_POWER_LIMIT: return rider->power_limit_w;
    case SETTING_CADENCE_LIMIT: return rider->cadence_limit_rpm;
    case SETTING_VOLUME: return settings->volume_pct;
    case SETTING_EXPERIENCED: return settings->is_experienced;
    case SETTING_CAUTIONS_READ: return settings->cautions_read;
    case SETTING_USB_KEY: return settings->usb_key;
    case SETTING_COUNT: break;
    }
    return 0;
}

static void put(struct settings *settings, enum setting setting, uint64_t number)
{
    struct rider *rider = &settings->rider;
    const uint32_t value = number == NONE ? 0 : (uint32_t)number;
    switch (setting) {
    case SETTING_MASS: rider->mass_kg = value / 10.0; break;
    case SETTING_AGE: rider->age_years = (uint16_t)value; break;
    case SETTING_HEART_REST: rider->heart_rest_bpm = (uint16_t)value; break;
    case SETTING_HEART_MAX: rider->heart_max_bpm = (uint16_t)value; break;
    case SETTING_HEART_LIMIT: rider->heart_limit_bpm = (uint16_t)value; break;
    case SETTING_HEART_SLOWED: rider->heart_slowed = value != 0; break;
    case SETTING_CRITICAL_POWER: rider->critical_power_w = (uint16_t)value; break;
    case SETTING_W_PRIME: rider->w_prime_j = value * 100; break;
    case SETTING_POWER_LIMIT: rider->power_limit_w = (uint16_t)value; break;
    case SETTING_CADENCE_LIMIT: rider->cadence_limit_rpm = (uint16_t)value; break;
    case SETTING_VOLUME:
        settings->has_volume = number != NONE;
        settings->volume_pct = (uint16_t)value;
        break;
    case SETTING_EXPERIENCED: settings->is_experienced = value != 0; break;
    case SETTING_CAUTIONS_READ: settings->cautions_read = (uint16_t)value; break;
    case SETTING_USB_KEY: settings->usb_key = number == NONE ? 0 : number; break;
    case SETTING_COUNT: break;
    }
}

/* ---- reading ---- */

static bool find_setting(struct text_word key, enum setting *ret)
{
    for (enum setting i = SETTING_MASS; i < SETTING_COUNT; i++) {
        if (text_word_is(key, forms[i].key)) {
            *ret = i;
            return true;
        }
    }
    return false;
}

static bool fault_value(struct text_fault *ret_fault, struct text_word word,
                        const struct setting_form *form)
{
    char expected[80];
    struct text_writer writer = text_writer(expected, sizeof(expected));
    text_put(&writer, form->key);
    text_put_char(&writer, ' ');
    if (is_yes_or_no(form)) {
        text_put(&writer, "yes or no");
    } else if (is_key(form)) {
        text_put(&writer, "16 hexadecimal digits or none");
    } else {
        text_put_unsigned(&writer, form->lowest);
        text_put(&writer, " to ");
        text_put_unsigned(&writer, form->highest);
        text_put(&writer, form->unit != NULL ? " " : "");
        text_put(&writer, form->unit != NULL ? form->unit : "");
        text_put(&writer, form->decimals > 0 ? " (tenths allowed)" : "");
        text_put(&writer, " or none");
    }
    if (is_key(form) && word.length > 0) /* nearly the key: not to be shown either */
        text_fault_at(ret_fault, word, expected, "something else");
    else
        text_fault_word(ret_fault, word, expected);
    return false;
}

/* 16 for what is no digit. */
static unsigned digit_value(char digit)
{
    if (digit >= '0' && digit <= '9')
        return (unsigned)(digit - '0');
    if (digit >= 'A' && digit <= 'F')
        return (unsigned)(digit - 'A') + 10;
    if (digit >= 'a' && digit <= 'f')
        return (unsigned)(digit - 'a') + 10;
    return 16;
}

/* All zeros, or all ones, is nobody's key. */
static bool read_key(struct text_word word, uint64_t *ret)
{
    uint64_t key = 0;

    if (word.length != KEY_DIGITS)
        return false;
    for (size_t i = 0; i < KEY_DIGITS; i++) {
        const unsigned digit = digit_value(word.text[i]);
        if (digit > 15)
            return false;
        key = key << 4 | digit;
    }
    *ret = key;
    return key != 0 && key != NONE;
}

static bool read_number(struct text_lines *words, struct text_word word,
                        const struct setting_form *form, uint64_t *ret)
{
    uint32_t scale = form->decimals > 0 ? 10 : 1;
    uint32_t value;
    if (!text_take_number(&word, form->decimals, &value) || value < form->lowest * scale ||
        value > form->highest * scale)
        return false;
    if (word.length == 0)
        word = text_lines_word(words);
    if (word.length > 0 && (form->unit == NULL || !text_word_is(word, form->unit)))
        return false;
    *ret = value;
    return true;
}

/* The value is all that is left of the line. */
static bool read_value(struct text_lines *words, enum setting setting, uint64_t *ret,
                       struct text_fault *ret_fault)
{
    const struct setting_form *form = &forms[setting];
    struct text_lines whole = *words;
    struct text_word word = text_lines_word(words);
    if (text_word_is(word, "none"))
        *ret = NONE;
    else if (is_yes_or_no(form) && text_word_is(word, "no"))
        *ret = 0;
    else if (is_yes_or_no(form) && text_word_is(word, "yes"))
        *ret = 1;
    else if (is_yes_or_no(form) ||
             !(is_key(form) ? read_key(word, ret) : read_number(words, word, form, ret)))
        return fault_value(ret_fault, text_lines_rest(&whole), form);
    if (text_lines_word(words).length > 0)
        return fault_value(ret_fault, text_lines_rest(&whole), form);
    return true;
}

static enum result read_setting(struct text_lines *lines, struct settings *settings,
                                bool seen[SETTING_COUNT], struct text_fault *ret_fault)
{
    struct text_word key = text_lines_word(lines);
    enum setting setting;
    uint64_t value;
    if (!find_setting(key, &setting)) {
        text_fault_word(ret_fault, key, "the name of a setting");
        return RESULT_NOT_FOUND;
    }
    if (seen[setting]) {
        text_fault_at(ret_fault, key, "each setting once", "a second one of that name");
        return RESULT_INVALID;
    }
    seen[setting] = true;
    if (!read_value(lines, setting, &value, ret_fault))
        return RESULT_INVALID;
    put(settings, setting, value);
    return RESULT_OK;
}

enum result settings_read(const char *text, size_t length, struct settings *ret,
                          struct text_fault *ret_fault)
{
    struct settings settings = {0};
    struct text_lines lines;
    bool seen[SETTING_COUNT] = {false};
    enum result result = text_lines_open(text, length, &lines, ret_fault);
    if (result != RESULT_OK)
        return result;
    while (text_lines_next(&lines))
        if (read_setting(&lines, &settings, seen, ret_fault) != RESULT_OK)
            return RESULT_INVALID;
    *ret = settings;
    return RESULT_OK;
}

enum result settings_set(struct settings *settings, const char *key, const char *value,
                         struct text_fault *ret_fault)
{
    struct text_word word = text_word(value);
    struct text_lines words = {
        .line_begin = word.text, .line_at = word.text, .line_end = word.text + word.length};
    enum setting setting;
    uint64_t number;
    if (!find_setting(text_word(key), &setting)) {
        text_fault_word(ret_fault, text_word(key), "the name of a setting");
        return RESULT_NOT_FOUND;
    }
    if (!read_value(&words, setting, &number, ret_fault)) {
        ret_fault->column = 0; /* an argument has no place in a file */
        return RESULT_INVALID;
    }
    put(settings, setting, number);
    return RESULT_OK;
}

/* ---- writing ---- */

const char *setting_key(enum setting setting)
{
    assert((unsigned)setting < SETTING_COUNT);
    return forms[setting].key;
}

bool setting_is_known(const struct settings *settings, enum setting setting)
{
    return setting == SETTING_VOLUME ? settings->has_volume : get(settings, setting) != 0;
}

static void put_key(struct text_writer *writer, uint64_t key)
{
    for (unsigned shift = 4 * KEY_DIGITS; shift > 0; shift -= 4)
        text_put_char(writer, "0123456789ABCDEF"[key >> (shift - 4) & 15u]);
}

void setting_put(struct text_writer *writer, const struct settings *settings, enum setting setting)
{
    assert((unsigned)setting < SETTING_COUNT);
    const struct setting_form *form = &forms[setting];
    const uint64_t value = get(settings, setting);
    if (is_yes_or_no(form)) {
        text_put(writer, value != 0 ? "yes" : "no");
    } else if (!setting_is_known(settings, setting)) {
        text_put(writer, "none");
    } else if (is_key(form)) {
        put_key(writer, value);
    } else {
        text_put_fixed(writer, (uint32_t)value, form->decimals);
        if (form->unit != NULL) {
            text_put_char(writer, ' ');
            text_put(writer, form->unit);
        }
    }
}

enum result settings_write(const struct settings *settings, char *ret, size_t size)
{
    struct text_writer writer = text_writer(ret, size);
    text_put(&writer, "# Written by afterset rider; may be edited by hand.\n");
    for (enum setting i = SETTING_MASS; i < SETTING_COUNT; i++) {
        if (!setting_is_known(settings, i))
            continue;
        text_put(&writer, forms[i].key);
        text_put_char(&writer, ' ');
        setting_put(&writer, settings, i);
        text_put_char(&writer, '\n');
    }
    return writer.failed ? RESULT_FULL : RESULT_OK;
}
