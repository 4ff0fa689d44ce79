#include "profile_list.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"
#include "app/profile_file.h"

static bool is_same_file(const char *a, const char *b)
{
    char *whole_a = realpath(a, NULL), *whole_b = realpath(b, NULL);
    const bool is_same = whole_a != NULL && whole_b != NULL && strcmp(whole_a, whole_b) == 0;

    free(whole_a);
    free(whole_b);
    return is_same;
}

static bool has(const struct profile_list *list, const char *path)
{
    for (size_t i = 0; i < list->count; i++)
        if (is_same_file(list->paths[i], path))
            return true;
    return false;
}

static void add(struct profile_list *list, const char *path)
{
    struct profile profile;
    struct profile_size size;

    if (list->count == PROFILE_LIST_MAX || strlen(path) >= PATH_MAX || has(list, path) ||
        !peek_profile(path, &profile) || profile_measure(&profile, &size) != RESULT_OK)
        return;
    struct today_profile *added = &list->list[list->count];
    (void)snprintf(list->paths[list->count], PATH_MAX, "%s", path);
    added->path = list->paths[list->count++];
    memcpy(added->title, profile.title, sizeof added->title);
    added->length_ms = (uint32_t)size.length_ms;
    added->bends = fit_span(&profile, &added->span) == RESULT_OK;
}

static int is_profile(const struct dirent *entry)
{
    const size_t length = strlen(entry->d_name), suffix = strlen(".profile");
    return length > suffix && strcmp(entry->d_name + length - suffix, ".profile") == 0;
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static void add_folder(struct profile_list *list, const char *folder)
{
    struct dirent **entries = NULL;
    const int count = scandir(folder, &entries, is_profile, by_name);
    char path[PATH_MAX];

    for (int i = 0; i < count; i++) {
        if ((size_t)snprintf(path, sizeof path, "%s/%s", folder, entries[i]->d_name) < sizeof path)
            add(list, path);
        free(entries[i]);
    }
    free(entries);
}

static void add_folder_of(struct profile_list *list, const char *path)
{
    char folder[PATH_MAX];
    const char *slash = strrchr(path, '/');

    if (slash != NULL &&
        (size_t)snprintf(folder, sizeof folder, "%.*s", (int)(slash - path), path) < sizeof folder)
        add_folder(list, folder);
}

/* PREFIX/bin/afterset → PREFIX/share/afterset/profiles, wherever that was put. */
static void add_installed(struct profile_list *list)
{
    char folder[PATH_MAX + 40];
    const ssize_t length = readlink("/proc/self/exe", folder, PATH_MAX - 1);

    if (length <= 0)
        return;
    folder[length] = '\0';
    char *const name = strrchr(folder, '/');
    (void)snprintf(name, sizeof folder - (size_t)(name - folder), "/../share/afterset/profiles");
    char *whole = realpath(folder, NULL);
    if (whole != NULL)
        add_folder(list, whole);
    free(whole);
}

void profile_list_find(struct profile_list *list, const char *last, size_t *ret_last)
{
    char folder[PATH_MAX];

    *ret_last = 0;
    if (last != NULL && last[0] != '\0')
        add_folder_of(list, last);
    add_folder(list, "profiles");
    if (data_path("profiles", folder, sizeof folder))
        add_folder(list, folder);
    add_installed(list);
    for (size_t i = 0; last != NULL && i < list->count; i++)
        if (is_same_file(list->paths[i], last))
            *ret_last = i;
}
