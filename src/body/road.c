#include "body/road.h"

static const double gravity_m_s2 = 9.80665;

struct road road_typical(void)
{
    return (struct road){
        .air_density_kg_m3 = 1.225,
        .drag_area_m2 = 0.32,
        .rolling_coefficient = 0.004,
        .mass_kg = 80,
        .drive_efficiency = 0.977,
    };
}

double road_power_w(const struct road *road, double speed_m_s)
{
    double v = speed_m_s;
    double air_w = 0.5 * road->air_density_kg_m3 * road->drag_area_m2 * v * v * v;
    double rolling_w = road->rolling_coefficient * road->mass_kg * gravity_m_s2 * v;
    double bearings_w = road->bearings ? v * (91 + 8.7 * v) / 1000 : 0;
    return (air_w + rolling_w + bearings_w) / road->drive_efficiency;
}

/* Power rises with speed, so halving finds it; 50 halvings of 40 m/s end below the last digit. */
double road_speed_m_s(const struct road *road, double power_w)
{
    double low = 0, high = ROAD_SPEED_MAX_M_S;
    if (!(power_w > 0))
        return 0;
    for (int i = 0; i < 50; i++) {
        double middle = (low + high) / 2;
        if (road_power_w(road, middle) < power_w)
            low = middle;
        else
            high = middle;
    }
    return (low + high) / 2;
}
