/*
 * Which part of the log to look at, as the commands that show it are told.
 */
#ifndef APP_LOG_VIEW_H
#define APP_LOG_VIEW_H

#include "log_book.h"

struct log_view {
    struct log_filter filter;
    int32_t before; /* CALENDAR_NO_DAY: not given */
};

/* For getopt_long(). */
enum { LOG_VIEW_BEFORE = 256, LOG_VIEW_PROFILE, LOG_VIEW_BIKE, LOG_VIEW_AFTER };
#define LOG_VIEW_OPTIONS                                        \
    {"before", required_argument, NULL, LOG_VIEW_BEFORE},       \
        {"profile", required_argument, NULL, LOG_VIEW_PROFILE}, \
        {"bike", required_argument, NULL, LOG_VIEW_BIKE},       \
    {                                                           \
        "after", required_argument, NULL, LOG_VIEW_AFTER        \
    }

/* Takes one of these; borrows the word. Complains for `verb` and gives false where it is wrong. */
bool log_view_take(const char *verb, int option, const char *word, struct log_view *ret);
/* Whether there are rides of that profile and on that bike, each by itself; complains for `verb`
 * where there are not, and names those there are. */
bool log_view_is_known(const char *verb, const struct log_view *view, const struct log_book *book);
/* The last day of the weeks to show. */
int32_t log_view_last_day(const struct log_view *view, const struct log_book *book, uint32_t weeks);

#endif
