/*
 * Writing a file so that it is there whole, or as it was.
 */
#ifndef APP_KEPT_FILE_H
#define APP_KEPT_FILE_H

#include <stdbool.h>
#include <stddef.h>

enum file_mode {
    OWNER_ONLY, /* 0600 */
    KEEPS_MODE  /* that of the file that was there; without one 0600 */
};

/* By a new file that takes the other's name once it is on disk; where `path` is a symbolic link,
 * the name of what it points to. What is no file, such as /dev/stdout or a pipe, is written into.
 * False: errno says why, and no file has changed. */
bool replace_file(const char *path, const void *octets, size_t length, enum file_mode mode);

#endif
