/*
 * The weeks of the log, on the terminal or printed.
 */
#ifndef APP_LOG_PAGE_H
#define APP_LOG_PAGE_H

#include "log_book.h"

/* Two weeks that can be walked through, until the rider leaves or there is no memory. False: there
 * is no terminal that can be drawn on, and nothing was shown. */
bool log_page_show(const struct log_book *book, const struct log_filter *filter, int32_t last_day,
                   enum result *ret_result);
/* False: no memory. */
bool log_page_print(const struct log_book *book, const struct log_filter *filter, uint32_t weeks,
                    int32_t last_day);

#endif
