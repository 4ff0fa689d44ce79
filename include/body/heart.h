/*
 * Heart rate: estimates from age, recovery, and which readings to believe.
 */
#ifndef BODY_HEART_H
#define BODY_HEART_H

#include <stdbool.h>
#include <stdint.h>

/* ---- the highest rate, estimated from age ---- */

/* Tanaka et al. 2001: 208 - 0.7 age. One standard error is 11.4 beats on cycle ergometers (762
 * riders; HERITAGE 2013, Am J Hum Biol), so every third person is further away than that: a rate
 * above the estimate is a prompt and no proof of anything. Rounded down. */
int32_t heart_max_bpm_at(int32_t age_years);
/* With rate-slowing medicine. Brawner et al. 2004: 164 - 0.7 age. Patients in rehabilitation missed
 * estimates of this kind by twenty beats (Keteyian et al. 2023). Rounded down. */
int32_t heart_max_slowed_bpm_at(int32_t age_years);

/* ---- recovery ---- */

/* A fall after the end of exercise that studies of patients call low: at most 12 beats in a minute
 * of upright cool-down (Cole et al. 1999, NEJM 341:1351). Treadmills in clinics: to be shown with
 * that, not as a finding. */
bool heart_fall_is_low_1_min(int32_t fall_bpm);

/* ---- readings ---- */

#define HEART_LOWEST_BPM  30u /* common practice */
#define HEART_HIGHEST_BPM 240u
/* About twice the fastest true change over several seconds in 25 rides to exhaustion (records of
 * Weigend et al. 2022, arXiv:2207.14295); faults of a strap are three times faster. */
#define HEART_CHANGE_LIMIT_BPM_S 6u

bool heart_is_plausible(uint32_t heart_bpm);

/* Lets plausible readings through that the last believed one can have turned into. The longer ago
 * that was, the further they may be from it, so a wrong one is not believed for ever. Zeroed:
 * nothing seen yet. */
struct heart_filter {
    bool begun;
    uint64_t t_ms;
    uint32_t heart_bpm; /* the last that was believed */
};

bool heart_filter_accept(struct heart_filter *filter, uint64_t t_ms, uint32_t heart_bpm);

#endif
