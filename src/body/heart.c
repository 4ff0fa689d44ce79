#include "body/heart.h"

int32_t heart_max_bpm_at(int32_t age_years)
{
    return (2080 - 7 * age_years) / 10;
}

int32_t heart_max_slowed_bpm_at(int32_t age_years)
{
    return (1640 - 7 * age_years) / 10;
}

bool heart_fall_is_low_1_min(int32_t fall_bpm)
{
    return fall_bpm <= 12;
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
