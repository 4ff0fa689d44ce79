/*
 * What there is to show of some weeks of the log.
 */
#ifndef APP_LOG_WEEKS_H
#define APP_LOG_WEEKS_H

#include "log_book.h"
#include "ui/past.h"

/* Must not move while `past` is in use. */
struct log_weeks {
    struct past past;
    struct past_date dates[PAST_WEEKS_MAX * 7];
    struct past_block *blocks;
    struct past_point *points;
    char only[200], sources[80];
};

/* The last of these weeks has `last_day` in it; the trend reaches half a year back from there.
 * False: no memory. Free with log_weeks_free(), also then. */
bool log_weeks_gather(const struct log_book *book, const struct log_filter *filter, uint32_t weeks,
                      int32_t last_day, struct log_weeks *ret);
void log_weeks_free(struct log_weeks *weeks);

/* A last day: of these weeks, or where they have no blocks of those that end with the newest. */
int32_t log_weeks_newest(const struct log_book *book, const struct log_filter *filter,
                         uint32_t weeks, int32_t today);
/* Of the weeks that end with the next block before those shown, or begin with the next after. */
int32_t log_weeks_earlier(const struct log_book *book, const struct log_filter *filter,
                          const struct past *past);
int32_t log_weeks_later(const struct log_book *book, const struct log_filter *filter,
                        const struct past *past);

#endif
