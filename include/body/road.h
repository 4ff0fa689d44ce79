/*
 * Power on the bike as speed on a flat road in still air.
 *
 *     power * efficiency = density * CdA * v^3 / 2 + Crr * m * g * v + v * (91 + 8.7 v) / 1000
 *
 * with the last term, the wheel bearings, only where it is asked for. Source: Martin et al. 1998, J
 * Appl Biomech 14:276. Distance is not additive in power, so sum up speeds, second by second; and
 * as half the power is still three quarters of the speed, compare weeks by work instead.
 */
#ifndef BODY_ROAD_H
#define BODY_ROAD_H

#include <stdbool.h>

#define ROAD_SPEED_MAX_M_S 40.0

struct road {
    double air_density_kg_m3;
    double drag_area_m2;
    double rolling_coefficient;
    double mass_kg; /* rider and bike */
    double drive_efficiency;
    bool bearings;
};

/* Sea level at 15 degrees; area and rolling coefficient are common practice for an upright position
 * on good tyres; the efficiency is that of Martin et al. */
struct road road_typical(void);

double road_power_w(const struct road *road, double speed_m_s);
/* From 0 to ROAD_SPEED_MAX_M_S; 0 for a power of nothing or less. */
double road_speed_m_s(const struct road *road, double power_w);

#endif
