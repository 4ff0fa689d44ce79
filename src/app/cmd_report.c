/*
 * afterset report: a page to look at, in one file.
 */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "against.h"
#include "app/command.h"
#include "app/ride_record.h"
#include "app/settings_file.h"
#include "calendar.h"
#include "log_view.h"
#include "log_weeks.h"
#include "ride_chart.h"
#include "ui/report.h"
#include "ui/words.h"

struct report_options {
    struct log_view view;
    int64_t ride_id; /* 0: the newest of the weeks */
    const char *out; /* NULL: stdout */
};

static bool take_option(int option, const char *word, struct report_options *ret)
{
    switch (option) {
    case 'o': ret->out = word; return true;
    case 'r':
        if (ride_record_parse_number(word, &ret->ride_id))
            return true;
        complain("report: --ride takes the number of a ride, not '%s'", word);
        return false;
    case LOG_VIEW_BEFORE:
    case LOG_VIEW_PROFILE:
    case LOG_VIEW_BIKE:
    case LOG_VIEW_AFTER: return log_view_take("report", option, word, &ret->view);
    default: return false;
    }
}

static bool read_options(int argc, char **argv, struct report_options *ret)
{
    static const struct option known[] = {LOG_VIEW_OPTIONS,
                                          {"out", required_argument, NULL, 'o'},
                                          {"ride", required_argument, NULL, 'r'},
                                          {NULL, 0, NULL, 0}};
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        if (option == ':')
            complain("report: %s needs a word behind it", argv[optind - 1]);
        else if (option == '?')
            complain("report: unknown option %s; see afterset report --help", argv[optind - 1]);
        if (!take_option(option, optarg, ret))
            return false;
    }
    if (optind < argc)
        complain("report: '%s' is one too many; see afterset report --help", argv[optind]);
    else if (ret->out == NULL && isatty(STDOUT_FILENO))
        complain("report: name a file with --out, such as report.html, or pipe it");
    else
        return true;
    return false;
}

/* ---- the block ---- */

struct gathered {
    struct store_ride ride;
    struct against against;
    struct ride_series *series;
    struct chart_step *steps;
    struct report_block block;
    char started[40], end[200], trouble[160];
};

static bool gather_steps(struct gathered *gathered)
{
    const size_t count = gathered->series->lap_count;

    gathered->steps = malloc((count + 1) * sizeof gathered->steps[0]);
    if (gathered->steps == NULL || !ride_chart_of(gathered->series, &gathered->block.chart))
        return false;
    for (size_t i = 0; i < count; i++)
        gathered->steps[i] = ride_chart_step(gathered->series, i);
    gathered->block.steps = gathered->steps;
    gathered->block.step_count = count;
    return true;
}

static enum result gather(struct store *store, int64_t id, const struct rider *rider,
                          struct gathered *ret)
{
    struct report_block *block = &ret->block;
    struct text_fault fault;
    enum result result = store_get(store, id, &ret->ride);

    if (result != RESULT_OK)
        return result;
    const char *reason = ret->ride.summary.reason;
    against_find(store, &ret->ride, rider, &ret->against);
    ride_record_started(&ret->ride, ret->started, sizeof ret->started);
    (void)snprintf(ret->end, sizeof ret->end, "%s%s%s", ride_record_end(&ret->ride),
                   reason[0] != '\0' ? ": " : "", words_ending(reason));
    result = ride_series_read(store, id, &ret->series, &fault);
    if (result == RESULT_FULL)
        return result;
    ride_chart_trouble(result, &fault, ret->series != NULL, ret->trouble, sizeof ret->trouble);
    *block = (struct report_block){
        .ride = &ret->ride,
        .started = ret->started,
        .end = ret->end,
        .against = {ret->against.facts, ret->against.verdict, ret->against.reckoning,
                    ret->against.next},
        .trouble = ret->trouble,
    };
    return ret->series == NULL || gather_steps(ret) ? RESULT_OK : RESULT_FULL;
}

static void forget(struct gathered *gathered)
{
    ride_series_free(gathered->series);
    free(gathered->steps);
    free(gathered->block.chart.seconds);
}

