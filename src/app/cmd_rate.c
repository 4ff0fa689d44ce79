/*
 * afterset rate NUMBER: what the rider says of a ride when it is over.
 */
#include <getopt.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "app/ride_record.h"
#include "values.h"

struct rate_options {
    int64_t id;
    int32_t effort;   /* -1: not given */
    const char *note; /* NULL: not given */
};

static bool take_effort(struct rate_options *ret)
{
    uint32_t effort;
    if (!take_count("--effort", optarg, 0, STORE_EFFORT_MAX, &effort))
        return false;
    ret->effort = (int32_t)effort;
    return true;
}

static bool take_note(struct rate_options *ret)
{
    if (strlen(optarg) > STORE_NOTE_MAX) {
        complain("--note takes %u octets at most", STORE_NOTE_MAX);
        return false;
    }
    ret->note = optarg;
    return true;
}

static bool read_number(int argc, char **argv, struct rate_options *ret)
{
    if (optind + 1 != argc || !ride_record_parse_number(argv[optind], &ret->id)) {
        complain("rate: takes the number of one ride; afterset log lists them");
        return false;
    }
    if (ret->effort < 0 && ret->note == NULL) {
        complain("rate: nothing is said; see afterset rate --help");
        return false;
    }
    return true;
}

static bool read_options(int argc, char **argv, struct rate_options *ret)
{
    static const struct option known[] = {{"effort", required_argument, NULL, 'e'},
                                          {"note", required_argument, NULL, 'n'},
                                          {NULL, 0, NULL, 0}};
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        switch (option) {
        case 'e':
            if (!take_effort(ret))
                return false;
            break;
        case 'n':
            if (!take_note(ret))
                return false;
            break;
        case ':': complain("rate: %s needs a value behind it", argv[optind - 1]); return false;
        default:
            complain("rate: unknown option %s; see afterset rate --help", argv[optind - 1]);
            return false;
        }
    }
    return read_number(argc, argv, ret);
}

static void tell(const struct rate_options *options)
{
    char effort[32] = "";
    const char *note = options->note == NULL      ? ""
                       : options->note[0] == '\0' ? "no note"
                                                  : "the note";

    if (options->effort >= 0)
        (void)snprintf(effort, sizeof effort, "effort %d of 10%s", (int)options->effort,
                       note[0] != '\0' ? ", " : "");
    say("Kept with ride %lld: %s%s.\n", (long long)options->id, effort, note);
}

static int run_rate(int argc, char **argv)
{
    struct rate_options options = {.effort = -1};
    struct store *store = NULL;
    if (!read_options(argc, argv, &options))
        return EXIT_WRONG_USE;
    enum result result = ride_record_open(&store);
    if (result == RESULT_OK)
        result = store_rate(store, options.id, options.effort, options.note);
    if (result == RESULT_NOT_FOUND)
        complain("rate: there is no ride %lld that has ended; afterset log lists them",
                 (long long)options.id);
    else if (result != RESULT_OK && store != NULL)
        complain("rate: it cannot be saved: %s", store_problem(store));
    else if (result == RESULT_OK)
        tell(&options);
    store_close(store);
    return result == RESULT_OK ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_rate = {
    .name = "rate",
    .arguments = "NUMBER [--effort 0..10] [--note TEXT]",
    .purpose = "say how hard a ride was, and note something about it",
    .help = "  --effort 0..10  0 is no effort, 10 all there was\n"
            "  --note TEXT     a line of at most 240 octets; an empty one takes it away\n"
            "\n"
            "What is not given stays as it was.\n",
    .run = run_rate,
};
