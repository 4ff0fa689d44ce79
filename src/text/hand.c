#include "text/hand.h"

#include <assert.h>
#include <string.h>

#define POWER_MAX_W 2500u /* beyond any rider's mean */
#define AGREE_PCT   10u   /* of each other, for what was read off two displays */

static const char *const names[HAND_FIELD_COUNT] = {
    [HAND_DATE] = "date",
    [HAND_LENGTH] = "length",
    [HAND_WORK] = "work_kj",
    [HAND_POWER] = "power_w",
    [HAND_DISTANCE] = "distance_km",
    [HAND_CALORIES] = "calories_kcal",
    [HAND_HEART] = "heart_bpm",
    [HAND_PROFILE] = "profile",
    [HAND_BIKE] = "bike",
    [HAND_AFTER] = "after",
    [HAND_FEEL] = "feel",
    [HAND_EFFORT] = "effort",
    [HAND_NOTE] = "note",
};

const char *hand_field_name(enum hand_field field)
{
    return names[field];
}

/* ---- one value ---- */

static enum result refuse(struct text_word word, const char *expected, struct text_fault *ret_fault)
{
    text_fault_word(ret_fault, word, expected);
    return RESULT_INVALID;
}

static bool is_leap(uint32_t year)
{
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static uint32_t days_in(uint32_t year, uint32_t month)
{
    static const uint8_t days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && is_leap(year) ? 29 : days[month - 1];
}

static bool take_clock(struct text_word word, struct hand_date *date)
{
    uint32_t hour, minute;

    if (!text_take_number(&word, 0, &hour) || !text_take(&word, ":") ||
        !text_take_number(&word, 0, &minute) || word.length > 0 || hour > 23 || minute > 59)
        return false;
    date->hour = (uint8_t)hour;
    date->minute = (uint8_t)minute;
    return true;
}

static enum result take_date(struct text_word word, struct hand_date *ret,
                             struct text_fault *ret_fault)
{
    static const char expected[] = "a day such as 2026-11-20, or 2026-11-20 18:30";
    struct hand_date date = {.set = true, .hour = 12};
    struct text_word rest = word;
    uint32_t year, month, day;

    if (!text_take_number(&rest, 0, &year) || !text_take(&rest, "-") ||
        !text_take_number(&rest, 0, &month) || !text_take(&rest, "-") ||
        !text_take_number(&rest, 0, &day) || year < 1990 || year > 2200 || month < 1 ||
        month > 12 || day < 1 || day > days_in(year, month))
        return refuse(word, expected, ret_fault);
    if ((text_take(&rest, " ") || text_take(&rest, "T")) ? !take_clock(rest, &date)
                                                         : rest.length > 0)
        return refuse(word, expected, ret_fault);
    date.year = (uint16_t)year;
    date.month = (uint8_t)month;
    date.day = (uint8_t)day;
    *ret = date;
    return RESULT_OK;
}

static enum result take_length(struct text_word word, uint32_t *ret_s, struct text_fault *ret_fault)
{
    struct text_word rest = word;
    uint32_t length_ms;

    if (!text_take_time(&rest, &length_ms) || rest.length > 0 ||
        length_ms / 1000 < HAND_DURATION_MIN_S || length_ms / 1000 > HAND_DURATION_MAX_S)
        return refuse(word, "minutes and seconds from 1:00 to 180:00", ret_fault);
    *ret_s = length_ms / 1000;
    return RESULT_OK;
}

struct number {
    unsigned decimals;
    uint32_t least, most; /* in units of the last decimal */
    const char *expected;
};

static const struct number numbers[HAND_FIELD_COUNT] = {
    [HAND_WORK] = {3, 1000, 20000000, "kilojoules from 1 to 20000"},
    [HAND_POWER] = {0, 1, POWER_MAX_W, "whole watts from 1 to 2500"},
    [HAND_DISTANCE] = {3, 1, 300000, "kilometres up to 300"},
    [HAND_CALORIES] = {0, 1, 20000, "whole kilocalories from 1 to 20000"},
    [HAND_HEART] = {0, 30, 240, "beats a minute from 30 to 240"},
    [HAND_FEEL] = {0, 1, 5, "how the legs felt, 1 bad to 5 good"},
    [HAND_EFFORT] = {0, 0, 10, "how hard it was, 0 to 10"},
};

static enum result take_number(struct text_word word, enum hand_field field, uint32_t *ret,
                               struct text_fault *ret_fault)
{
    const struct number *number = &numbers[field];
    struct text_word rest = word;
    uint32_t value;

    if (!text_take_number(&rest, number->decimals, &value) || rest.length > 0 ||
        value < number->least || value > number->most)
        return refuse(word, number->expected, ret_fault);
    *ret = value;
    return RESULT_OK;
}

static enum result take_text(struct text_word word, char *ret, size_t most, const char *expected,
                             struct text_fault *ret_fault)
{
    if (word.length > most || memchr(word.text, '\t', word.length) != NULL)
        return refuse(word, expected, ret_fault);
    memcpy(ret, word.text, word.length);
    ret[word.length] = '\0';
    return RESULT_OK;
}

static enum result take_after(struct text_word word, bool *ret, struct text_fault *ret_fault)
{
    if (!text_word_is(word, "legs") && !text_word_is(word, "fresh"))
        return refuse(word, "legs or fresh", ret_fault);
    *ret = text_word_is(word, "fresh");
    return RESULT_OK;
}

enum result hand_take(struct hand_block *block, enum hand_field field, struct text_word word,
                      struct text_fault *ret_fault)
{
    switch (field) {
    case HAND_DATE: return take_date(word, &block->date, ret_fault);
    case HAND_LENGTH: return take_length(word, &block->duration_s, ret_fault);
    case HAND_WORK: return take_number(word, field, &block->work_j, ret_fault);
    case HAND_POWER: return take_number(word, field, &block->power_w, ret_fault);
    case HAND_DISTANCE: return take_number(word, field, &block->distance_m, ret_fault);
    case HAND_CALORIES: return take_number(word, field, &block->calories_kcal, ret_fault);
    case HAND_HEART: return take_number(word, field, &block->heart_bpm, ret_fault);
    case HAND_FEEL: return take_number(word, field, &block->feel, ret_fault);
    case HAND_EFFORT:
        block->has_effort = true;
        return take_number(word, field, &block->effort, ret_fault);
    case HAND_AFTER: return take_after(word, &block->is_fresh, ret_fault);
    case HAND_PROFILE:
        return take_text(word, block->profile, PLAN_TITLE_MAX, "a title of at most 60 octets",
                         ret_fault);
    case HAND_BIKE:
        return take_text(word, block->bike, HAND_BIKE_MAX, "a bike of at most 127 octets",
                         ret_fault);
    case HAND_NOTE:
        return take_text(word, block->note, HAND_NOTE_MAX, "a note of at most 240 octets",
                         ret_fault);
    case HAND_FIELD_COUNT: break;
    }
    assert(false);
    return RESULT_INVALID;
}

/* ---- a whole block ---- */

/* Within so many per cent of the larger one. */
static bool agree(uint64_t a, uint64_t b)
{
    const uint64_t larger = a > b ? a : b, smaller = a > b ? b : a;
    return (larger - smaller) * 100 <= larger * AGREE_PCT;
}

enum result hand_finish(struct hand_block *block, struct text_word place,
                        struct text_fault *ret_fault)
{
    const uint64_t power_j = (uint64_t)block->power_w * block->duration_s;
    const char *missing = !block->date.set                            ? "a date"
                          : block->duration_s == 0                    ? "a length"
                          : block->work_j == 0 && block->power_w == 0 ? "work or power"
                                                                      : NULL;

    if (missing != NULL) {
        text_fault_at(ret_fault, place, missing, "none");
        return RESULT_INVALID;
    }
    if (block->work_j > 0 && block->power_w > 0 && !agree(block->work_j, power_j)) {
        text_fault_at(ret_fault, place, "work and power that agree within 10 % over the length",
                      "work that is not power times length");
        return RESULT_INVALID;
    }
    if (block->work_j == 0)
        block->work_j = (uint32_t)power_j;
    if (block->power_w == 0)
        block->power_w = (block->work_j + block->duration_s / 2) / block->duration_s;
    if (block->power_w > POWER_MAX_W) {
        text_fault_at(ret_fault, place, "a mean power of at most 2500 W", "more work than that");
        return RESULT_INVALID;
    }
    return RESULT_OK;
}