/* ---- the page ---- */

static void put_stream(void *user, const char *text, size_t length)
{
    (void)fwrite(text, 1, length, user);
}

static bool write_report(const struct report *report, const char *path)
{
    char *page = NULL;
    size_t length = 0;

    if (path == NULL) {
        report_write(report, (struct sink){.put = put_stream, .user = stdout});
        return ride_record_flush();
    }
    FILE *stream = open_memstream(&page, &length);
    if (stream != NULL)
        report_write(report, (struct sink){.put = put_stream, .user = stream});
    bool is_written = stream != NULL && ferror(stream) == 0;
    if (stream == NULL || fclose(stream) != 0 || !is_written) {
        complain("report: out of memory");
        is_written = false;
    }
    is_written = is_written && write_kept_file(path, page, length);
    free(page);
    return is_written;
}

static int64_t newest_of(const struct past *past)
{
    return past->block_count > 0 ? past->blocks[past->block_count - 1].ride_id : 0;
}

static bool make_report(struct store *store, const struct log_book *book,
                        const struct report_options *options)
{
    struct log_weeks weeks;
    struct gathered *gathered = calloc(1, sizeof *gathered);
    enum result result = RESULT_FULL;
    bool is_made = false;

    if (log_weeks_gather(book, &options->view.filter, 2, log_view_last_day(&options->view, book, 2),
                         &weeks) &&
        gathered != NULL) {
        const int64_t id = options->ride_id != 0 ? options->ride_id : newest_of(&weeks.past);
        const struct report report = {.past = &weeks.past,
                                      .block = id != 0 ? &gathered->block : NULL,
                                      .made = calendar_date(calendar_today())};
        result = id != 0 ? gather(store, id, &book->rider, gathered) : RESULT_OK;
        is_made = result == RESULT_OK && write_report(&report, options->out);
    }
    if (result == RESULT_NOT_FOUND)
        complain("report: there is no ride %lld; afterset log lists them",
                 (long long)options->ride_id);
    else if (result != RESULT_OK)
        ride_record_complain("report", store, result);
    if (gathered != NULL)
        forget(gathered);
    free(gathered);
    log_weeks_free(&weeks);
    return is_made;
}

static bool report_on(struct store *store, const struct report_options *options)
{
    struct log_book book = {0};
    struct settings settings;
    bool is_made = false;

    if (!load_settings(&settings))
        return false;
    const enum result result = log_book_read(store, &settings.rider, &book);
    if (result == RESULT_OK)
        is_made = (book.count == 0 || log_view_is_known("report", &options->view, &book)) &&
                  make_report(store, &book, options);
    else
        ride_record_complain("report", store, result);
    log_book_free(&book);
    return is_made;
}

static int run_report(int argc, char **argv)
{
    struct report_options options = {.view = {.before = CALENDAR_NO_DAY}};
    struct store *store = NULL;
    bool is_made = false;

    if (!read_options(argc, argv, &options))
        return EXIT_WRONG_USE;
    const enum result result = ride_record_open(&store);
    if (result == RESULT_NOT_FOUND)
        complain("report: no rides yet. The first one: afterset ride PROFILE");
    else if (result == RESULT_OK)
        is_made = report_on(store, &options);
    store_close(store);
    return is_made ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_report = {
    .name = "report",
    .arguments = "[--out FILE] [--before DAY] [--ride NUMBER]\n"
                 "                       [--profile TITLE] [--bike BIKE] [--after legs|fresh]",
    .purpose = "write two weeks, the trend and a block as a page to look at",
    .help = "  --out FILE       into this file, an HTML page of its own; else to stdout\n"
            "  --before DAY     the two weeks up to the one with the day before it: 2025-11-10\n"
            "  --ride NUMBER    that block; without it the last one of the two weeks\n"
            "  --profile TITLE  only blocks of that profile\n"
            "  --bike BIKE      only blocks on that bike, as afterset show names it\n"
            "  --after fresh    only blocks ridden fresh; --after legs: only those after legs\n"
            "\n"
            "The page needs no network and no script, and can be printed.\n",
    .run = run_report,
};
