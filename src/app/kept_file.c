#include "kept_file.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/command.h"

static bool write_all(int fd, const char *octets, size_t left)
{
    while (left > 0) {
        ssize_t written = write(fd, octets, left);
        if (written < 0 && errno == EINTR)
            continue;
        if (written < 0)
            return false;
        octets += written;
        left -= (size_t)written;
    }
    return true;
}

/* A new name is on disk only when its folder is. Where that cannot be asked for, the file is whole
 * all the same. */
static void sync_folder_of(char *path)
{
    char *slash = strrchr(path, '/');
    if (slash == NULL)
        return;
    *slash = '\0';
    int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    *slash = '/';
    if (fd < 0)
        return;
    (void)fsync(fd);
    (void)close(fd);
}

/* errno says why not. `fd` is closed either way. */
static bool write_and_close(int fd, const char *octets, size_t length, mode_t mode)
{
    bool written = write_all(fd, octets, length) && fchmod(fd, mode) == 0 && fsync(fd) == 0;
    int why = errno;
    if (close(fd) != 0 && written)
        return false;
    errno = why;
    return written;
}

static bool replace_whole(const char *path, const void *octets, size_t length, mode_t mode)
{
    char fresh[PATH_MAX];
    int wanted = snprintf(fresh, sizeof(fresh), "%s.XXXXXX", path);
    if (wanted < 0 || (size_t)wanted >= sizeof(fresh)) {
        errno = ENAMETOOLONG;
        return false;
    }
    int fd = mkostemp(fresh, O_CLOEXEC); /* mode 0600, and no other program's name */
    if (fd < 0)
        return false;
    if (!write_and_close(fd, octets, length, mode) || rename(fresh, path) != 0) {
        int why = errno;
        (void)unlink(fresh);
        errno = why;
        return false;
    }
    sync_folder_of(fresh);
    return true;
}

/* A device or a pipe is written into, never replaced. */
static bool write_into(const char *path, const void *octets, size_t length)
{
    const int fd = open(path, O_WRONLY | O_CLOEXEC);
    if (fd < 0)
        return false;
    const bool is_written = write_all(fd, octets, length);
    const int why = errno;
    (void)close(fd);
    errno = why;
    return is_written;
}

bool replace_file(const char *path, const void *octets, size_t length, enum file_mode mode)
{
    char target[PATH_MAX];
    struct stat before;
    const bool is_there = stat(path, &before) == 0;

    if (is_there && !S_ISREG(before.st_mode) && !S_ISDIR(before.st_mode))
        return write_into(path, octets, length);
    const bool exists = is_there && realpath(path, target) != NULL;
    return replace_whole(exists ? target : path, octets, length,
                         exists && mode == KEEPS_MODE ? before.st_mode & 0777 : 0600);
}

bool read_kept_file(const char *path, size_t limit, char **ret_text, size_t *ret_length)
{
    if (access(path, F_OK) != 0 && errno == ENOENT) {
        *ret_text = NULL;
        *ret_length = 0;
        return true;
    }
    *ret_text = read_file(path, limit, ret_length);
    return *ret_text != NULL;
}

bool write_kept_file(const char *path, const void *octets, size_t length)
{
    if (!make_folders_for(path))
        return false;
    if (replace_file(path, octets, length, OWNER_ONLY))
        return true;
    complain("cannot write %s: %s", path, strerror(errno));
    return false;
}
