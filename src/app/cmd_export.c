/*
 * afterset export: remembered rides as files for other programs.
 */
#include <errno.h>
#include <getopt.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/command.h"
#include "app/ride_record.h"
#include "export.h"

static const struct kind {
    const char *name; /* and the end of a file's name */
    enum result (*export)(const struct export_ride *from, struct export_file *ret);
    bool is_text;
} kinds[] = {
    {"csv", export_csv, true},
    {"json", export_json, true},
    {"fit", export_fit, false},
};

struct export_options {
    int64_t id;
    bool all;
    const struct kind *kind;
    const char *out; /* NULL: the standard output */
};

/* ---- options ---- */

static bool take_kind(const char *word, struct export_options *ret)
{
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        if (strcmp(kinds[i].name, word) == 0)
            ret->kind = &kinds[i];
    if (ret->kind == NULL || strcmp(ret->kind->name, word) != 0) {
        complain("--as wants csv, json or fit, not '%s'", word);
        return false;
    }
    return true;
}

static bool check_options(int argc, char **argv, struct export_options *ret)
{
    if (ret->kind == NULL)
        complain("export: say as what: --as csv, --as json or --as fit");
    else if (ret->all && optind < argc)
        complain("export: --all takes no number");
    else if (ret->all && ret->out == NULL)
        complain("export: --all wants a folder to put them in: --out FOLDER");
    else if (!ret->all && (optind + 1 != argc || !ride_record_parse_number(argv[optind], &ret->id)))
        complain("export: takes the number of one ride, or --all; afterset log lists them");
    else if (!ret->kind->is_text && ret->out == NULL && isatty(STDOUT_FILENO))
        complain("export: a FIT file is no text for a terminal; give it a name: --out FILE");
    else
        return true;
    return false;
}

static bool read_options(int argc, char **argv, struct export_options *ret)
{
    static const struct option known[] = {{"as", required_argument, NULL, 'k'},
                                          {"out", required_argument, NULL, 'o'},
                                          {"all", no_argument, NULL, 'a'},
                                          {NULL, 0, NULL, 0}};
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        switch (option) {
        case 'k':
            if (!take_kind(optarg, ret))
                return false;
            break;
        case 'o': ret->out = optarg; break;
        case 'a': ret->all = true; break;
        case ':': complain("export: %s needs a value behind it", argv[optind - 1]); return false;
        default:
            complain("export: unknown option %s; see afterset export --help", argv[optind - 1]);
            return false;
        }
    }
    return check_options(argc, argv, ret);
}

/* ---- one ride ---- */

static void free_ride(struct export_ride *from)
{
    ride_series_free(from->series);
    free(from->journal);
}

/* A journal that is damaged is taken as far as it goes. */
static enum result read_ride(struct store *store, const struct store_ride *ride,
                             struct export_ride *ret)
{
    struct text_fault fault;
    enum result result;

    *ret = (struct export_ride){.ride = *ride};
    if (ride->state == STORE_BY_HAND)
        return RESULT_OK;
    result = store_journal(store, ride->id, &ret->journal, &ret->journal_length);
    if (result == RESULT_OK &&
        ride_series_read(store, ride->id, &ret->series, &fault) == RESULT_FULL)
        result = RESULT_FULL;
    return result;
}

static bool write_out(const char *path, const struct export_file *file)
{
    if (path != NULL)
        return write_kept_file(path, file->octets, file->length);
    fwrite(file->octets, 1, file->length, stdout);
    return ride_record_flush();
}

static const char *why_not(const struct store_ride *ride, enum result result)
{
    if (result == RESULT_UNSUPPORTED)
        return ride->state == STORE_BY_HAND
                   ? "was written down by hand and has no seconds; --as json takes it"
                   : "has no second ridden; --as json takes it";
    if (result == RESULT_RANGE)
        return "began at a time that a FIT file cannot say; --as csv or json takes it";
    if (result == RESULT_INVALID)
        return "has a damaged journal, which JSON cannot hold; 'afterset show --journal' prints it";
    return "takes more memory than there is";
}

