#include "log_view.h"

#include <string.h>

#include "app/command.h"
#include "calendar.h"
#include "log_weeks.h"

static bool take_legs(const char *verb, const char *word, enum log_legs *ret)
{
    if (strcmp(word, "fresh") != 0 && strcmp(word, "legs") != 0) {
        complain("%s: --after takes fresh or legs, not '%s'", verb, word);
        return false;
    }
    *ret = word[0] == 'f' ? LOG_FRESH : LOG_AFTER_LEGS;
    return true;
}

bool log_view_take(const char *verb, int option, const char *word, struct log_view *ret)
{
    if (option == LOG_VIEW_AFTER)
        return take_legs(verb, word, &ret->filter.legs);
    if (option == LOG_VIEW_BEFORE && !calendar_read(word, &ret->before)) {
        complain("%s: --before takes a day such as 2025-11-10, not '%s'", verb, word);
        return false;
    }
    if (option == LOG_VIEW_PROFILE)
        ret->filter.profile = word;
    else if (option == LOG_VIEW_BIKE)
        ret->filter.bike = word;
    return true;
}

int32_t log_view_last_day(const struct log_view *view, const struct log_book *book, uint32_t weeks)
{
    if (view->before != CALENDAR_NO_DAY)
        return view->before - 1;
    return log_weeks_newest(book, &view->filter, weeks, calendar_today());
}
