#include "recover.h"

#include <stdlib.h>

#include "app/command.h"
#include "recorder.h"
#include "rerun.h"

static struct store_summary summary_of(const char *text, size_t length)
{
    struct store_summary summary = {.ending = STORE_ENDING_STOPPED};
    struct text_fault fault;
    struct rerun rerun;

    /* A journal that cannot be read still is kept; only its sums stay at nothing. */
    if (rerun_journal(text, length, &rerun, &fault) == RESULT_OK)
        summary_for_store(&rerun.summary, &summary);
    return summary;
}

static enum result recover(struct store *store, const struct store_ride *ride)
{
    size_t length;
    char *text;

    enum result result = store_journal(store, ride->id, &text, &length);
    if (result != RESULT_OK)
        return result;
    const struct store_summary summary = summary_of(text, length);
    free(text);
    result = store_end(store, ride->id, STORE_RECOVERED, &summary);
    if (result == RESULT_OK)
        complain("ride %lld was broken off; %u:%02u of it is recovered ('afterset show %lld')",
                 (long long)ride->id, summary.duration_s / 60, summary.duration_s % 60,
                 (long long)ride->id);
    return result;
}

void recover_rides(struct store *store)
{
    struct store_ride ride;

    for (int64_t id = 0; store_next_unfinished(store, id, &ride) == RESULT_OK; id = ride.id)
        if (recover(store, &ride) != RESULT_OK)
            complain("ride %lld was broken off and cannot be recovered now: %s", (long long)ride.id,
                     store_problem(store));
}
