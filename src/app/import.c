#include "import.h"

#include <stdio.h>
#include <stdlib.h>

#include "app/command.h"
#include "io/store_sqlite.h"
#include "port/store_history.h"

#define RIDES_MAX 100000u /* no rider's life is longer */

struct import_ride *import_next(struct import *import, const char *path)
{
    if (import->count == RIDES_MAX) {
        complain("%s: more than %u rides at once; import them in parts", path, RIDES_MAX);
        return NULL;
    }
    /* Doubled whenever the count is a power of two. */
    if ((import->count & (import->count - 1)) == 0) {
        const size_t capacity = import->count == 0 ? 1 : 2 * import->count;
        struct import_ride *larger = realloc(import->rides, capacity * sizeof *larger);
        if (larger == NULL) {
            complain("%s: not enough memory for so many rides", path);
            return NULL;
        }
        import->rides = larger;
    }
    import->rides[import->count] = (struct import_ride){.path = path};
    return &import->rides[import->count];
}

void import_free(struct import *import)
{
    for (size_t i = 0; i < import->count; i++)
        free(import->rides[i].journal);
    free(import->rides);
    *import = (struct import){0};
}

/* ---- keeping them ---- */

static bool open_store(const char *verb, struct store **ret)
{
    char path[4096], why[4096 + 160];
    int64_t pid = 0;

    if (!data_path(STORE_FILE_NAME, path, sizeof path) || !make_folders_for(path))
        return false;
    if (store_open(path, STORE_CREATE, why, sizeof why, ret) != RESULT_OK) {
        complain("%s: %s", verb, why);
        return false;
    }
    const enum result result = store_lock(*ret, &pid);
    if (result == RESULT_BUSY)
        complain("%s: a ride is under way (process %lld); do it when it is over", verb,
                 (long long)pid);
    else if (result != RESULT_OK)
        complain("%s: it cannot be saved: %s", verb, store_problem(*ret));
    return result == RESULT_OK;
}

static void say_where(const struct import_ride *from, char *ret, size_t size)
{
    if (from->line > 0)
        (void)snprintf(ret, size, "%s:%u", from->path, from->line);
    else
        (void)snprintf(ret, size, "%s", from->path);
}

static bool add(struct store *store, const struct import_ride *from, int64_t *ret_id)
{
    char where[4096 + 16];
    int64_t id = 0;
    enum result result =
        store_find_same(store, &from->ride, from->journal, from->journal_length, &id);

    say_where(from, where, sizeof where);
    if (result == RESULT_OK) {
        complain("%s: it is there already, as ride %lld; nothing is saved", where, (long long)id);
        return false;
    }
    if (result == RESULT_NOT_FOUND)
        result = store_add(store, &from->ride, from->journal, from->journal_length, ret_id);
    if (result != RESULT_OK)
        complain("%s: it cannot be saved: %s; nothing is", where, store_problem(store));
    return result == RESULT_OK;
}

static bool add_all(struct store *store, const struct import *import, int64_t *ret_first_id)
{
    int64_t id = 0;

    for (size_t i = 0; i < import->count; i++) {
        if (!add(store, &import->rides[i], &id))
            return false;
        if (i == 0)
            *ret_first_id = id;
    }
    return true;
}

/* The numbers of rides go up with their time, as far as it lies with one import. */
static int by_time(const void *a, const void *b)
{
    const struct import_ride *one = a, *other = b;
    const int64_t one_s = one->ride.started_unix_s, other_s = other->ride.started_unix_s;

    return one_s != other_s ? (one_s > other_s) - (one_s < other_s)
                            : (one->line > other->line) - (one->line < other->line);
}

bool import_keep(const char *verb, struct import *import, int64_t *ret_first_id)
{
    struct store *store = NULL;
    bool kept = false;

    qsort(import->rides, import->count, sizeof import->rides[0], by_time);
    if (open_store(verb, &store)) {
        if (store_add_begin(store) != RESULT_OK) {
            complain("%s: it cannot be saved: %s", verb, store_problem(store));
        } else {
            kept = add_all(store, import, ret_first_id);
            if (store_add_end(store, kept) != RESULT_OK) {
                complain("%s: it cannot be saved: %s; nothing is", verb, store_problem(store));
                kept = false;
            }
        }
    }
    store_close(store);
    return kept;
}
