#include "calendar.h"

#include <stdlib.h>
#include <time.h>

#include "text/lines.h"

#define DAY_S 86400

static int32_t day_of(struct tm parts)
{
    struct tm midnight = {
        .tm_year = parts.tm_year, .tm_mon = parts.tm_mon, .tm_mday = parts.tm_mday};
    const time_t at = timegm(&midnight);

    /* Rounded down, for what was before 1970. */
    return (int32_t)(at / DAY_S - (at % DAY_S < 0));
}

int32_t calendar_day(int64_t unix_s)
{
    const time_t at = (time_t)unix_s;
    struct tm parts;

    if (localtime_r(&at, &parts) == NULL || parts.tm_year > 9999 - 1900 || parts.tm_year < -1900)
        return CALENDAR_NO_DAY;
    return day_of(parts);
}

int32_t calendar_today(void)
{
    return calendar_day((int64_t)time(NULL));
}

int32_t calendar_monday(int32_t day)
{
    const int32_t since_monday = (day + 3) % 7; /* 1970-01-01 was a Thursday */
    return day - since_monday - (since_monday < 0 ? 7 : 0);
}

struct past_date calendar_date(int32_t day)
{
    const time_t at = (time_t)day * DAY_S;
    struct tm parts = {0};

    (void)gmtime_r(&at, &parts);
    return (struct past_date){parts.tm_year + 1900, parts.tm_mon + 1, parts.tm_mday};
}

bool calendar_read(const char *text, int32_t *ret)
{
    struct text_word word = text_word(text);
    uint32_t year, month, day;

    if (word.length != 10 || !text_take_number(&word, 0, &year) || !text_take(&word, "-") ||
        !text_take_number(&word, 0, &month) || !text_take(&word, "-") ||
        !text_take_number(&word, 0, &day) || word.length > 0)
        return false;
    if (year < 1970 || year > 9999 || month < 1 || month > 12 || day < 1 || day > 31)
        return false;
    const int32_t number = day_of(
        (struct tm){.tm_year = (int)year - 1900, .tm_mon = (int)month - 1, .tm_mday = (int)day});
    /* timegm() makes the 3rd of March of the 31st of February. */
    if ((uint32_t)calendar_date(number).day != day)
        return false;
    *ret = number;
    return true;
}

void calendar_months(int32_t first, int32_t last, struct past_trend *ret)
{
    ret->month_count = 0;
    for (int32_t day = last; day >= first && ret->month_count < PAST_MONTHS_MAX; day--) {
        const struct past_date date = calendar_date(day);
        if (date.day == 1)
            ret->months[ret->month_count++] = (struct past_month){day, date.month};
    }
    for (size_t i = 0; i < ret->month_count / 2; i++) {
        const struct past_month month = ret->months[i];
        ret->months[i] = ret->months[ret->month_count - 1 - i];
        ret->months[ret->month_count - 1 - i] = month;
    }
}
