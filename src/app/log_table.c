#include "log_table.h"

#include <inttypes.h>
#include <stdio.h>

#include "app/ride_record.h"

#define TITLE_COLUMNS 18

static bool continues_character(char octet)
{
    return ((unsigned char)octet & 0xC0u) == 0x80u;
}

/* Exactly TITLE_COLUMNS columns, counting a character as one; a longer title ends in dots. */
static void print_title(const char *title)
{
    size_t columns = 0, cut = 0, at = 0;
    for (; title[at] != '\0'; at++) {
        if (continues_character(title[at]))
            continue;
        if (columns == TITLE_COLUMNS - 3)
            cut = at;
        columns++;
    }
    if (columns > TITLE_COLUMNS)
        printf("%.*s...", (int)cut, title);
    else
        printf("%s%*s", title, (int)(TITLE_COLUMNS - columns), "");
}

static void print_row(const struct store_ride *ride)
{
    const struct store_summary *summary = &ride->summary;
    char started[40], length[16], calories[16] = "-";
    ride_record_started(ride, started, sizeof started);
    printf("%4" PRId64 "  %-16s  ", ride->id, started);
    print_title(ride->title);
    if (ride->state == STORE_RIDING) {
        printf("  %5s %6s  %4s  %4s  %s\n", "-", "-", "-", "-", ride_record_end(ride));
        return;
    }
    snprintf(length, sizeof length, "%u:%02u", summary->duration_s / 60, summary->duration_s % 60);
    if (summary->calories_kcal > 0)
        snprintf(calories, sizeof calories, "%u", summary->calories_kcal);
    printf("  %5s %6.1f  %4u  %4s  %s", length, summary->work_j / 1000.0, summary->average_power_w,
           calories, ride_record_end(ride));
    if (ride->rating.has_effort)
        printf(", %u/10", ride->rating.effort);
    putchar('\n');
}

static bool is_chosen(const struct log_choice *choice, const struct log_ride *ride)
{
    return ride->day >= choice->first_day && ride->day <= choice->last_day &&
           log_filter_takes(&choice->filter, &ride->ride);
}

void log_table_print(const struct log_book *book, const struct log_choice *choice)
{
    int64_t rows = 0;

    for (size_t i = 0; i < book->count && rows < choice->at_most; i++) {
        if (!is_chosen(choice, &book->rides[i]))
            continue;
        if (rows++ == 0)
            puts("Ride  Started           Profile              Time     kJ     W  kcal  End");
        print_row(&book->rides[i].ride);
    }
    if (rows == 0)
        puts("No such rides.");
}

bool log_table_print_json(const struct log_book *book, const struct log_choice *choice)
{
    int64_t rows = 0;

    for (size_t i = 0; i < book->count && rows < choice->at_most; i++) {
        const struct store_ride *ride = &book->rides[i].ride;
        struct earlier earlier;
        if (!is_chosen(choice, &book->rides[i]))
            continue;
        rows++;
        log_book_earlier(book, i, &earlier);
        if (!ride_record_print_json(ride, earlier_word(&earlier, ride)))
            return false;
    }
    return true;
}
