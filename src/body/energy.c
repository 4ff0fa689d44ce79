#include "body/energy.h"

#include <assert.h>

static const double pi = 3.14159265358979323846;

/* ---- work ---- */

int32_t work_power_w(int32_t power_w)
{
    if (power_w > INT16_MAX)
        return INT16_MAX;
    return power_w < INT16_MIN ? INT16_MIN : power_w;
}

void work_add(struct work *work, uint64_t t_ms, int32_t power_w, uint32_t gap_limit_ms)
{
    assert(gap_limit_ms <= WORK_GAP_LIMIT_MAX_MS);
    power_w = work_power_w(power_w);
    if (work->begun && t_ms < work->t_ms)
        return;
    if (work->begun && t_ms - work->t_ms <= gap_limit_ms) {
        uint64_t elapsed_ms = t_ms - work->t_ms;
        work->half_mj += (int64_t)(work->power_w + power_w) * (int64_t)elapsed_ms;
        work->known_ms += elapsed_ms;
    }
    work->begun = true;
    work->t_ms = t_ms;
    work->power_w = power_w;
}

int64_t work_j(const struct work *work)
{
    int64_t half_j = work->half_mj < 0 ? -1000 : 1000;
    return (work->half_mj + half_j) / 2000;
}

/* ---- energy ---- */

double energy_kcal(double work_kj, double gross_efficiency, double kj_per_kcal)
{
    return gross_efficiency > 0 ? work_kj / (kj_per_kcal * gross_efficiency) : 0;
}

struct energy_range energy_range(double work_kj)
{
    return (struct energy_range){
        .low_kcal = energy_kcal(work_kj, GROSS_EFFICIENCY_HIGH, KJ_PER_KCAL_THERMOCHEMICAL),
        .mid_kcal = energy_kcal(work_kj, GROSS_EFFICIENCY_MID, KJ_PER_KCAL_THERMOCHEMICAL),
        .high_kcal = energy_kcal(work_kj, GROSS_EFFICIENCY_LOW, KJ_PER_KCAL_THERMOCHEMICAL),
    };
}

static double rest_w(double mass_kg)
{
    return mets_kcal(1, mass_kg, 1) * KJ_PER_KCAL_THERMOCHEMICAL * 1000 / 60;
}

double energy_net_efficiency(double power_w, double gross_efficiency, double mass_kg)
{
    if (!(gross_efficiency > 0))
        return 0;
    double spent_w = power_w / gross_efficiency - rest_w(mass_kg);
    return spent_w > 0 ? power_w / spent_w : 0;
}

double power_from_torque_w(double torque_nm, double cadence_rpm)
{
    return torque_nm * 2 * pi * cadence_rpm / 60;
}

/* ---- oxygen ---- */

static const double ml_per_kgm = 1.8;
static const double ml_per_w_min = 10.8;
static const double ml_unloaded = 7.0; /* rest, and moving the legs */
static const double kcal_per_litre = 5.0;

static struct oxygen_cost cost_of(double vo2_ml_kg_min, double mass_kg, double power_w)
{
    double vo2_l_min = vo2_ml_kg_min * mass_kg / 1000;
    return (struct oxygen_cost){
        .vo2_ml_kg_min = vo2_ml_kg_min,
        .vo2_l_min = vo2_l_min,
        .mets = vo2_ml_kg_min / MET_VO2_ML_KG_MIN,
        .kcal_min = vo2_l_min * kcal_per_litre,
        .extrapolated = power_w < ACSM_POWER_LOWEST_W || power_w > ACSM_POWER_HIGHEST_W,
    };
}

struct oxygen_cost oxygen_cost(double power_w, double mass_kg)
{
    if (!(mass_kg > 0))
        return (struct oxygen_cost){0};
    return cost_of(ml_per_w_min * power_w / mass_kg + ml_unloaded, mass_kg, power_w);
}

struct oxygen_cost oxygen_cost_of_rate(double rate_kgm_min, double mass_kg)
{
    if (!(mass_kg > 0))
        return (struct oxygen_cost){0};
    double power_w =
        rate_kgm_min * ml_per_kgm / ml_per_w_min; /* 300 to 1200 kg m/min: 50 to 200 W */
    return cost_of(ml_per_kgm * rate_kgm_min / mass_kg + ml_unloaded, mass_kg, power_w);
}

double oxygen_power_w(double vo2_ml_kg_min, double mass_kg)
{
    return (vo2_ml_kg_min - ml_unloaded) * mass_kg / ml_per_w_min;
}

double oxygen_rate_kgm_min(double vo2_ml_kg_min, double mass_kg)
{
    return (vo2_ml_kg_min - ml_unloaded) * mass_kg / ml_per_kgm;
}

double mets_kcal(double mets, double mass_kg, double minutes)
{
    return mets * MET_VO2_ML_KG_MIN * mass_kg / 1000 * kcal_per_litre * minutes;
}

double weir_kcal_min(double vo2_l_min, double vco2_l_min)
{
    return 3.941 * vo2_l_min + 1.106 * vco2_l_min;
}
