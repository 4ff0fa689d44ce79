/*
 * afterset import: rides out of files, into the store.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"
#include "import.h"

#define FILE_MAX (16u << 20) /* some 15 hours of a ride; a block has less than 1 MiB */

/* A ride is an object, and no table begins with a brace. */
static bool is_json(const char *text)
{
    return text[strspn(text, " \t\r\n")] == '{';
}

static bool take_file(struct import *import, const char *path)
{
    size_t length = 0;
    char *text = read_file(path, FILE_MAX, &length);

    if (text == NULL)
        return false;
    const bool taken = is_json(text) ? import_json(import, path, text, length)
                                     : import_table(import, path, text, length);
    free(text);
    return taken;
}

static bool take_files(struct import *import, int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        if (!take_file(import, argv[i]))
            return false;
    return true;
}

static void tell_taken(size_t count, int64_t first_id)
{
    if (count == 0)
        say("There are no rides in it.\n");
    else if (count == 1)
        say("Saved as ride %lld: afterset show %lld\n", (long long)first_id, (long long)first_id);
    else
        say("%zu rides saved, from ride %lld on: afterset log\n", count, (long long)first_id);
}

static int run_import(int argc, char **argv)
{
    struct import import = {0};
    int64_t first_id = 0;
    bool kept = false;

    if (argc > 1 && strcmp(argv[1], "--") == 0) {
        argc--;
        argv++;
    } else if (argc < 2 || argv[1][0] == '-') {
        complain("import: takes files out of afterset export, or tables; see afterset import "
                 "--help");
        return EXIT_WRONG_USE;
    }
    if (take_files(&import, argc, argv)) {
        kept = import.count == 0 || import_keep("import", &import, &first_id);
        if (kept)
            tell_taken(import.count, first_id);
    }
    import_free(&import);
    return kept ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_import = {
    .name = "import",
    .arguments = "FILE...",
    .purpose = "take in rides from afterset export, or a table written by hand",
    .help = "A FILE is a ride as 'afterset export --as json' wrote it, or a table of blocks\n"
            "written down by hand: commas between columns, their names in the first line:\n"
            "\n"
            "  date           2026-11-20, or 2026-11-20 18:30\n"
            "  length         minutes and seconds: 12:00\n"
            "  work_kj        one of these two, or both\n"
            "  power_w\n"
            "  distance_km, calories_kcal, heart_bpm (mean), feel (1..5), effort (0..10),\n"
            "  after (legs or fresh), profile (title), bike (as show has it), note\n"
            "\n"
            "All of it is taken or nothing. What is there already is a fault.\n",
    .run = run_import,
};
