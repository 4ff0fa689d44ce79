/*
 * Work at the pedals and what it costs the body.
 *
 * Mechanical work is the number to trust. What the body spends follows from it only by an
 * efficiency nobody has measured for this rider, so it is shown as a range. In a block of a few
 * minutes most of the difference to oxygen taken up meanwhile is repaid afterwards.
 */
#ifndef BODY_ENERGY_H
#define BODY_ENERGY_H

#include <stdbool.h>
#include <stdint.h>

/* ---- mechanical work, in integers ---- */

#define WORK_GAP_LIMIT_MAX_MS 60000u

/* The integral of power over time by trapezoids between samples. Zeroed: nothing seen yet. */
struct work {
    bool begun;
    uint64_t t_ms; /* of the last sample, and its power */
    int32_t power_w;
    int64_t half_mj;   /* units of half a millijoule, which trapezoids fill exactly */
    uint64_t known_ms; /* the time that is covered by samples */
};

/* Power held to what an sint16 can say, as every sum over it is made for. */
int32_t work_power_w(int32_t power_w);
/* Two samples further apart than `gap_limit_ms` (at most WORK_GAP_LIMIT_MAX_MS) have a gap between
 * them: what was done there is not known and neither work nor time is made up. A sample that is
 * older than the last one is left out. Power passes work_power_w(). */
void work_add(struct work *work, uint64_t t_ms, int32_t power_w, uint32_t gap_limit_ms);
int64_t work_j(const struct work *work); /* to the nearest, halves away from zero */

/* ---- energy out of work ---- */

/* The thermochemical kilocalorie. The other one in use, 4.1868 kJ, is 0.07 % larger, far less than
 * the doubt in the efficiency. Source: NIST SP 811, appendix B. */
#define KJ_PER_KCAL 4.184

/* Gross efficiency of cycling: 19.8 % +- 0.6 (Moseley & Jeukendrup 2001, MSSE 33:621), 13 to 24 %
 * over riders and loads (Nickleberry & Brooks 1996, MSSE 28:1396). */
#define GROSS_EFFICIENCY_LOW  0.18
#define GROSS_EFFICIENCY_MID  0.20
#define GROSS_EFFICIENCY_HIGH 0.24

struct energy_range {
    double low_kcal, mid_kcal, high_kcal;
};

/* What the body spends on `work_kj`. */
struct energy_range energy_range(double work_kj);

/* ---- oxygen ---- */

/* Leg cycling after the American College of Sports Medicine: VO2 = 10.8 * power / mass + 7, in
 * watts. (In kg m/min it has 1.8 * rate, and takes 6 of them for a watt; exactly it is 6.118.)
 * Source: GETP 10, table 6.3 (Bushman 2020, Health & Fitness J 24(3):6). */
#define ACSM_POWER_LOWEST_W  50.0 /* steady riding between these is what it was made for */
#define ACSM_POWER_HIGHEST_W 200.0

struct oxygen_cost {
    double vo2_ml_kg_min;
    double kcal_min;   /* gross, at 5 kcal a litre of oxygen */
    bool extrapolated; /* outside of what the equation was made for */
};

/* Mass above 0; zeros for one that is not. */
struct oxygen_cost oxygen_cost(double power_w, double mass_kg);

#endif
