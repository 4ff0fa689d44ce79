#include "app/profile_file.h"

#include <stdio.h>
#include <stdlib.h>

#include "app/command.h"
#include "text/profile.h"

bool load_profile(const char *path, struct profile *ret)
{
    size_t length;
    char *text = read_file(path, PROFILE_FILE_MAX, &length);
    if (text == NULL)
        return false;
    struct text_fault fault;
    enum result result = profile_read(text, length, ret, &fault);
    free(text);
    if (result != RESULT_OK)
        complain_at(path, &fault, "");
    return result == RESULT_OK;
}

bool peek_profile(const char *path, struct profile *ret)
{
    char *text = malloc(PROFILE_FILE_MAX + 1);
    FILE *file = fopen(path, "rbe");
    struct text_fault fault;
    bool is_read = false;

    if (text != NULL && file != NULL) {
        const size_t length = fread(text, 1, PROFILE_FILE_MAX + 1, file);
        is_read = !ferror(file) && length <= PROFILE_FILE_MAX &&
                  profile_read(text, length, ret, &fault) == RESULT_OK;
    }
    if (file != NULL)
        (void)fclose(file);
    free(text);
    return is_read;
}
