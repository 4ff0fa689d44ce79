#include "against.h"

#include "next_time.h"

void against_find(struct store *store, const struct store_ride *ride, const struct rider *rider,
                  struct against *ret)
{
    struct earlier earlier;

    *ret = (struct against){"", "", "", ""};
    if (ride->state == STORE_RIDING || earlier_find(store, ride, &earlier) != RESULT_OK)
        return;
    earlier.slope.power_w = rider->critical_power_w;
    earlier_facts(&earlier, ride, ret->facts, sizeof ret->facts);
    earlier_verdict(&earlier, ride, ret->verdict, sizeof ret->verdict);
    earlier_reckoning(&earlier, ride, ret->reckoning, sizeof ret->reckoning);
    next_time(store, ride, rider, ret->next, sizeof ret->next);
}