/* Complains and gives false when it cannot be. */
static bool export_ride(struct store *store, const struct store_ride *ride, const struct kind *kind,
                        const char *path)
{
    struct export_file file = {0};
    struct export_ride from;
    bool written = false;

    if (ride->state == STORE_RIDING) {
        complain("export: ride %lld has not ended, or was broken off; the next ride recovers it",
                 (long long)ride->id);
        return false;
    }
    enum result result = read_ride(store, ride, &from);
    if (result != RESULT_OK) {
        ride_record_complain("export", store, result);
    } else {
        result = kind->export(&from, &file);
        if (result == RESULT_OK)
            written = write_out(path, &file);
        else
            complain("export: ride %lld %s", (long long)ride->id, why_not(ride, result));
    }
    free(file.octets);
    free_ride(&from);
    return written;
}

static bool export_one(struct store *store, const struct export_options *options)
{
    struct store_ride ride;
    const enum result result = store_get(store, options->id, &ride);

    if (result == RESULT_NOT_FOUND)
        complain("export: there is no ride %lld; afterset log lists them", (long long)options->id);
    else if (result != RESULT_OK)
        ride_record_complain("export", store, result);
    return result == RESULT_OK && export_ride(store, &ride, options->kind, options->out);
}

/* ---- all of them ---- */

/* What has no seconds is left out of files of seconds, and counted. */
static bool is_left_out(const struct store_ride *ride, const struct kind *kind)
{
    return ride->state == STORE_RIDING ||
           (kind->export != export_json &&
            (ride->state == STORE_BY_HAND || ride->summary.duration_s == 0));
}

static bool export_into_folder(struct store *store, const struct export_options *options)
{
    struct store_ride ride = {.id = INT64_MAX};
    unsigned count = 0, left_out = 0;
    enum result result;

    while ((result = store_next_older(store, ride.id, &ride)) == RESULT_OK) {
        char path[PATH_MAX];
        if (is_left_out(&ride, options->kind)) {
            left_out++;
            continue;
        }
        if ((size_t)snprintf(path, sizeof path, "%s/ride-%lld.%s", options->out, (long long)ride.id,
                             options->kind->name) >= sizeof path) {
            complain("export: %s: the name is too long", options->out);
            return false;
        }
        if (!export_ride(store, &ride, options->kind, path))
            return false;
        count++;
    }
    if (result != RESULT_NOT_FOUND) {
        ride_record_complain("export", store, result);
        return false;
    }
    printf("%u rides in %s", count, options->out);
    if (left_out > 0)
        printf("; %u left out, without a second to show", left_out);
    putchar('\n');
    return ride_record_flush();
}

static bool make_folder(const char *path)
{
    struct stat about;

    if (mkdir(path, 0700) == 0 ||
        (errno == EEXIST && stat(path, &about) == 0 && S_ISDIR(about.st_mode)))
        return true;
    complain("export: the folder %s cannot be made: %s", path, strerror(errno));
    return false;
}

/* ---- the command ---- */

static int run_export(int argc, char **argv)
{
    struct export_options options = {0};
    struct store *store = NULL;
    bool done = false;

    if (!read_options(argc, argv, &options))
        return EXIT_WRONG_USE;
    const enum result result = ride_record_open(&store);
    if (result == RESULT_NOT_FOUND)
        complain("export: there are no rides yet");
    else if (result == RESULT_OK)
        done = options.all ? make_folder(options.out) && export_into_folder(store, &options)
                           : export_one(store, &options);
    store_close(store);
    return done ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_export = {
    .name = "export",
    .arguments = "NUMBER|--all --as csv|json|fit [--out FILE]",
    .purpose = "write rides as files for other programs",
    .help = "  --as csv     a row a second\n"
            "  --as fit     an activity file: a record a second, a lap a step\n"
            "  --as json    all that is known; afterset import reads it again\n"
            "  --out FILE   where to; without it the standard output\n"
            "  --all        every ride, as ride-NUMBER.csv and so on in the folder --out\n"
            "\n"
            "A file that is there already is replaced. README.md says what is in them.\n",
    .run = run_export,
};
