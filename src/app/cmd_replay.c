#include <stdio.h>
#include <stdlib.h>

#include "app/command.h"
#include "port/store.h"
#include "rerun.h"
#include "ride/names.h"

static int report(const char *path, const struct rerun *rerun)
{
    if (rerun->different_line != 0) {
        complain("%s:%u: recorded '%s', now '%s'; another version of afterset rode it, or the file "
                 "was changed; what the ride came to stays as it was saved",
                 path, rerun->different_line, rerun->wanted, rerun->found);
        return EXIT_FAILED;
    }
    printf("%s: %zu events, %zu effects, all as recorded; %s\n", path, rerun->events,
           rerun->effects,
           rerun->has_ended ? name_of(&end_names, rerun->summary.end) : "it broke off in mid-ride");
    return EXIT_DONE;
}

static int run(int argc, char **argv)
{
    struct rerun rerun;
    struct text_fault fault = {0};
    size_t length;

    if (argc != 2 || argv[1][0] == '-') {
        complain("replay takes one journal file; see 'afterset replay --help'");
        return EXIT_WRONG_USE;
    }
    char *text = read_file(argv[1], STORE_JOURNAL_MAX, &length);
    if (text == NULL)
        return EXIT_FAILED;
    const enum result result = rerun_journal(text, length, &rerun, &fault);
    free(text);
    if (result != RESULT_OK) {
        complain_at(argv[1], &fault, "");
        return EXIT_FAILED;
    }
    return report(argv[1], &rerun);
}

const struct command command_replay = {
    .name = "replay",
    .arguments = "FILE",
    .purpose = "run a journal through the controller and compare effects",
    .help =
        "A journal comes from 'afterset show N --journal'. The first difference is shown with "
        "its line; none is exit status 0, one is 1. A ride of an older afterset may differ, since "
        "its controller did; what such a ride came to stays as it was saved.\n",
    .run = run,
};
