/*
 * The reserve: what is left of W', the work that can be done above critical power.
 *
 * Two models. Both empty it by the work above CP; they differ in how it comes back:
 *
 * - differential (Skiba et al. 2015; Skiba & Clarke 2021, IJSPP 16:1561, eq. 12): only below CP, by
 *   the share that is missing, d/dt = (CP - power) (1 - balance / W');
 * - integral (Skiba et al. 2012, MSSE 44:1526): all that was ever spent fades with one time
 *   constant, during work too. So it empties late: at 350 W over a CP of 250 W and a W' of 20 kJ in
 *   267 s, where CP itself says 200 s.
 *
 * Neither foretells exhaustion in blocks of 20/10 or 60/30 s (Welburn et al., PMC12948861); against
 * riders who recovered for 2 min at most, the differential one missed by 9 points and the integral
 * by 23 (data of Caen et al. 2021). So it is an estimate to look at, shown from 0 to 100 %, and
 * nothing that takes a load off or leaves it on.
 */
#ifndef BODY_RESERVE_H
#define BODY_RESERVE_H

#include <stdbool.h>
#include <stdint.h>

/* Both at once. It goes below zero where a model says empty and the rider goes on. */
struct reserve {
    double critical_power_w, w_prime_j; /* 0: not known, and nothing is reckoned */
    double tau_s;                       /* of the integral model */
    double balance_j;                   /* differential */
    double spent_j;                     /* integral: W' less this is left */
};

/* Full. `tau_s` above 0. */
struct reserve reserve_full(double critical_power_w, double w_prime_j, double tau_s);
/* So long at this power, exactly, however long the step. */
void reserve_ride(struct reserve *reserve, double power_w, double time_s);

double reserve_integral_j(const struct reserve *reserve);
/* Differential, held to what can be shown. 0 where W' is not known. */
uint32_t reserve_percent(const struct reserve *reserve);

uint32_t reserve_integral_percent(const struct reserve *reserve); /* likewise */

/* How far the percentage may be off, a standard error in points: that of W' on what is spent, and
 * the model's own 9 points on what has come back, both of which are nothing while it is full.
 * `w_prime_error_pct` is at least RESERVE_ERROR_LEAST_PCT: Johnson et al. 2011, MSSE 43:2375, for
 * W' from one day to another. That critical power is off too comes on top. */
#define RESERVE_ERROR_LEAST_PCT 28.0
#define RESERVE_MODEL_POINTS    9.0
uint32_t reserve_error_points(const struct reserve *reserve, double w_prime_error_pct);

/* ---- the time constant ---- */

/* For the difference between CP and the mean power of the rests. Take that of the plan: with the
 * mean of what was ridden, the past would change as the ride goes on. */
double reserve_tau_s(double below_critical_w); /* Skiba et al. 2012 */

#endif
