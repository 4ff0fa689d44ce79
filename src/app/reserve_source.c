#include "reserve_source.h"

#include "own_power.h"

/* An error of more than half of W' leaves nothing to be said in per cent of it. */
#define W_PRIME_ERROR_MAX_PCT 50

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
    if (own_power_fit(&efforts, &fit) != RESULT_OK || !fit.has_errors)
        return NULL;
    const double error_pct = 100 * fit.w_prime_error_j / fit.w_prime_j;
    if (error_pct > W_PRIME_ERROR_MAX_PCT)
        return NULL;
    *ret = reserve_run_of(&setup->plan, fit.power_w, fit.w_prime_j, error_pct);
    return is_fresh ? "from your own best efforts when fresh"
                    : "from your own best efforts after leg work";
}
