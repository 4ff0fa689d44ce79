/*
 * Heart rate: estimates from age, intensity bands, recovery, and which readings to believe.
 */
#ifndef BODY_HEART_H
#define BODY_HEART_H

#include <stdbool.h>
#include <stdint.h>

/* ---- the highest rate, estimated from age ---- */

/* All of them miss by 10 to 12 beats either way (one standard error on cycle ergometers; HERITAGE
 * 2013, Am J Hum Biol), so a rate above the estimate is a prompt and no proof of anything. */
double heart_max_fox_bpm(double age_years);     /* Fox et al. 1971: 220 - age */
double heart_max_tanaka_bpm(double age_years);  /* Tanaka et al. 2001: 208 - 0.7 age */
double heart_max_gellish_bpm(double age_years); /* Gellish et al. 2007: 206.9 - 0.67 age */
double heart_max_nes_bpm(double age_years);     /* Nes et al. 2013: 211 - 0.64 age */
/* With rate-slowing medicine; poor even so. Brawner et al. 2004: 164 - 0.7 age. */
double heart_max_slowed_bpm(double age_years);

/* ---- intensity ---- */

/* The rate at a fraction of the reserve between rest and maximum, and back (Karvonen). The percent
 * are 0 where rest is not below the maximum. */
double heart_at_reserve_bpm(double rest_bpm, double max_bpm, double fraction);
double heart_reserve_percent(double heart_bpm, double rest_bpm, double max_bpm);

enum heart_band {
    HEART_VERY_LIGHT,
    HEART_LIGHT,
    HEART_MODERATE,
    HEART_VIGOROUS,
    HEART_NEAR_MAXIMAL
};

/* Bands of the American College of Sports Medicine (Garber et al. 2011, MSSE 43:1334), each from
 * its lower edge up to but without the next one's. Reserve and maximum put the same rate in
 * different bands; do not mix them. */
enum heart_band heart_band_of_reserve(double percent);
enum heart_band heart_band_of_max(double percent);

/* ---- recovery ---- */

/* Falls after the end of exercise that studies of patients call low: at most 12 beats in a minute
 * of upright cool-down (Cole et al. 1999, NEJM 341:1351), at most 42 in two (Cole et al. 2000, Ann
 * Intern Med 132:552). Treadmills in clinics: to be shown with that, not as a finding. */
bool heart_fall_is_low_1_min(int32_t fall_bpm);
bool heart_fall_is_low_2_min(int32_t fall_bpm);

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

/* ---- course over time ---- */

/* One exponential up from `base_bpm` by `amplitude_bpm`, or down to `asymptote_bpm`; tau above 0.
 * In those 25 rides tau was 51 s up and 89 s down in the median. */
double heart_rise_bpm(double base_bpm, double amplitude_bpm, double tau_s, double t_s);
double heart_fall_bpm(double asymptote_bpm, double amplitude_bpm, double tau_s, double t_s);

#endif
