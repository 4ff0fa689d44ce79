#include "app/settings_file.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"
#include "app/profile_file.h"

static const char file_name[] = "rider";

bool load_settings(struct settings *ret)
{
    char path[PATH_MAX];
    if (!config_path(file_name, path, sizeof(path)))
        return false;
    if (access(path, F_OK) != 0 && errno == ENOENT) {
        *ret = (struct settings){0};
        return true;
    }
    size_t length;
    char *text = read_file(path, SETTINGS_FILE_MAX, &length);
    if (text == NULL)
        return false;
    struct text_fault fault;
    enum result result = settings_read(text, length, ret, &fault);
    free(text);
    if (result != RESULT_OK)
        complain_at(path, &fault);
    return result == RESULT_OK;
}

bool save_settings(const struct settings *settings)
{
    char path[PATH_MAX];
    char text[SETTINGS_FILE_MAX];
    if (!config_path(file_name, path, sizeof(path)))
        return false;
    if (settings_write(settings, text, sizeof(text)) != RESULT_OK) {
        complain("the settings do not fit into %s", path);
        return false;
    }
    if (!make_folders_for(path))
        return false;
    if (!replace_file(path, text, strlen(text))) {
        complain("cannot write %s: %s", path, strerror(errno));
        return false;
    }
    return true;
}
