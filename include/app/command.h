/*
 * The verbs of the program, and what they share.
 */
#ifndef APP_COMMAND_H
#define APP_COMMAND_H

#include <stdbool.h>
#include <stddef.h>

#include "port/screen.h"

enum exit_status { EXIT_DONE = 0, EXIT_FAILED = 1, EXIT_WRONG_USE = 2, EXIT_CUT_OFF = 3 };

struct command {
    const char *name;
    const char *arguments;             /* for the first line of --help */
    const char *purpose;               /* one line */
    const char *help;                  /* the options, a line each; may be NULL */
    int (*run)(int argc, char **argv); /* argv[0] is the verb */
};

extern const struct command command_ride, command_check, command_virtual_bike, command_replay,
    command_log, command_show, command_report, command_rider, command_scan, command_ready,
    command_rate, command_cues, command_export, command_import, command_add, command_rehearse,
    command_draft;

/* Plain afterset, without a command: what to ride today. Gives the exit status. */
int run_today(void);

/* Stdout, as wide as the terminal behind it. */
struct sink stdout_sink(void);
/* What a command has to say, on stdout, broken to the width of a terminal: see ui/wrap.h. Lines of
 * JSON and parts of lines go to stdout as they are. */
void say(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* Likewise, one of several: what is broken goes on two columns in. */
void say_item(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* One line on stderr, "afterset: …": what is wrong, where, and what to do. */
void complain(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* Where the next complaints go, for whoever must not wait for a reader of stderr; zeroed: there. */
void complain_to(struct sink sink);
/* "PATH:LINE:COLUMN: message", in the form that editors jump to, and what to do behind it where the
 * message does not say so. */
struct text_fault;
void complain_at(const char *path, const struct text_fault *fault, const char *advice);

/* The whole file in memory of its own (free it), with a NUL behind it that does not count.
 * Complains and gives NULL when it cannot be read or has more than `limit` octets. */
char *read_file(const char *path, size_t limit, size_t *ret_length);

/* A file that is kept between runs. Where there is none yet, NULL and a length of 0. Complains and
 * gives false when there is one that cannot be read; free(*ret_text) otherwise. */
bool read_kept_file(const char *path, size_t limit, char **ret_text, size_t *ret_length);
/* The file then holds these octets, whole or not at all, also when the power fails: the old one
 * stays until the new one is on disk. For the owner's eyes only; makes the folders on the way.
 * Complains and gives false on failure. */
bool write_kept_file(const char *path, const void *octets, size_t length);

/* $XDG_DATA_HOME/afterset/NAME, and the same for XDG_CONFIG_HOME and XDG_CACHE_HOME, or where the
 * base directory specification says when those are not set. Nothing is created. Complains and gives
 * false when there is no such place. */
bool data_path(const char *name, char *ret, size_t size);
bool config_path(const char *name, char *ret, size_t size);
bool cache_path(const char *name, char *ret, size_t size);
/* Makes the folders on the way to `path`, 0700. Complains and gives false on failure. */
bool make_folders_for(const char *path);

#endif
