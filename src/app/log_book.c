#include "log_book.h"

#include <stdlib.h>
#include <string.h>

#include "calendar.h"

static bool add(struct log_book *book, size_t *capacity, const struct store_ride *ride)
{
    if (book->count == *capacity) {
        const size_t larger = *capacity > 0 ? 2 * *capacity : 64;
        struct log_ride *rides = realloc(book->rides, larger * sizeof rides[0]);
        if (rides == NULL)
            return false;
        book->rides = rides;
        *capacity = larger;
    }
    book->rides[book->count++] =
        (struct log_ride){.ride = *ride, .day = calendar_day(ride->started_unix_s)};
    return true;
}

enum result log_book_read(struct store *store, const struct rider *rider, struct log_book *ret)
{
    struct store_ride ride = {.id = INT64_MAX};
    size_t capacity = 0;
    enum result result;

    *ret = (struct log_book){.rider = *rider};
    while ((result = store_next_older(store, ride.id, &ride)) == RESULT_OK)
        if (!add(ret, &capacity, &ride))
            return RESULT_FULL;
    return result == RESULT_NOT_FOUND ? RESULT_OK : result;
}

void log_book_free(struct log_book *book)
{
    free(book->rides);
    *book = (struct log_book){0};
}

/* ---- the kinds there are ---- */

static const char *title_of(const struct store_ride *ride)
{
    return ride->title;
}

static const char *bike_of(const struct store_ride *ride)
{
    return ride->bike;
}

typedef const char *text_func(const struct store_ride *ride);

/* The newest ride with that text. */
static size_t first_with(const struct log_book *book, text_func *of, const char *text)
{
    size_t at = 0;

    while (at < book->count && strcmp(of(&book->rides[at].ride), text) != 0)
        at++;
    return at;
}

static const char *next_text(const struct log_book *book, text_func *of, const char *now)
{
    for (size_t at = now == NULL ? 0 : first_with(book, of, now) + 1; at < book->count; at++) {
        const char *text = of(&book->rides[at].ride);
        if (text[0] != '\0' && first_with(book, of, text) == at)
            return text;
    }
    return NULL;
}

const char *log_book_next_profile(const struct log_book *book, const char *now)
{
    return next_text(book, title_of, now);
}

const char *log_book_next_bike(const struct log_book *book, const char *now)
{
    return next_text(book, bike_of, now);
}

bool log_filter_takes(const struct log_filter *filter, const struct store_ride *ride)
{
    if (filter->profile != NULL && strcmp(filter->profile, ride->title) != 0)
        return false;
    if (filter->bike != NULL && strcmp(filter->bike, ride->bike) != 0)
        return false;
    return filter->legs == LOG_ANY_LEGS || (filter->legs == LOG_FRESH) == ride->is_fresh;
}

void log_book_earlier(const struct log_book *book, size_t index, struct earlier *ret)
{
    const struct store_ride *now = &book->rides[index].ride;

    *ret = (struct earlier){0};
    for (size_t i = index + 1; i < book->count; i++)
        earlier_add(ret, now, &book->rides[i].ride);
    earlier_added(ret);
    ret->slope.power_w = book->rider.critical_power_w;
}
