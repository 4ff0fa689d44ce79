#include "log_view.h"

#include <string.h>

#include "app/command.h"
#include "base/text.h"
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

enum { NAMED_AT_MOST = 6 };

typedef const char *next_func(const struct log_book *book, const char *now);

/* "'virtual', 'unix:/bike'" */
static void put_those(struct text_writer *writer, const struct log_book *book, next_func *next)
{
    const char *text = next(book, NULL);

    for (int named = 0; text != NULL; text = next(book, text), named++) {
        text_put(writer, named == 0 ? "" : ", ");
        if (named == NAMED_AT_MOST) {
            text_put(writer, "and more");
            return;
        }
        text_put_char(writer, '\'');
        text_put(writer, text);
        text_put_char(writer, '\'');
    }
}

static bool is_known(const char *verb, const char *option, const char *wanted,
                     const struct log_book *book, next_func *next)
{
    char those[NAMED_AT_MOST * 100 + 16];
    struct text_writer writer = text_writer(those, sizeof those);

    if (wanted == NULL)
        return true;
    for (const char *text = next(book, NULL); text != NULL; text = next(book, text))
        if (strcmp(text, wanted) == 0)
            return true;
    put_those(&writer, book, next);
    complain("%s: %s '%s': there is no such ride; there are %s", verb, option, wanted,
             those[0] != '\0' ? those : "none that name one");
    return false;
}

bool log_view_is_known(const char *verb, const struct log_view *view, const struct log_book *book)
{
    const char *const bike = view->filter.bike, *const profile = view->filter.profile;

    return is_known(verb, "--bike", bike, book, log_book_next_bike) &&
           is_known(verb, "--profile", profile, book, log_book_next_profile);
}

int32_t log_view_last_day(const struct log_view *view, const struct log_book *book, uint32_t weeks)
{
    if (view->before != CALENDAR_NO_DAY)
        return view->before - 1;
    return log_weeks_newest(book, &view->filter, weeks, calendar_today());
}
