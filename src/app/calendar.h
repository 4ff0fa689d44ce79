/*
 * The rider's calendar: which day a time belongs to, and what that day is called.
 */
#ifndef APP_CALENDAR_H
#define APP_CALENDAR_H

#include <stdbool.h>
#include <stdint.h>

#include "ui/past.h"

/* Before every other: of a time beyond the calendar, which only a damaged file has. */
#define CALENDAR_NO_DAY INT32_MIN

/* Days since 1970-01-01, in the local time zone. */
int32_t calendar_day(int64_t unix_s);
int32_t calendar_today(void);
/* The Monday of that week. */
int32_t calendar_monday(int32_t day);
/* Of any day but CALENDAR_NO_DAY. */
struct past_date calendar_date(int32_t day);
/* "2025-11-10": false where there is no such day, or it is before 1970 or after 9999. */
bool calendar_read(const char *text, int32_t *ret);
/* The firsts of the months from `first` to `last`, the latest where there is no room for all. */
void calendar_months(int32_t first, int32_t last, struct past_trend *ret);

#endif
