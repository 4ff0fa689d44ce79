#include "log_weeks.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "calendar.h"
#include "ruler.h"

#define TREND_WEEKS 26

/* ---- blocks ---- */

static enum past_outcome outcome_of(const struct log_book *book, size_t index)
{
    const struct store_ride *ride = &book->rides[index].ride;
    struct earlier earlier;

    if (ride->state == STORE_RIDING)
        return PAST_UNFINISHED;
    if (ride->state == STORE_RECOVERED)
        return PAST_BROKEN_OFF;
    if (ride->summary.ending == STORE_ENDING_CUT_OFF)
        return PAST_CUT_OFF;
    if (ride->summary.ending != STORE_ENDING_DONE)
        return PAST_STOPPED;
    log_book_earlier(book, index, &earlier);
    if (earlier_word(&earlier, ride) == NULL)
        return PAST_NOT_COMPARED;
    switch (earlier_compare(&earlier, ride).verdict) {
    case COMPARE_IS_LOWER: return PAST_LOWER;
    case COMPARE_IS_NOISE: return PAST_EVEN;
    case COMPARE_IS_BETTER: return PAST_BETTER;
    case COMPARE_IS_LEARNING:
    case COMPARE_IS_ALONE: break;
    }
    return PAST_TOO_FEW;
}

static struct past_block block_of(const struct log_book *book, size_t index)
{
    const struct log_ride *from = &book->rides[index];
    const struct store_summary *summary = &from->ride.summary;
    struct past_block block = {
        .ride_id = from->ride.id,
        .started_unix_s = from->ride.started_unix_s,
        .day = from->day,
        .length_s = from->ride.length_ms > 0 ? from->ride.length_ms / 1000 : summary->duration_s,
        .work_j = summary->work_j,
        .power_w = summary->work_power_w,
        .calories_kcal = summary->calories_kcal,
        .outcome = outcome_of(book, index),
        .feel = from->ride.feel,
        .is_fresh = from->ride.is_fresh,
        .has_effort = from->ride.rating.has_effort,
        .effort = from->ride.rating.effort,
    };
    memcpy(block.title, from->ride.title, sizeof block.title);
    return block;
}

/* Numbers mostly go up with time, but for rides that were brought in later. */
static int by_start(const void *a, const void *b)
{
    const struct past_block *first = a, *second = b;

    if (first->started_unix_s != second->started_unix_s)
        return first->started_unix_s < second->started_unix_s ? -1 : 1;
    return (first->ride_id > second->ride_id) - (first->ride_id < second->ride_id);
}

static void gather_blocks(const struct log_book *book, const struct log_filter *filter,
                          struct log_weeks *ret)
{
    struct past *past = &ret->past;
    const int32_t end = past->first_day + (int32_t)past->weeks * 7;

    for (size_t i = 0; i < book->count; i++) {
        if (book->rides[i].day == CALENDAR_NO_DAY ||
            !log_filter_takes(filter, &book->rides[i].ride))
            continue;
        if (book->rides[i].day < past->first_day)
            past->has_earlier = true;
        else if (book->rides[i].day >= end)
            past->has_later = true;
        else
            ret->blocks[past->block_count++] = block_of(book, i);
    }
    qsort(ret->blocks, past->block_count, sizeof ret->blocks[0], by_start);
    past->blocks = ret->blocks;
}

/* ---- the trend, the best ---- */

static int by_point_day(const void *a, const void *b)
{
    const struct past_point *first = a, *second = b;
    return (first->day > second->day) - (first->day < second->day);
}

static bool is_in_trend(const struct past_trend *trend, const struct log_filter *filter,
                        const struct log_ride *from)
{
    const struct store_summary *summary = &from->ride.summary;

    return from->day >= trend->first_day && from->day <= trend->last_day &&
           summary->work_power_w > 0 && summary->work_power_w <= INT32_MAX &&
           summary->ending == STORE_ENDING_DONE && log_filter_takes(filter, &from->ride);
}

