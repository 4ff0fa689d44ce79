#include "reserve_source.h"

#include "own_power.h"

const char *reserve_source_find(struct store *store, const struct ride_setup *setup, bool is_said,
                                bool is_fresh, struct reserve_run *ret)
{
    const struct rider *rider = &setup->rider;
    struct critical_power fit;

    if (rider->critical_power_w > 0 && rider->w_prime_j > 0) {
        *ret = reserve_run_of(&setup->plan, rider->critical_power_w, rider->w_prime_j, 0);
        return is_said ? "as you set them" : "as the virtual bike assumes";
    }
    if (store == NULL)
        return NULL;
    const struct own_power efforts = own_power_collect(store, is_fresh);
    if (own_power_fit(&efforts, &fit) != RESULT_OK)
        return NULL;
    *ret = reserve_run_of(&setup->plan, fit.power_w, fit.w_prime_j,
                          100 * fit.w_prime_error_j / fit.w_prime_j);
    return is_fresh ? "from your own best efforts when fresh"
                    : "from your own best efforts after leg work";
}
