/*
 * afterset add: a block that was written down by hand.
 */
#include <getopt.h>
#include <stdio.h>
#include <time.h>

#include "app/command.h"
#include "by_hand.h"
#include "import.h"

static const struct option known[] = {
    {"date", required_argument, NULL, HAND_DATE},
    {"length", required_argument, NULL, HAND_LENGTH},
    {"work", required_argument, NULL, HAND_WORK},
    {"power", required_argument, NULL, HAND_POWER},
    {"distance", required_argument, NULL, HAND_DISTANCE},
    {"calories", required_argument, NULL, HAND_CALORIES},
    {"heart", required_argument, NULL, HAND_HEART},
    {"profile", required_argument, NULL, HAND_PROFILE},
    {"bike", required_argument, NULL, HAND_BIKE},
    {"after", required_argument, NULL, HAND_AFTER},
    {"feel", required_argument, NULL, HAND_FEEL},
    {"effort", required_argument, NULL, HAND_EFFORT},
    {"note", required_argument, NULL, HAND_NOTE},
    {NULL, 0, NULL, 0},
};

static bool take_option(struct hand_block *block, enum hand_field field)
{
    struct text_fault fault;
    const struct text_word word = text_word(optarg);

    /* A file is checked as a whole before its words are; an argument is not. */
    for (const char *at = optarg; *at != '\0'; at++)
        if ((unsigned char)*at < ' ' || *at == 0x7F) {
            complain("add: --%s holds what is no text", known[field].name);
            return false;
        }
    if (hand_take(block, field, word, &fault) == RESULT_OK)
        return true;
    complain("add: --%s: %s", known[field].name, fault.message);
    return false;
}

static bool read_options(int argc, char **argv, struct hand_block *ret)
{
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        if (option == ':') {
            complain("add: %s needs a value behind it", argv[optind - 1]);
            return false;
        }
        if (option == '?') {
            complain("add: unknown option %s; see afterset add --help", argv[optind - 1]);
            return false;
        }
        if (!take_option(ret, (enum hand_field)option))
            return false;
    }
    if (optind < argc) {
        complain("add: '%s' is one too many; see afterset add --help", argv[optind]);
        return false;
    }
    return true;
}

static void set_today(struct hand_date *date, time_t now)
{
    struct tm parts;

    if (date->set || localtime_r(&now, &parts) == NULL)
        return;
    *date = (struct hand_date){.set = true,
                               .year = (uint16_t)(parts.tm_year + 1900),
                               .month = (uint8_t)(parts.tm_mon + 1),
                               .day = (uint8_t)parts.tm_mday,
                               .hour = (uint8_t)parts.tm_hour,
                               .minute = (uint8_t)parts.tm_min};
}

static bool make_ride(struct hand_block *block, struct store_ride *ret)
{
    const time_t now = time(NULL);
    struct text_fault fault;

    set_today(&block->date, now);
    if (hand_finish(block, (struct text_word){0}, &fault) != RESULT_OK) {
        complain("add: %s; see afterset add --help", fault.message);
        return false;
    }
    if (!by_hand_ride(block, (int64_t)now, ret)) {
        complain("add: --date: expected a day that has been, found one to come");
        return false;
    }
    return true;
}

static int run_add(int argc, char **argv)
{
    struct hand_block block = {0};
    struct import_ride added = {.path = "add"};
    struct import one = {.count = 1, .rides = &added};
    int64_t id = 0;

    if (!read_options(argc, argv, &block) || !make_ride(&block, &added.ride))
        return EXIT_WRONG_USE;
    if (!import_keep("add", &one, &id))
        return EXIT_FAILED;
    say("Saved as ride %lld: afterset show %lld\n", (long long)id, (long long)id);
    return EXIT_DONE;
}

const struct command command_add = {
    .name = "add",
    .arguments = "--length M:SS --work KJ | --power W [OPTIONS]",
    .purpose = "write down a block that was ridden without afterset",
    .help = "  --date DAY       such as 2026-11-20, or '2026-11-20 18:30'; without it now\n"
            "  --length M:SS    as long as work and power were counted, 1:00 to 180:00\n"
            "  --work KJ        work in kilojoules\n"
            "  --power W        mean power, in place of the work or beside it\n"
            "  --distance KM  --calories KCAL  --heart BPM (the mean)\n"
            "  --profile TITLE  as a profile has it    --bike BIKE  as show has it\n"
            "  --after legs     after leg work (fresh: without); legs when it is not said\n"
            "  --feel 1..5  --effort 0..10  --note TEXT\n"
            "\n"
            "With profile and bike it is compared with blocks of both that took as long.\n"
            "For many of them write a table: afterset import --help.\n",
    .run = run_add,
};