/* How much its power says of the rider. */
static int worth_of(const struct store_ride *ride)
{
    return ride->bike[0] == '\0' ? 0 : ruler_is_virtual(ride) ? 1 : 2;
}

static bool goes_before(const struct store_ride *ride, const struct store_ride *other)
{
    const int worth = worth_of(ride), others = worth_of(other);

    return worth != others ? worth > others : ride->started_unix_s > other->started_unix_s;
}

/* By whose power the trend is drawn: the newest block's, of those of which it is known; a virtual
 * bike's only where there is no other. */
static const struct store_ride *find_ruler(const struct log_book *book,
                                           const struct log_filter *filter,
                                           const struct past_trend *trend)
{
    const struct store_ride *ruler = NULL;

    for (size_t i = 0; i < book->count; i++) {
        const struct store_ride *ride = &book->rides[i].ride;
        if (is_in_trend(trend, filter, &book->rides[i]) && !ruler_is_mixed(ride) &&
            (ruler == NULL || goes_before(ride, ruler)))
            ruler = ride;
    }
    return ruler;
}

static void say_sources(uint32_t left_out, uint32_t taken_over, char *ret, size_t size)
{
    struct text_writer writer = text_writer(ret, size);

    if (left_out > 0) {
        text_put_unsigned(&writer, left_out);
        text_put(&writer, " by other sources left out");
    }
    if (taken_over > 0) {
        text_put(&writer, left_out > 0 ? ", " : "");
        text_put_unsigned(&writer, taken_over);
        text_put(&writer, left_out > 0 ? " taken over" : " by other sources taken over");
    }
}

static void gather_trend(const struct log_book *book, const struct log_filter *filter,
                         struct log_weeks *ret)
{
    struct past_trend *trend = &ret->past.trend;
    uint32_t left_out = 0, taken_over = 0;

    trend->last_day = ret->past.first_day + (int32_t)ret->past.weeks * 7 - 1;
    trend->first_day = trend->last_day - TREND_WEEKS * 7 + 1;
    const struct store_ride *ruler = find_ruler(book, filter, trend);
    /* From the oldest on, so that blocks of a day mostly stay in order. */
    for (size_t i = book->count; i-- > 0;) {
        const struct store_ride *ride = &book->rides[i].ride;
        double factor = 0;
        if (!is_in_trend(trend, filter, &book->rides[i]))
            continue;
        if (ruler == NULL || !ruler_factor_anywhere(ride, ruler, &factor)) {
            left_out++;
            continue;
        }
        taken_over += !ruler_is_same(ride, ruler);
        ret->points[trend->count++] = (struct past_point){
            book->rides[i].day, (int32_t)lround(fmin(ride->summary.work_power_w * factor, 1e9))};
    }
    qsort(ret->points, trend->count, sizeof ret->points[0], by_point_day);
    trend->points = ret->points;
    say_sources(left_out, taken_over, ret->sources, sizeof ret->sources);
    trend->sources = ret->sources;
    calendar_months(trend->first_day, trend->last_day, trend);
}

static void take_best(struct past_best *best, const struct log_ride *ride, uint32_t power_w)
{
    if (power_w <= best->power_w)
        return;
    best->power_w = power_w;
    best->ride_id = ride->ride.id;
    best->date = calendar_date(ride->day);
}

/* From the oldest on: a best that was only reached again stays that of its day. */
static void gather_bests(const struct log_book *book, const struct log_filter *filter,
                         struct past *past)
{
    static const char *const spans[PAST_BEST_COUNT] = {"5 s", "30 s", "1 min", "3 min"};

