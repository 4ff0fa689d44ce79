#include "against.h"

#include <stdio.h>
#include <stdlib.h>

#include "next_time.h"
#include "text/journal.h"

/* Of that ride, as its mark had it, whatever the rider has said since. */
static double critical_power_of(struct store *store, int64_t id, const struct rider *now)
{
    struct ride_setup *setup = calloc(1, sizeof *setup);
    double power_w = now->critical_power_w;
    char *text = NULL;
    size_t length = 0;

    if (setup != NULL && store_journal(store, id, &text, &length) == RESULT_OK) {
        struct journal_reader reader = journal_reader(text, length);
        struct text_fault fault;
        if (journal_read_setup(&reader, setup, &fault) == RESULT_OK)
            power_w = setup->rider.critical_power_w;
    }
    free(text);
    free(setup);
    return power_w;
}

void against_find(struct store *store, const struct store_ride *ride, const struct rider *rider,
                  struct against *ret)
{
    struct earlier earlier;
    struct next_time next;

    *ret = (struct against){"", "", "", "", ""};
    if (ride->state == STORE_RIDING || earlier_find(store, ride, &earlier) != RESULT_OK)
        return;
    earlier.slope.power_w = critical_power_of(store, ride->id, rider);
    earlier_facts(&earlier, ride, ret->facts, sizeof ret->facts);
    earlier_verdict(&earlier, ride, ret->verdict, sizeof ret->verdict);
    earlier_reckoning(&earlier, ride, ret->reckoning, sizeof ret->reckoning);
    next_time_after(store, ride, rider, &next);
    next_time_say(&next, ret->next, sizeof ret->next);
    next_time_reckon(&next, ret->next_reckoning, sizeof ret->next_reckoning);
}
