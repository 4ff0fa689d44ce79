#include "virtual_files.h"

#include <stdlib.h>

#include "app/command.h"

static bool report(const char *path, enum result result, const struct text_fault *fault)
{
    if (result != RESULT_OK)
        complain_at(path, fault, "");
    return result == RESULT_OK;
}

bool load_virtual_machine(const char *path, struct virtual_machine_config *ret)
{
    struct text_fault fault = {0};
    size_t length;

    if (path == NULL)
        return true;
    char *text = read_file(path, VIRTUAL_CONFIG_FILE_MAX, &length);
    if (text == NULL)
        return false;
    const enum result result = virtual_machine_read(text, length, ret, &fault);
    free(text);
    return report(path, result, &fault);
}

bool load_virtual_rider(const char *path, struct virtual_rider_config *ret)
{
    struct text_fault fault = {0};
    size_t length;

    if (path == NULL)
        return true;
    char *text = read_file(path, VIRTUAL_CONFIG_FILE_MAX, &length);
    if (text == NULL)
        return false;
    const enum result result = virtual_rider_read(text, length, ret, &fault);
    free(text);
    return report(path, result, &fault);
}
