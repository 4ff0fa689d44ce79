/*
 * afterset log: what was ridden, two weeks on one screen.
 */
#include <getopt.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "app/ride_record.h"
#include "app/settings_file.h"
#include "calendar.h"
#include "log_page.h"
#include "log_table.h"
#include "log_view.h"
#include "values.h"

struct log_options {
    struct log_view view;
    int64_t last;   /* 0: not given */
    uint32_t weeks; /* 0: not given */
    bool jsonl, plain;
};

static bool take_option(int option, const char *word, struct log_options *ret)
{
    switch (option) {
    case 'n':
        if (ride_record_parse_number(word, &ret->last))
            return true;
        complain("log: --last takes a number from 1, not '%s'", word);
        return false;
    case 'w': return take_count("log: --weeks", word, 1, PAST_WEEKS_MAX, &ret->weeks);
    case 'j': ret->jsonl = true; return true;
    case 'P': ret->plain = true; return true;
    case LOG_VIEW_BEFORE:
    case LOG_VIEW_PROFILE:
    case LOG_VIEW_BIKE:
    case LOG_VIEW_AFTER: return log_view_take("log", option, word, &ret->view);
    default: return false;
    }
}

static bool read_options(int argc, char **argv, struct log_options *ret)
{
    static const struct option known[] = {LOG_VIEW_OPTIONS,
                                          {"last", required_argument, NULL, 'n'},
                                          {"weeks", required_argument, NULL, 'w'},
                                          {"jsonl", no_argument, NULL, 'j'},
                                          {"plain", no_argument, NULL, 'P'},
                                          {NULL, 0, NULL, 0}};
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        if (option == ':')
            complain("log: %s needs a %s behind it", argv[optind - 1],
                     strcmp(argv[optind - 1], "--last") == 0 ? "number" : "word");
        else if (option == '?')
            complain("log: unknown option %s; see afterset log --help", argv[optind - 1]);
        if (!take_option(option, optarg, ret))
            return false;
    }
    if (optind < argc) {
        complain("log: '%s' is one too many; see afterset log --help", argv[optind]);
        return false;
    }
    return true;
}

/* ---- what is asked for ---- */

static const char no_rides[] = "No rides yet. The first one: afterset ride PROFILE\n";

/* Days count for lines only where they were asked for. */
static struct log_choice choice_of(const struct log_options *options, uint32_t weeks,
                                   int32_t last_day)
{
    struct log_choice choice = {
        .filter = options->view.filter,
        .first_day = INT32_MIN,
        .last_day = INT32_MAX,
        .at_most = options->last > 0 ? options->last : INT64_MAX,
    };
    if (options->view.before == CALENDAR_NO_DAY && options->weeks == 0)
        return choice;
    choice.first_day = calendar_monday(last_day) - ((int32_t)weeks - 1) * 7;
    choice.last_day = choice.first_day + (int32_t)weeks * 7 - 1;
    return choice;
}

/* RESULT_REFUSED: what is asked for is not there, which was complained of. */
static enum result print_asked(const struct log_book *book, const struct log_options *options)
{
    const uint32_t weeks = options->weeks > 0 ? options->weeks : 2;
    const int32_t last_day = log_view_last_day(&options->view, book, weeks);
    const struct log_choice choice = choice_of(options, weeks, last_day);
    enum result result;

    if (options->jsonl) /* for a script none is an answer */
        return log_table_print_json(book, &choice) ? RESULT_OK : RESULT_FULL;
    if (book->count > 0 && !log_view_is_known("log", &options->view, book))
        return RESULT_REFUSED;
    if (options->last > 0) {
        log_table_print(book, &choice);
        return RESULT_OK;
    }
    if (book->count == 0) {
        fputs(no_rides, stdout);
        return RESULT_OK;
    }
    if (!options->plain && weeks == 2 &&
        log_page_show(book, &options->view.filter, last_day, &result))
        return result;
    return log_page_print(book, &options->view.filter, weeks, last_day) ? RESULT_OK : RESULT_FULL;
}

static enum result print_log(struct store *store, const struct log_options *options)
{
    struct log_book book = {0};
    struct settings settings;
    enum result result = RESULT_OK;

    if (!load_settings(&settings))
        return RESULT_REFUSED;
    if (store != NULL)
        result = log_book_read(store, &settings.rider, &book);
    if (result == RESULT_OK)
        result = print_asked(&book, options);
    log_book_free(&book);
    if (result != RESULT_OK && result != RESULT_REFUSED)
        ride_record_complain("log", store, result);
    return result;
}

static int run_log(int argc, char **argv)
{
    struct log_options options = {.view = {.before = CALENDAR_NO_DAY}};
    struct store *store = NULL;

    if (!read_options(argc, argv, &options))
        return EXIT_WRONG_USE;
    enum result result = ride_record_open(&store);
    if (result == RESULT_OK || result == RESULT_NOT_FOUND)
        result = print_log(store, &options);
    store_close(store);
    return ride_record_flush() && result == RESULT_OK ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_log = {
    .name = "log",
    .arguments = "[--before DAY] [--weeks N] [--profile TITLE] [--bike BIKE]\n"
                 "                    [--after legs|fresh] [--last N] [--plain | --jsonl]",
    .purpose = "what was ridden: two weeks on one screen, the trend, the best",
    .help = "  --before DAY     the weeks up to the one with the day before it: 2025-11-10\n"
            "  --weeks N        so many, 1 to 8 (without it 2); other than 2 they are printed\n"
            "  --profile TITLE  only blocks of that profile\n"
            "  --bike BIKE      only blocks on that bike, as afterset show names it\n"
            "  --after fresh    only blocks ridden fresh; --after legs: only those after legs\n"
            "  --last N         the last N rides, a line each\n"
            "  --plain          printed, also on a terminal\n"
            "  --jsonl          one JSON object a ride and line, the newest first\n"
            "\n"
            "left and right go to earlier and later weeks, q leaves; p, b and a go through the "
            "profiles, the bikes, and after legs or fresh.\n",
    .run = run_log,
};
