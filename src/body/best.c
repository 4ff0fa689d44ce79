#include "body/best.h"

#include <assert.h>

#include "body/energy.h"

enum { RING_SIZE = BEST_LONGEST_S + 1 };

static uint32_t window_s_of(enum best_window window)
{
    static const uint32_t windows_s[BEST_WINDOW_COUNT] = {
        [BEST_5_S] = 5, [BEST_30_S] = 30, [BEST_60_S] = 60, [BEST_180_S] = BEST_LONGEST_S};
    assert((unsigned)window < BEST_WINDOW_COUNT);
    return windows_s[window];
}

static void begin_stretch(struct best_powers *best)
{
    best->half_mj = 0;
    best->stretch_ms = 0;
    best->half_mj_at[0] = 0;
}

static void end_second(struct best_powers *best, uint64_t second, int64_t half_mj)
{
    best->half_mj_at[second % RING_SIZE] = half_mj;
    for (enum best_window i = BEST_5_S; i < BEST_WINDOW_COUNT; i++) {
        uint32_t window_s = window_s_of(i);
        if (second < window_s)
            continue;
        int64_t inside = half_mj - best->half_mj_at[(second - window_s) % RING_SIZE];
        if (!best->known[i] || inside > best->best_half_mj[i])
            best->best_half_mj[i] = inside;
        best->known[i] = true;
    }
}

/* The work of the first `part_ms` of `whole_ms` in which power goes straight from one to the other.
 * With both ends an sint16 and a minute at most, this stays below 2^48. */
static int64_t part_half_mj(int32_t from_w, int32_t to_w, int64_t part_ms, int64_t whole_ms)
{
    int64_t rise_w = to_w - from_w;
    return from_w * part_ms * 2 + rise_w * part_ms * part_ms / whole_ms;
}

static void extend_stretch(struct best_powers *best, int32_t power_w, uint64_t elapsed_ms)
{
    if (elapsed_ms == 0)
        return;
    const uint64_t begun_ms = best->stretch_ms % 1000;
    const uint64_t ends = (begun_ms + elapsed_ms) / 1000;
    uint64_t second = best->stretch_ms / 1000;

    for (uint64_t i = 0; i < ends; i++) {
        const int64_t part_ms = (int64_t)((i + 1) * 1000 - begun_ms);
        end_second(best, ++second,
                   best->half_mj +
                       part_half_mj(best->power_w, power_w, part_ms, (int64_t)elapsed_ms));
    }
    best->half_mj += (int64_t)(best->power_w + power_w) * (int64_t)elapsed_ms;
    best->stretch_ms += elapsed_ms;
}

void best_add(struct best_powers *best, uint64_t t_ms, int32_t power_w, uint32_t gap_limit_ms)
{
    assert(gap_limit_ms <= WORK_GAP_LIMIT_MAX_MS);
    power_w = work_power_w(power_w);
    if (best->begun && t_ms < best->t_ms)
        return;
    const uint64_t elapsed_ms = t_ms - best->t_ms;
    if (!best->begun || elapsed_ms > gap_limit_ms)
        begin_stretch(best);
    else
        extend_stretch(best, power_w, elapsed_ms);
    best->begun = true;
    best->t_ms = t_ms;
    best->power_w = power_w;
}

bool best_power_w(const struct best_powers *best, enum best_window window, int32_t *ret)
{
    if (!best->known[window])
        return false;
    int64_t half_mj_per_w = (int64_t)window_s_of(window) * 2000;
    int64_t half = best->best_half_mj[window] < 0 ? -half_mj_per_w / 2 : half_mj_per_w / 2;
    *ret = (int32_t)((best->best_half_mj[window] + half) / half_mj_per_w);
    return true;
}
