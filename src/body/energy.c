#include "body/energy.h"

#include <assert.h>

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
    const uint64_t elapsed_ms = t_ms - work->t_ms;
    if (work->begun && elapsed_ms <= gap_limit_ms) {
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

struct energy_range energy_range(double work_kj)
{
    return (struct energy_range){
        .low_kcal = work_kj / (KJ_PER_KCAL * GROSS_EFFICIENCY_HIGH),
        .mid_kcal = work_kj / (KJ_PER_KCAL * GROSS_EFFICIENCY_MID),
        .high_kcal = work_kj / (KJ_PER_KCAL * GROSS_EFFICIENCY_LOW),
    };
}

/* ---- oxygen ---- */

static const double ml_per_w_min = 10.8;
static const double ml_unloaded = 7.0; /* rest, and moving the legs */
static const double kcal_per_litre = 5.0;

struct oxygen_cost oxygen_cost(double power_w, double mass_kg)
{
    if (!(mass_kg > 0))
        return (struct oxygen_cost){0};
    const double vo2_ml_kg_min = ml_per_w_min * power_w / mass_kg + ml_unloaded;
    return (struct oxygen_cost){
        .vo2_ml_kg_min = vo2_ml_kg_min,
        .kcal_min = vo2_ml_kg_min * mass_kg / 1000 * kcal_per_litre,
        .extrapolated = power_w < ACSM_POWER_LOWEST_W || power_w > ACSM_POWER_HIGHEST_W,
    };
}
