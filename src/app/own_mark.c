#include "own_mark.h"

#include <limits.h>
#include <stdio.h>

#include "afterwards.h"
#include "app/command.h"
#include "app/ride_record.h"
#include "beat.h"

uint16_t own_mark_w(const char *path, const struct profile *profile)
{
    char verb[] = "ride", end_of_options[] = "--", name[PATH_MAX];
    char *arguments[] = {verb, end_of_options, name, NULL};
    struct ride_options options;
    struct store *store = NULL;
    uint16_t mark_w = 0;

    (void)snprintf(name, sizeof name, "%s", path);
    if (!profile_asks_for_mark(profile) || ride_record_open(&store) != RESULT_OK)
        return 0;
    if (ride_options_read(3, arguments, &options) == EXIT_DONE) {
        const struct store_ride about = afterwards_about(store, &options);
        mark_w = beat_power_w(store, &about, profile);
    }
    store_close(store);
    return mark_w;
}
