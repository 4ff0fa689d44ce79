/*
 * The file of a draft: what was read is the only thing that may be written over.
 */
#ifndef APP_DRAFT_FILE_H
#define APP_DRAFT_FILE_H

#include <stdbool.h>
#include <stddef.h>

/* Zero it. */
struct draft_file {
    char *path; /* where the text below is on disk */
    char *text; /* as it was read */
    size_t length;
    char *written; /* what was saved over it last */
    size_t written_length;
};

/* Reads it; an empty path, or one where nothing is yet, is a new file. Complains and gives false
 * when it cannot be read. */
bool draft_file_open(struct draft_file *file, const char *path);
/* Whole or not at all, also when the power fails, with the rights that it has, or 0600. False, and
 * `ret_why` in a sentence: something else is there than was read or saved here before, or it cannot
 * be written. */
bool draft_file_save(struct draft_file *file, const char *path, const char *text, size_t length,
                     char *ret_why, size_t size);
void draft_file_close(struct draft_file *file);

#endif
