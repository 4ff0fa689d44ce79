/*
 * afterset log: the rides that are remembered, newest first.
 */
#include <getopt.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "app/ride_record.h"

#define ROWS_SHOWN    20 /* with the heading they fit a terminal of 24 lines */
#define TITLE_COLUMNS 18

struct log_options {
    int64_t last; /* 0: not given */
    bool jsonl;
};

static bool read_options(int argc, char **argv, struct log_options *ret)
{
    static const struct option known[] = {{"last", required_argument, NULL, 'n'},
                                          {"jsonl", no_argument, NULL, 'j'},
                                          {NULL, 0, NULL, 0}};
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        switch (option) {
        case 'n':
            if (!ride_record_parse_number(optarg, &ret->last)) {
                complain("log: --last takes a number from 1, not '%s'", optarg);
                return false;
            }
            break;
        case 'j': ret->jsonl = true; break;
        case ':': complain("log: %s needs a number behind it", argv[optind - 1]); return false;
        default:
            complain("log: unknown option %s; see afterset log --help", argv[optind - 1]);
            return false;
        }
    }
    if (optind < argc) {
        complain("log: '%s' is one too many; see afterset log --help", argv[optind]);
        return false;
    }
    return true;
}

/* ---- the table ---- */

static bool continues_character(char octet)
{
    return ((unsigned char)octet & 0xC0u) == 0x80u;
}

/* Exactly TITLE_COLUMNS columns, counting a character as one; a longer title ends in "…". */
static void print_title(const char *title)
{
    size_t columns = 0, cut = 0, at = 0;
    for (; title[at] != '\0'; at++) {
        if (continues_character(title[at]))
            continue;
        if (columns == TITLE_COLUMNS - 1)
            cut = at;
        columns++;
    }
    if (columns > TITLE_COLUMNS)
        printf("%.*s…", (int)cut, title);
    else
        printf("%s%*s", title, (int)(TITLE_COLUMNS - columns), "");
}

static void print_row(const struct store_ride *ride)
{
    const struct store_summary *summary = &ride->summary;
    char started[40], length[16], calories[16] = "-";
    ride_record_started(ride, started, sizeof started);
    printf("%4lld  %-16s ", (long long)ride->id, started);
    print_title(ride->title);
    if (ride->state == STORE_RIDING) {
        printf(" %5s %6s %4s %4s  %s\n", "-", "-", "-", "-", ride_record_end(ride));
        return;
    }
    snprintf(length, sizeof length, "%u:%02u", summary->duration_s / 60, summary->duration_s % 60);
    if (summary->calories_kcal > 0)
        snprintf(calories, sizeof calories, "%u", summary->calories_kcal);
    printf(" %5s %6.1f %4u %4s  %s", length, summary->work_j / 1000.0, summary->average_power_w,
           calories, ride_record_end(ride));
    if (ride->rating.has_effort)
        printf(", %u/10", ride->rating.effort);
    putchar('\n');
}

static enum result print_table(struct store *store, int64_t rows)
{
    struct store_ride ride = {.id = INT64_MAX};
    for (int64_t row = 0; row < rows; row++) {
        enum result result = store_next_older(store, ride.id, &ride);
        if (result != RESULT_OK)
            return result;
        if (row == 0)
            puts("Ride  Started          Profile            Time     kJ    W kcal  End");
        print_row(&ride);
    }
    return store_next_older(store, ride.id, &ride);
}

static enum result print_lines(struct store *store, int64_t rows)
{
    struct store_ride ride = {.id = INT64_MAX};
    for (int64_t row = 0; row < rows; row++) {
        enum result result = store_next_older(store, ride.id, &ride);
        if (result != RESULT_OK)
            return result;
        if (!ride_record_print_json(&ride))
            return RESULT_FULL;
    }
    return RESULT_OK;
}

static void say_no_rides(const struct log_options *options)
{
    if (!options->jsonl)
        puts("No rides yet. The first one: afterset ride PROFILE");
}

static int print_log(struct store *store, const struct log_options *options)
{
    struct store_ride newest = {0};
    enum result result = store_next_older(store, INT64_MAX, &newest);
    if (result == RESULT_NOT_FOUND) {
        say_no_rides(options);
    } else if (result == RESULT_OK && options->jsonl) {
        result = print_lines(store, options->last > 0 ? options->last : INT64_MAX);
    } else if (result == RESULT_OK) {
        result = print_table(store, options->last > 0 ? options->last : ROWS_SHOWN);
        if (result == RESULT_OK && options->last == 0)
            puts("Older ones: afterset log --last NUMBER");
    }
    if (result == RESULT_OK || result == RESULT_NOT_FOUND)
        return EXIT_DONE;
    ride_record_complain("log", store, result);
    return EXIT_FAILED;
}

static int run_log(int argc, char **argv)
{
    struct log_options options = {0};
    struct store *store = NULL;
    int status = EXIT_DONE;
    if (!read_options(argc, argv, &options))
        return EXIT_WRONG_USE;
    enum result result = ride_record_open(&store);
    if (result == RESULT_OK)
        status = print_log(store, &options);
    else if (result == RESULT_NOT_FOUND)
        say_no_rides(&options);
    else
        status = EXIT_FAILED;
    store_close(store);
    return ride_record_flush() ? status : EXIT_FAILED;
}

const struct command command_log = {
    .name = "log",
    .arguments = "[--last NUMBER] [--jsonl]",
    .purpose = "list the rides that are remembered, newest first",
    .help = "  --last NUMBER  so many (without it 20; with --jsonl all)\n"
            "  --jsonl        one JSON object a ride and line\n",
    .run = run_log,
};
