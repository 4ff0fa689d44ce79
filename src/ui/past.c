#include "ui/past.h"

#include <inttypes.h>
#include <stdio.h>

static const char *pick(const char *const *list, size_t count, size_t number)
{
    return number < count ? list[number] : "?";
}

#define PICK(list, number) pick(list, sizeof(list) / sizeof((list)[0]), (size_t)(number))

const char *past_outcome_short(enum past_outcome outcome)
{
    static const char *const list[PAST_OUTCOME_COUNT] = {
        [PAST_NOT_COMPARED] = "-", [PAST_TOO_FEW] = "new",    [PAST_LOWER] = "less",
        [PAST_EVEN] = "even",      [PAST_BETTER] = "beat",    [PAST_STOPPED] = "stop",
        [PAST_CUT_OFF] = "cut",    [PAST_BROKEN_OFF] = "off", [PAST_UNFINISHED] = "open",
    };
    return PICK(list, outcome);
}

const char *past_outcome_text(enum past_outcome outcome)
{
    static const char *const list[PAST_OUTCOME_COUNT] = {
        [PAST_NOT_COMPARED] = "not compared",
        [PAST_TOO_FEW] = "too few before it to say",
        [PAST_LOWER] = "lower than those before",
        [PAST_EVEN] = "within the noise",
        [PAST_BETTER] = "better than those before",
        [PAST_STOPPED] = "stopped",
        [PAST_CUT_OFF] = "cut off",
        [PAST_BROKEN_OFF] = "broken off",
        [PAST_UNFINISHED] = "unfinished",
    };
    return PICK(list, outcome);
}

const char *past_month_text(int month)
{
    static const char *const list[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                       "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    return month < 1 ? "?" : PICK(list, month - 1);
}

const char *past_weekday_text(int32_t days_from_monday)
{
    static const char *const list[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    return days_from_monday < 0 ? "?" : PICK(list, days_from_monday);
}

void past_span(const struct past *past, char *ret, size_t size)
{
    const struct past_date *first = &past->dates[0],
                           *last = &past->dates[(size_t)past->weeks * 7 - 1];
    char year[16] = "";

    if (first->year != last->year)
        (void)snprintf(year, sizeof year, " %d", first->year);
    (void)snprintf(ret, size, "%d %s%s to %d %s %d", first->day, past_month_text(first->month),
                   year, last->day, past_month_text(last->month), last->year);
}

void past_sums(const struct past *past, char *ret, size_t size)
{
    uint64_t work_j = 0, calories_kcal = 0;
    size_t better = 0;
    char beaten[48] = "";

    for (size_t i = 0; i < past->block_count; i++) {
        work_j += past->blocks[i].work_j;
        calories_kcal += past->blocks[i].calories_kcal;
        better += past->blocks[i].outcome == PAST_BETTER;
    }
    if (past->block_count == 0) {
        (void)snprintf(ret, size, "no blocks");
        return;
    }
    if (better > 0)
        (void)snprintf(beaten, sizeof beaten, ", %zu beat those before", better);
    (void)snprintf(ret, size, "%zu %s, %.1f kJ, %" PRIu64 " kcal%s", past->block_count,
                   past->block_count == 1 ? "block" : "blocks", (double)work_j / 1000,
                   calories_kcal, beaten);
}