    for (size_t i = 0; i < PAST_BEST_COUNT; i++)
        past->bests[i].span = spans[i];
    for (size_t i = book->count; i-- > 0;) {
        const struct log_ride *ride = &book->rides[i];
        const struct store_summary *summary = &ride->ride.summary;
        if (ride->day == CALENDAR_NO_DAY || !log_filter_takes(filter, &ride->ride))
            continue;
        take_best(&past->bests[0], ride, summary->best_5s_w);
        take_best(&past->bests[1], ride, summary->best_30s_w);
        take_best(&past->bests[2], ride, summary->best_60s_w);
        take_best(&past->bests[3], ride, summary->best_180s_w);
    }
}

/* ---- all of it ---- */

static void say_only(const struct log_filter *filter, char *ret, size_t size)
{
    static const char *const legs[] = {
        [LOG_ANY_LEGS] = "", [LOG_AFTER_LEGS] = " after leg work", [LOG_FRESH] = " fresh"};

    ret[0] = '\0';
    if (filter->profile != NULL || filter->bike != NULL || filter->legs != LOG_ANY_LEGS)
        (void)snprintf(ret, size, "only%s%s%s%s%s", filter->profile != NULL ? " " : "",
                       filter->profile != NULL ? filter->profile : "",
                       filter->bike != NULL ? " on " : "", filter->bike != NULL ? filter->bike : "",
                       legs[filter->legs]);
}

bool log_weeks_gather(const struct log_book *book, const struct log_filter *filter, uint32_t weeks,
                      int32_t last_day, struct log_weeks *ret)
{
    struct past *past = &ret->past;

    *ret = (struct log_weeks){.past = {.weeks = weeks}};
    ret->blocks = malloc((book->count + 1) * sizeof ret->blocks[0]);
    ret->points = malloc((book->count + 1) * sizeof ret->points[0]);
    if (ret->blocks == NULL || ret->points == NULL)
        return false;
    past->first_day = calendar_monday(last_day) - ((int32_t)weeks - 1) * 7;
    for (uint32_t i = 0; i < weeks * 7; i++)
        ret->dates[i] = calendar_date(past->first_day + (int32_t)i);
    past->dates = ret->dates;
    say_only(filter, ret->only, sizeof ret->only);
    past->only = ret->only;
    gather_blocks(book, filter, ret);
    gather_trend(book, filter, ret);
    gather_bests(book, filter, past);
    return true;
}

void log_weeks_free(struct log_weeks *weeks)
{
    free(weeks->blocks);
    free(weeks->points);
    *weeks = (struct log_weeks){0};
}

/* ---- which weeks ---- */

/* The last day with a block before `end`, or CALENDAR_NO_DAY. */
static int32_t last_before(const struct log_book *book, const struct log_filter *filter,
                           int32_t end)
{
    int32_t last = CALENDAR_NO_DAY;

    for (size_t i = 0; i < book->count; i++)
        if (book->rides[i].day < end && book->rides[i].day > last &&
            log_filter_takes(filter, &book->rides[i].ride))
            last = book->rides[i].day;
    return last;
}

int32_t log_weeks_newest(const struct log_book *book, const struct log_filter *filter,
                         uint32_t weeks, int32_t today)
{
    const int32_t last = last_before(book, filter, today + 1);

    if (last == CALENDAR_NO_DAY || last >= calendar_monday(today) - ((int32_t)weeks - 1) * 7)
        return today;
    return last;
}

int32_t log_weeks_earlier(const struct log_book *book, const struct log_filter *filter,
                          const struct past *past)
{
    const int32_t last = last_before(book, filter, past->first_day);
    return last != CALENDAR_NO_DAY ? last : past->first_day;
}

int32_t log_weeks_later(const struct log_book *book, const struct log_filter *filter,
                        const struct past *past)
{
    const int32_t end = past->first_day + (int32_t)past->weeks * 7;
    int32_t first = INT32_MAX;

    for (size_t i = 0; i < book->count; i++)
        if (book->rides[i].day >= end && book->rides[i].day < first &&
            log_filter_takes(filter, &book->rides[i].ride))
            first = book->rides[i].day;
    return first != INT32_MAX ? calendar_monday(first) + (int32_t)past->weeks * 7 - 1 : end - 1;
}
