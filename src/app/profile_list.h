/*
 * The profiles that can be chosen from.
 */
#ifndef APP_PROFILE_LIST_H
#define APP_PROFILE_LIST_H

#include <limits.h>

#include "ui/today.h"

#define PROFILE_LIST_MAX 64u

/* Zero it. It must not move. */
struct profile_list {
    size_t count;
    struct today_profile list[PROFILE_LIST_MAX];
    char paths[PROFILE_LIST_MAX][PATH_MAX]; /* as they are found from here */
};

/* Looks into the folder of `last` (NULL or empty: there is none), ./profiles, the data folder, and
 * where `make install` put those that are shipped. Each file once; those that are no profile are
 * left out, `afterset check` says why. `*ret_last` is where `last` stands, or 0. */
void profile_list_find(struct profile_list *list, const char *last, size_t *ret_last);

#endif
