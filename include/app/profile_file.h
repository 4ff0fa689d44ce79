/*
 * Profiles from files, and how faults in files are told.
 */
#ifndef APP_PROFILE_FILE_H
#define APP_PROFILE_FILE_H

#include <stdbool.h>

#include "ride/plan.h"
#include "text/lines.h"

/* "PATH:LINE:COLUMN: message" on stderr, in the form that editors jump to. */
void complain_at(const char *path, const struct text_fault *fault);

/* Complains and gives false when the file cannot be read or is no profile. */
bool load_profile(const char *path, struct profile *ret);
/* The same without a word, for profiles that nobody asked for. */
bool peek_profile(const char *path, struct profile *ret);

#endif
