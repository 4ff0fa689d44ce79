#include "draft_file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/command.h"
#include "kept_file.h"
#include "text/profile.h"

static char *copy_of(const char *octets, size_t length)
{
    char *copy = malloc(length + 1);

    if (copy == NULL)
        return NULL;
    memcpy(copy, octets, length);
    copy[length] = '\0';
    return copy;
}

bool draft_file_open(struct draft_file *file, const char *path)
{
    file->path = strdup(path);
    if (file->path == NULL) {
        complain("out of memory");
        return false;
    }
    if (path[0] == '\0')
        return true;
    return read_kept_file(path, PROFILE_FILE_MAX, &file->text, &file->length);
}

void draft_file_close(struct draft_file *file)
{
    free(file->path);
    free(file->text);
    free(file->written);
    *file = (struct draft_file){0};
}

/* Whether the file at `path` is what we know of it. */
static bool is_as_known(const struct draft_file *file, const char *path)
{
    const char *known = file->written != NULL ? file->written : file->text;
    const size_t length = file->written != NULL ? file->written_length : file->length;
    const bool is_ours = strcmp(path, file->path) == 0;
    char *now = malloc(PROFILE_FILE_MAX + 1);
    FILE *opened = fopen(path, "rbe");
    bool is_same = false;

    if (opened == NULL)
        is_same = errno == ENOENT && !(is_ours && known != NULL);
    else if (now != NULL && is_ours && known != NULL)
        is_same = fread(now, 1, PROFILE_FILE_MAX + 1, opened) == length && !ferror(opened) &&
                  memcmp(now, known, length) == 0;
    if (opened != NULL)
        (void)fclose(opened);
    free(now);
    return is_same;
}

static bool remember(struct draft_file *file, const char *path, const char *text, size_t length)
{
    char *own_path = strdup(path), *own_text = copy_of(text, length);

    if (own_path == NULL || own_text == NULL) {
        free(own_path);
        free(own_text);
        return false;
    }
    free(file->path);
    free(file->written);
    file->path = own_path;
    file->written = own_text;
    file->written_length = length;
    return true;
}

bool draft_file_save(struct draft_file *file, const char *path, const char *text, size_t length,
                     char *ret_why, size_t size)
{
    if (!is_as_known(file, path)) {
        (void)snprintf(ret_why, size,
                       strcmp(path, file->path) == 0
                           ? "The file was changed since it was read: not saved. Another name?"
                           : "There is such a file already: not saved. Another name?");
        return false;
    }
    if (!replace_file(path, text, length, KEEPS_MODE)) {
        (void)snprintf(ret_why, size, "It cannot be written: %s. Another name?", strerror(errno));
        return false;
    }
    if (remember(file, path, text, length))
        return true;
    (void)snprintf(ret_why, size, "It is saved, but there is no memory to go on with.");
    return false;
}
