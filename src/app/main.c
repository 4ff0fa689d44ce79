#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "ui/words.h"

static const struct command *const commands[] = {
    &command_ride,   &command_rehearse,     &command_draft,  &command_check,  &command_log,
    &command_show,   &command_report,       &command_rate,   &command_rider,  &command_scan,
    &command_ready,  &command_cues,         &command_export, &command_import, &command_add,
    &command_replay, &command_virtual_bike,
};
#define COMMAND_COUNT (sizeof commands / sizeof commands[0])

static int print_help(void)
{
    say("afterset rides a short block of intervals on a home bike: it holds the load, "
        "watches the heart, cuts off when it must, and remembers what was done.\n\n"
        "usage: afterset                      what to ride today; Enter starts\n"
        "       afterset COMMAND [OPTIONS]\n\n");
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        say("  %-13s  %s\n", commands[i]->name, commands[i]->purpose);
    say("\n  afterset COMMAND --help   the options of one command\n"
        "  afterset help safety      when to stop, and what to mind afterwards\n"
        "  afterset --version\n\n"
        "exit status: 0 done, 1 failed, 2 wrong use, 3 cut off\n\n"
        "First ride: afterset ride profiles/20-10x8.profile --bike virtual --rate 20\n");
    return EXIT_DONE;
}

static int print_command_help(const struct command *command)
{
    say("usage: afterset %s%s%s\n\n%s\n", command->name, command->arguments[0] != '\0' ? " " : "",
        command->arguments, command->purpose);
    if (command->help != NULL)
        say("\n%s", command->help);
    return EXIT_DONE;
}

static int print_safety(void)
{
    say("%s\n%s", words_first_cautions, words_after_block);
    return EXIT_DONE;
}

static const struct command *find_command(const char *name)
{
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

static bool asks_for_help(int argc, char **argv)
{
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
        if (strcmp(argv[i], "--help") == 0)
            return true;
    return false;
}

/* What could not be written was not said: a full disk behind stdout is a failure. */
static int flushed(int status)
{
    if (fflush(stdout) == 0 && ferror(stdout) == 0)
        return status;
    complain("the output could not be written: %s", strerror(errno));
    return status == EXIT_DONE ? EXIT_FAILED : status;
}

static int run(int argc, char **argv)
{
    if (argc < 2)
        return run_today();
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0)
        return print_help();
    if (strcmp(argv[1], "help") == 0 && argc > 2 && strcmp(argv[2], "safety") == 0)
        return print_safety();
    if (strcmp(argv[1], "help") == 0) {
        const struct command *asked = argc > 2 ? find_command(argv[2]) : NULL;
        if (argc > 2 && asked == NULL) {
            complain("there is no command '%s'; 'afterset --help' lists them", argv[2]);
            return EXIT_WRONG_USE;
        }
        return asked != NULL ? print_command_help(asked) : print_help();
    }
    if (strcmp(argv[1], "--version") == 0) {
        printf("afterset %s\n", AFTERSET_VERSION);
        return EXIT_DONE;
    }
    const struct command *command = find_command(argv[1]);
    if (command == NULL) {
        complain("there is no command '%s'; 'afterset --help' lists them", argv[1]);
        return EXIT_WRONG_USE;
    }
    if (asks_for_help(argc - 1, argv + 1))
        return print_command_help(command);
    return command->run(argc - 1, argv + 1);
}

int main(int argc, char **argv)
{
    /* For the terminal alone: files and JSON are read and written without a locale. */
    (void)setlocale(LC_CTYPE, "");
    return flushed(run(argc, argv));
}
