/*
 * afterset show NUMBER: one ride that is remembered.
 */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>

#include "against.h"
#include "app/command.h"
#include "app/ride_record.h"
#include "app/settings_file.h"
#include "rerun.h"
#include "ride_chart.h"
#include "ui/today.h"
#include "ui/words.h"

struct show_options {
    int64_t id;
    bool jsonl, journal;
};

static bool read_id(int argc, char **argv, int64_t *ret)
{
    if (optind + 1 != argc) {
        complain("show: takes the number of one ride; afterset log lists them");
        return false;
    }
    if (!ride_record_parse_number(argv[optind], ret)) {
        complain("show: '%s' is not the number of a ride; afterset log lists them", argv[optind]);
        return false;
    }
    return true;
}

static bool read_options(int argc, char **argv, struct show_options *ret)
{
    static const struct option known[] = {
        {"jsonl", no_argument, NULL, 'j'}, {"journal", no_argument, NULL, 'r'}, {NULL, 0, NULL, 0}};
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, "", known, NULL)) != -1;) {
        switch (option) {
        case 'j': ret->jsonl = true; break;
        case 'r': ret->journal = true; break;
        default:
            complain("show: unknown option %s; see afterset show --help", argv[optind - 1]);
            return false;
        }
    }
    if (ret->jsonl && ret->journal) {
        complain("show: --jsonl and --journal exclude each other");
        return false;
    }
    return read_id(argc, argv, &ret->id);
}

/* ---- in words ---- */

static void print_best(const struct store_summary *summary)
{
    const struct {
        uint32_t power_w;
        const char *span;
    } bests[] = {{summary->best_5s_w, "5 s"},
                 {summary->best_30s_w, "30 s"},
                 {summary->best_60s_w, "1 min"},
                 {summary->best_180s_w, "3 min"}};
    char line[160] = "";
    struct text_writer writer = text_writer(line, sizeof line);
    for (size_t i = 0; i < sizeof bests / sizeof bests[0]; i++) {
        if (bests[i].power_w == 0)
            continue;
        text_put(&writer, writer.length > 0 ? ", " : "");
        text_put_unsigned(&writer, bests[i].power_w);
        text_put(&writer, " W in ");
        text_put(&writer, bests[i].span);
    }
    if (writer.length > 0)
        say("  Best power     %s\n", line);
}

static void print_calories(const struct store_summary *summary)
{
    if (summary->calories_kcal == 0)
        return;
    printf("  Burnt          %u kcal", summary->calories_kcal);
    if (summary->calories_high_kcal > 0)
        printf(", between %u and %u", summary->calories_low_kcal, summary->calories_high_kcal);
    putchar('\n');
}

static void print_sensor(const struct store_ride *ride)
{
    const struct store_summary *summary = &ride->summary;
    const int32_t tenths = summary->difference_tenths;
    const int32_t error_tenths = (int32_t)summary->difference_error_tenths;
    const char *far_off = words_far_off(tenths, error_tenths);
    char text[WORDS_SENSOR_SIZE];

    if (ride->power_sensor[0] == '\0' || ride->state == STORE_RIDING)
        return;
    say("  Power sensor   %s\n", ride->power_sensor);
    printf("                 %s\n",
           words_power_sensor((int32_t)summary->sensor_pct, tenths, error_tenths, text));
    if (far_off[0] != '\0')
        say("                 %s\n", far_off);
}

static void print_summary(const struct store_summary *summary)
{
    printf("  Time           %u min %02u s\n", summary->duration_s / 60, summary->duration_s % 60);
    printf("  Work           %.1f kJ\n", summary->work_j / 1000.0);
    printf("  Average power  %u W", summary->average_power_w);
    if (summary->work_power_w > 0)
        printf(", %u W in the work", summary->work_power_w);
    putchar('\n');
    print_best(summary);
    if (summary->has_in_range)
        printf("  In range       %u %% of the work\n", summary->in_range_pct);
    if (summary->average_heart_bpm > 0)
        printf("  Heart rate     %u on average, %u at most, in beats a minute\n",
               summary->average_heart_bpm, summary->max_heart_bpm);
    if (summary->heart_fall_bpm != 0)
        printf("  Recovery       down by %d a minute after the work\n", summary->heart_fall_bpm);
    print_calories(summary);
    if (summary->distance_m > 0)
        printf("  Distance       %.2f km\n", summary->distance_m / 1000.0);
}

