/*
 * Profiles from files.
 */
#ifndef APP_PROFILE_FILE_H
#define APP_PROFILE_FILE_H

#include <stdbool.h>

#include "ride/plan.h"

/* Complains and gives false when the file cannot be read or is no profile. */
bool load_profile(const char *path, struct profile *ret);
/* The same without a word, for profiles that nobody asked for. */
bool peek_profile(const char *path, struct profile *ret);

#endif
