#include "own_numbers.h"

#include <limits.h>
#include <stdio.h>

#include "afterwards.h"
#include "app/command.h"
#include "app/ride_record.h"
#include "beat.h"
#include "own_power.h"

static void take_efforts(struct store *store, bool is_fresh, struct own_numbers *numbers)
{
    const struct own_power efforts = own_power_collect(store, is_fresh);
    struct critical_power fit;

    if (own_power_fit(&efforts, &fit) != RESULT_OK || fit.power_w > UINT16_MAX)
        return;
    numbers->critical_power_w = (uint16_t)(fit.power_w + 0.5);
    numbers->w_prime_j = (uint32_t)(fit.w_prime_j + 0.5);
    numbers->from = is_fresh ? "from your own best efforts when fresh"
                             : "from your own best efforts after leg work";
}

struct own_numbers own_numbers_find(const char *path, const struct profile *profile,
                                    const struct rider *known)
{
    char verb[] = "ride", end_of_options[] = "--", name[PATH_MAX];
    char *arguments[] = {verb, end_of_options, name, NULL};
    const bool is_known = known->critical_power_w > 0 && known->w_prime_j > 0;
    struct own_numbers numbers = {0};
    struct ride_options options;
    struct store *store = NULL;

    (void)snprintf(name, sizeof name, "%s", path);
    if ((is_known && !profile_asks_for_mark(profile)) || ride_record_open(&store) != RESULT_OK)
        return numbers;
    if (ride_options_read(3, arguments, &options) == EXIT_DONE) {
        struct store_ride about = afterwards_about(store, &options);
        (void)snprintf(about.title, sizeof about.title, "%s", profile->title);
        about.id = INT64_MAX;
        if (profile_asks_for_mark(profile))
            numbers.mark_power_w = beat_power_w(store, &about);
        if (!is_known)
            take_efforts(store, about.is_fresh, &numbers);
    }
    store_close(store);
    return numbers;
}

void own_numbers_apply(const struct own_numbers *numbers, struct rider *rider)
{
    if (numbers->from == NULL)
        return;
    rider->critical_power_w = numbers->critical_power_w;
    rider->w_prime_j = numbers->w_prime_j;
}
