#include "body/heart.h"

#include <math.h>
#include <stddef.h>

double heart_max_fox_bpm(double age_years)
{
    return 220 - age_years;
}

double heart_max_tanaka_bpm(double age_years)
{
    return 208 - 0.7 * age_years;
}

double heart_max_gellish_bpm(double age_years)
{
    return 206.9 - 0.67 * age_years;
}

double heart_max_nes_bpm(double age_years)
{
    return 211 - 0.64 * age_years;
}

double heart_max_slowed_bpm(double age_years)
{
    return 164 - 0.7 * age_years;
}

double heart_at_reserve_bpm(double rest_bpm, double max_bpm, double fraction)
{
    return rest_bpm + fraction * (max_bpm - rest_bpm);
}

double heart_reserve_percent(double heart_bpm, double rest_bpm, double max_bpm)
{
    return max_bpm > rest_bpm ? 100 * (heart_bpm - rest_bpm) / (max_bpm - rest_bpm) : 0;
}

/* `edges` are where the bands above the lowest begin. */
static enum heart_band band_of(double percent, const double edges[HEART_NEAR_MAXIMAL])
{
    enum heart_band band = HEART_VERY_LIGHT;
    while (band < HEART_NEAR_MAXIMAL && percent >= edges[band])
        band++;
    return band;
}

enum heart_band heart_band_of_reserve(double percent)
{
    static const double edges[HEART_NEAR_MAXIMAL] = {30, 40, 60, 90};
    return band_of(percent, edges);
}

enum heart_band heart_band_of_max(double percent)
{
    static const double edges[HEART_NEAR_MAXIMAL] = {57, 64, 77, 96};
    return band_of(percent, edges);
}

bool heart_fall_is_low_1_min(int32_t fall_bpm)
{
    return fall_bpm <= 12;
}

bool heart_fall_is_low_2_min(int32_t fall_bpm)
{
    return fall_bpm <= 42;
}

bool heart_is_plausible(uint32_t heart_bpm)
{
    return heart_bpm >= HEART_LOWEST_BPM && heart_bpm <= HEART_HIGHEST_BPM;
}

/* Straps give whole beats about once a second, so a change is never judged over less: one beat in a
 * tenth of a second is no jump. */
static bool change_is_plausible(uint32_t from_bpm, uint32_t to_bpm, uint64_t elapsed_ms)
{
    uint32_t change_bpm = from_bpm > to_bpm ? from_bpm - to_bpm : to_bpm - from_bpm;
    if (elapsed_ms < 1000)
        elapsed_ms = 1000;
    if (elapsed_ms > 60000) /* by then anything plausible is within reach */
        return true;
    return change_bpm * UINT64_C(1000) < HEART_CHANGE_LIMIT_BPM_S * elapsed_ms;
}

bool heart_filter_accept(struct heart_filter *filter, uint64_t t_ms, uint32_t heart_bpm)
{
    if (!heart_is_plausible(heart_bpm))
        return false;
    if (filter->begun && t_ms < filter->t_ms)
        return false;
    if (filter->begun && !change_is_plausible(filter->heart_bpm, heart_bpm, t_ms - filter->t_ms))
        return false;
    *filter = (struct heart_filter){.begun = true, .t_ms = t_ms, .heart_bpm = heart_bpm};
    return true;
}

double heart_rise_bpm(double base_bpm, double amplitude_bpm, double tau_s, double t_s)
{
    return base_bpm + amplitude_bpm * (1 - exp(-t_s / tau_s));
}

double heart_fall_bpm(double asymptote_bpm, double amplitude_bpm, double tau_s, double t_s)
{
    return asymptote_bpm + amplitude_bpm * exp(-t_s / tau_s);
}
