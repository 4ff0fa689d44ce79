#include "app/devices_file.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"

static const char file_name[] = "devices";

bool load_devices(struct devices *ret)
{
    char path[PATH_MAX], *text;
    size_t length;
    struct text_fault fault;

    if (!data_path(file_name, path, sizeof path) ||
        !read_kept_file(path, DEVICES_FILE_MAX, &text, &length))
        return false;
    const enum result result = devices_read(text == NULL ? "" : text, length, ret, &fault);
    free(text);
    if (result != RESULT_OK)
        complain_at(path, &fault,
                    "; mend the line, or delete the file and have 'afterset scan --keep' find the "
                    "devices anew");
    return result == RESULT_OK;
}

bool save_devices(const struct devices *devices)
{
    char path[PATH_MAX], text[DEVICES_FILE_MAX];

    if (!data_path(file_name, path, sizeof path))
        return false;
    if (devices_write(devices, text, sizeof text) == RESULT_OK)
        return write_kept_file(path, text, strlen(text));
    complain("the devices do not fit into %s", path);
    return false;
}
