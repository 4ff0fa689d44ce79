/*
 * Every ride that is remembered, read once: for what looks at many of them.
 */
#ifndef APP_LOG_BOOK_H
#define APP_LOG_BOOK_H

#include "body/rider.h"
#include "earlier.h"
#include "port/store.h"

struct log_ride {
    struct store_ride ride;
    int32_t day; /* see calendar.h */
};

/* Zeroed: no rides. */
struct log_book {
    size_t count;
    struct log_ride *rides; /* the newest first */
    struct rider rider;     /* whose critical power compares blocks of different length */
};

enum log_legs { LOG_ANY_LEGS, LOG_AFTER_LEGS, LOG_FRESH, LOG_LEGS_COUNT };

/* Which rides are looked at. Zeroed: all. Borrowed. */
struct log_filter {
    const char *profile, *bike; /* NULL: any */
    enum log_legs legs;
};

/* Free with log_book_free(), also after a failure. RESULT_FULL: no memory; else as the store. */
MUST_USE enum result log_book_read(struct store *store, const struct rider *rider,
                                   struct log_book *ret);
void log_book_free(struct log_book *book);

/* The profile that was ridden last of those after `now`, which NULL is before all of them; NULL
 * after the last. Borrowed from the book. Likewise the bike. */
const char *log_book_next_profile(const struct log_book *book, const char *now);
const char *log_book_next_bike(const struct log_book *book, const char *now);

bool log_filter_takes(const struct log_filter *filter, const struct store_ride *ride);
/* Those that the ride at `index` is compared with, whatever is filtered. */
void log_book_earlier(const struct log_book *book, size_t index, struct earlier *ret);

#endif
