#include "app/settings_file.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"

static const char file_name[] = "rider";

bool load_settings(struct settings *ret)
{
    char path[PATH_MAX], *text;
    size_t length;
    struct text_fault fault;

    if (!config_path(file_name, path, sizeof path) ||
        !read_kept_file(path, SETTINGS_FILE_MAX, &text, &length))
        return false;
    const enum result result = settings_read(text == NULL ? "" : text, length, ret, &fault);
    free(text);
    if (result != RESULT_OK)
        complain_at(path, &fault, "; mend the line, or take it out");
    return result == RESULT_OK;
}

bool save_settings(const struct settings *settings)
{
    char path[PATH_MAX], text[SETTINGS_FILE_MAX];

    if (!config_path(file_name, path, sizeof path))
        return false;
    if (settings_write(settings, text, sizeof text) == RESULT_OK)
        return write_kept_file(path, text, strlen(text));
    complain("the settings do not fit into %s", path);
    return false;
}
