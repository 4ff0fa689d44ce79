/*
 * Critical power and the work above it, W', out of a rider's hardest efforts.
 *
 * Two parameters, three ways to fit them, each by least squares in what stands on its left:
 *
 *     work = CP t + W'       power = W' / t + CP       t = W' / (power - CP)
 *
 * Sources: Monod & Scherrer 1965, Ergonomics 8:329; Gaesser et al. 1995, MSSE 27:1430. They hold
 * for efforts of about 2 to 30 min that end in exhaustion (Skiba & Clarke 2021, IJSPP 16:1561), and
 * overestimate CP when all of them are shorter than 10 min (Mattioni Maturana et al. 2018, J Sci
 * Med Sport 21:742). The forms differ by several per cent in CP and by far more in W'; W' of one
 * day has a typical error of 28 % (Johnson et al. 2011, MSSE 43:2375). So show them as estimates.
 */
#ifndef BODY_CRITICAL_POWER_H
#define BODY_CRITICAL_POWER_H

#include <stdbool.h>
#include <stddef.h>

#include "base/result.h"

#define CRITICAL_POWER_TRIALS_MAX 32u

/* As long as could be held at this mean power; both above 0. */
struct trial {
    double time_s, power_w;
};

enum critical_power_form {
    CRITICAL_POWER_WORK_TIME,
    CRITICAL_POWER_INVERSE_TIME,
    CRITICAL_POWER_HYPERBOLIC
};

/* Errors are standard ones: of ordinary least squares in the first two forms, from the slopes at
 * the solution in the third. Two trials have none. */
struct critical_power {
    double power_w, w_prime_j;
    bool has_errors;
    double power_error_w, w_prime_error_j;
};

/* RESULT_NEED_MORE: fewer than two trials. RESULT_FULL: more than CRITICAL_POWER_TRIALS_MAX.
 * RESULT_INVALID: a trial without time or power. RESULT_RANGE: what fits best is no critical power,
 * as it or W' is not above 0, or the trials are all alike. */
MUST_USE enum result critical_power_fit(enum critical_power_form form, const struct trial *trials,
                                        size_t count, struct critical_power *ret);

#endif
