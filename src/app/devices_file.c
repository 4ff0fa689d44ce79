#include "app/devices_file.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"
#include "app/profile_file.h"

static const char file_name[] = "devices";

bool load_devices(struct devices *ret)
{
    char path[PATH_MAX];
    if (!data_path(file_name, path, sizeof path))
        return false;
    if (access(path, F_OK) != 0 && errno == ENOENT) {
        *ret = (struct devices){0};
        return true;
    }
    size_t length;
    char *text = read_file(path, DEVICES_FILE_MAX, &length);
    if (text == NULL)
        return false;
    struct text_fault fault;
    enum result result = devices_read(text, length, ret, &fault);
    free(text);
    if (result != RESULT_OK)
        complain_at(path, &fault);
    return result == RESULT_OK;
}

bool save_devices(const struct devices *devices)
{
    char path[PATH_MAX];
    char text[DEVICES_FILE_MAX];
    if (!data_path(file_name, path, sizeof path))
        return false;
    if (devices_write(devices, text, sizeof text) != RESULT_OK) {
        complain("the devices do not fit into %s", path);
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
