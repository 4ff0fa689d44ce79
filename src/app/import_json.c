#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"
#include "import.h"
#include "ride_json.h"
#include "text/journal.h"

/* Of the plan and the seconds nothing is read: both are in the journal. */

static bool check_head(const char *path, const json_t *root)
{
    const json_t *format = json_object_get(root, "format");
    const json_t *version = json_object_get(root, "version");

    if (!json_is_string(format) || strcmp(json_string_value(format), RIDE_JSON_FORMAT) != 0)
        complain("%s: not a ride out of afterset export: it has no \"format\": \"%s\"", path,
                 RIDE_JSON_FORMAT);
    else if (!json_is_integer(version) || json_integer_value(version) != RIDE_JSON_VERSION)
        complain("%s: a ride in another version of the format than %d; use the afterset that wrote "
                 "it, or a newer one",
                 path, RIDE_JSON_VERSION);
    else
        return true;
    return false;
}

/* A ride that ended by itself has a journal that can be read; one that was broken off may have
 * anything. */
static bool check_journal(const char *path, const struct import_ride *ride)
{
    struct journal_reader reader = journal_reader(ride->journal, ride->journal_length);
    struct ride_setup *setup = calloc(1, sizeof *setup);
    struct text_fault fault = {0};
    enum result result = RESULT_FULL;

    if (setup != NULL && ride->ride.state != STORE_RECOVERED)
        result = journal_read_setup(&reader, setup, &fault);
    free(setup);
    if (setup == NULL)
        complain("%s: not enough memory to read it", path);
    else if (ride->ride.state != STORE_RECOVERED && result != RESULT_OK)
        complain("%s: line %u of its journal: %s", path, fault.line, fault.message);
    else
        return true;
    return false;
}

static bool take_journal(const char *path, const json_t *root, struct import_ride *ride)
{
    const json_t *journal = json_object_get(root, "journal");
    const bool is_by_hand = ride->ride.state == STORE_BY_HAND;

    if (is_by_hand ? !json_is_null(journal) : !json_is_string(journal)) {
        complain("%s: \"journal\" is not %s", path,
                 is_by_hand ? "null, as it is for a ride written down by hand" : "a text");
        return false;
    }
    if (is_by_hand)
        return true;
    ride->journal_length = json_string_length(journal);
    ride->journal = strdup(json_string_value(journal));
    if (ride->journal == NULL) {
        complain("%s: not enough memory to read it", path);
        return false;
    }
    if (check_journal(path, ride))
        return true;
    free(ride->journal);
    return false;
}

static bool take_ride(struct import *import, const char *path, const json_t *root)
{
    struct ride_json_fault fault;
    struct import_ride *ride = import_next(import, path);

    if (ride == NULL)
        return false;
    if (ride_json_read(json_object_get(root, "ride"), &ride->ride, &fault) != RESULT_OK) {
        complain("%s: \"ride\"%s%s%s %s", path, fault.key[0] != '\0' ? ": \"" : "", fault.key,
                 fault.key[0] != '\0' ? "\"" : "", fault.what);
        return false;
    }
    if (!take_journal(path, root, ride))
        return false;
    import->count++;
    return true;
}

bool import_json(struct import *import, const char *path, const char *text, size_t length)
{
    json_error_t error;
    json_t *root = json_loadb(text, length, JSON_REJECT_DUPLICATES, &error);
    bool taken = false;

    if (root == NULL)
        complain("%s:%d:%d: no JSON: %s", path, error.line, error.column, error.text);
    else
        taken = check_head(path, root) && take_ride(import, path, root);
    json_decref(root);
    return taken;
}
