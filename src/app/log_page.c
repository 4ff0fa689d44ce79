#include "log_page.h"

#include <stdlib.h>

#include "log_weeks.h"
#include "page.h"
#include "paper.h"
#include "ui/fortnight.h"

#define WEEKS 2
#define DAYS  (WEEKS * 7)

struct shown {
    const struct log_book *book;
    struct log_filter filter;
    struct log_weeks weeks;
    bool is_full;
};

static void go_to(struct shown *shown, int32_t last_day)
{
    log_weeks_free(&shown->weeks);
    if (!log_weeks_gather(shown->book, &shown->filter, WEEKS, last_day, &shown->weeks))
        shown->is_full = true;
}

static void draw(void *user, struct canvas *canvas)
{
    const struct shown *shown = user;
    fortnight_draw(&shown->weeks.past, canvas);
}

/* The same days of other blocks. */
static void look_at(struct shown *shown)
{
    go_to(shown, shown->weeks.past.first_day + DAYS - 1);
}

static bool press(void *user, struct press press)
{
    struct shown *shown = user;
    const struct past *past = &shown->weeks.past;

    switch (fortnight_press(past, press)) {
    case FORTNIGHT_EARLIER:
        go_to(shown, log_weeks_earlier(shown->book, &shown->filter, past));
        return shown->is_full;
    case FORTNIGHT_LATER:
        go_to(shown, log_weeks_later(shown->book, &shown->filter, past));
        return shown->is_full;
    case FORTNIGHT_PROFILE:
        shown->filter.profile = log_book_next_profile(shown->book, shown->filter.profile);
        look_at(shown);
        return shown->is_full;
    case FORTNIGHT_BIKE:
        shown->filter.bike = log_book_next_bike(shown->book, shown->filter.bike);
        look_at(shown);
        return shown->is_full;
    case FORTNIGHT_LEGS:
        shown->filter.legs = (shown->filter.legs + 1) % LOG_LEGS_COUNT;
        look_at(shown);
        return shown->is_full;
    case FORTNIGHT_LEAVE: return true;
    case FORTNIGHT_NOTHING: break;
    }
    return false;
}

bool log_page_show(const struct log_book *book, const struct log_filter *filter, int32_t last_day,
                   enum result *ret_result)
{
    struct shown shown = {.book = book, .filter = *filter};
    enum page_end end = PAGE_DONE;

    go_to(&shown, last_day);
    if (!shown.is_full)
        end = page_run(&(struct page){NULL, NULL, draw, press, &shown});
    log_weeks_free(&shown.weeks);
    *ret_result = shown.is_full ? RESULT_FULL : RESULT_OK;
    return end != PAGE_UNUSABLE;
}

bool log_page_print(const struct log_book *book, const struct log_filter *filter, uint32_t weeks,
                    int32_t last_day)
{
    struct log_weeks gathered;
    struct canvas *canvas = NULL;
    bool is_printed = false;

    if (log_weeks_gather(book, filter, weeks, last_day, &gathered))
        canvas = paper_new(fortnight_rows(&gathered.past));
    if (canvas != NULL) {
        fortnight_print(&gathered.past, canvas);
        paper_print(canvas);
        is_printed = true;
    }
    log_weeks_free(&gathered);
    free(canvas);
    return is_printed;
}
