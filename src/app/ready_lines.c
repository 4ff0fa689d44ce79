#include "ready_lines.h"

#include <stdarg.h>
#include <stdio.h>

#include "app/command.h"
#include "discovery.h"
#include "json_line.h"

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
    if (!lines->jsonl)
        say("%-8s %-11s  %s\n", names[state], thing, words);
    else if (!json_line_print(
                 json_pack("{ss ss ss}", "thing", thing, "state", names[state], "words", words))) {
        complain("ready: what is to be said of the %s is not UTF-8, as JSON wants it; without "
                 "--jsonl it is shown",
                 thing);
        lines->failed = true;
    }
}
