/*
 * Rides as lines: a table for people, objects for scripts.
 */
#ifndef APP_LOG_TABLE_H
#define APP_LOG_TABLE_H

#include "log_book.h"

/* Which rides, the newest first. */
struct log_choice {
    struct log_filter filter;
    int32_t first_day, last_day; /* both inclusive */
    int64_t at_most;
};

void log_table_print(const struct log_book *book, const struct log_choice *choice);
/* False: no memory. */
bool log_table_print_json(const struct log_book *book, const struct log_choice *choice);

#endif