static void print_said(const struct store_ride *ride)
{
    const struct store_rating *rating = &ride->rating;
    printf("  Ridden         %s", ride->is_fresh ? "fresh" : "after leg work");
    if (ride->feel > 0)
        printf(", legs %s (%u of 5)", today_feel_text(ride->feel), ride->feel);
    putchar('\n');
    if (rating->has_effort)
        printf("  Effort         %u of 10\n", rating->effort);
    if (rating->note[0] != '\0')
        say("  Note           %s\n", rating->note);
}

/* Out of the journal, which says it of rides of any age. */
static void print_skipped(struct store *store, int64_t id)
{
    struct rerun rerun;

    if (rerun_stored(store, id, (struct rerun_watch){0}, &rerun) == RESULT_OK &&
        rerun.summary.skipped > 0) {
        char skipped[WORDS_SKIPPED_SIZE];
        printf("                 %s\n", words_skipped(rerun.summary.skipped, skipped));
    }
}

static void print_ride(struct store *store, const struct store_ride *ride)
{
    char started[40];
    const char *reason = ride->summary.reason;
    ride_record_started(ride, started, sizeof started);
    say("Ride %lld: %s\n", (long long)ride->id,
        ride->title[0] != '\0' ? ride->title : "no profile");
    printf("  Started        %s\n", started);
    if (ride->bike[0] != '\0')
        say("  Bike           %s\n", ride->bike);
    say("  End            %s%s%s\n", ride_record_end(ride), reason[0] != '\0' ? ": " : "",
        words_ending(reason));
    print_skipped(store, ride->id);
    if (ride->length_ms > 0)
        printf("  Intervals      %u:%02u\n", ride->length_ms / 60000, ride->length_ms / 1000 % 60);
    if (ride->state != STORE_RIDING)
        print_summary(&ride->summary);
    print_sensor(ride);
    print_said(ride);
}

static void print_sentence(const char *sentence)
{
    if (sentence[0] != '\0')
        say("%s.\n", sentence);
}

/* Against the blocks before it, and what to ask next. */
static void print_against(struct store *store, const struct store_ride *ride)
{
    struct settings settings;
    struct against against;

    if (!load_settings(&settings))
        return;
    against_find(store, ride, &settings.rider, &against);
    print_sentence(against.facts);
    print_sentence(against.verdict);
    print_sentence(against.reckoning);
    print_sentence(against.next);
    print_sentence(against.next_reckoning);
}

/* ---- the command ---- */

static enum result print_journal(struct store *store, int64_t id)
{
    char *text = NULL;
    size_t length = 0;
    enum result result = store_journal(store, id, &text, &length);
    if (result == RESULT_OK)
        fwrite(text, 1, length, stdout);
    free(text);
    return result;
}

/* What it came to against the blocks before it, as log --jsonl has it. */
static bool print_json(struct store *store, const struct store_ride *ride)
{
    struct settings settings;
    struct earlier earlier;
    const char *verdict = NULL;

    if (load_settings(&settings) && earlier_find(store, ride, &earlier) == RESULT_OK) {
        earlier.slope.power_w = settings.rider.critical_power_w;
        verdict = earlier_word(&earlier, ride);
    }
    return ride_record_print_json(ride, verdict);
}

static enum result print_asked(struct store *store, const struct show_options *options)
{
    struct store_ride ride = {0};
    if (options->journal)
        return print_journal(store, options->id);
    enum result result = store_get(store, options->id, &ride);
    if (result != RESULT_OK)
        return result;
    if (!options->jsonl) {
        print_ride(store, &ride);
        print_against(store, &ride);
        ride_chart_print(store, ride.id);
    } else if (!print_json(store, &ride)) {
        return RESULT_FULL;
    }
    return RESULT_OK;
}

static int run_show(int argc, char **argv)
{
    struct show_options options = {0};
    struct store *store = NULL;
    if (!read_options(argc, argv, &options))
        return EXIT_WRONG_USE;
    enum result result = ride_record_open(&store);
    if (result == RESULT_OK)
        result = print_asked(store, &options);
    if (result == RESULT_NOT_FOUND && options.journal)
        complain("show: there is no ride %lld with a journal; afterset log lists them",
                 (long long)options.id);
    else if (result == RESULT_NOT_FOUND)
        complain("show: there is no ride %lld; afterset log lists them", (long long)options.id);
    else if (result != RESULT_OK && store != NULL)
        ride_record_complain("show", store, result);
    store_close(store);
    if (!ride_record_flush() || result != RESULT_OK)
        return EXIT_FAILED;
    return EXIT_DONE;
}

const struct command command_show = {
    .name = "show",
    .arguments = "NUMBER [--jsonl | --journal]",
    .purpose = "show one ride that is remembered",
    .help = "  --jsonl    one JSON object\n"
            "  --journal  everything that happened, line by line, as afterset replay reads it\n",
    .run = run_show,
};
