#include "ready_lines.h"

#include <jansson.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/command.h"
#include "discovery.h"

static void print_json(const char *thing, const char *state, const char *words)
{
    json_t *object = json_pack("{ss ss ss}", "thing", thing, "state", state, "words", words);
    char *line = json_dumps(object, JSON_COMPACT);
    json_decref(object);
    if (line != NULL)
        puts(line);
    free(line);
}

void ready_tell(struct ready_lines *lines, enum ready_state state, const char *thing,
                const char *format, ...)
{
    static const char *const names[] = {"ok", "to do", "missing"};
    char words[DISCOVERY_ADVICE_MAX + 256];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(words, sizeof words, format, arguments);
    va_end(arguments);
    lines->failed = lines->failed || state == STATE_MISSING;
    if (lines->jsonl)
        print_json(thing, names[state], words);
    else
        say("%-8s %-11s  %s\n", names[state], thing, words);
}
