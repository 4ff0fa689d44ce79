#include "wire/crank.h"

#define MINUTE_1024 (60u * 1024u)
/* The time of a turn says nothing about whole rounds of its counter: before it can have gone
 * round, begin anew. */
#define AMBIGUOUS_MS 60000u
/* A turn is told with the next frame, which comes up to so much later. */
#define FRAME_LATE_MS 1000u

static void begin(struct crank *crank, uint64_t t_ms, struct crank_count count)
{
    *crank = (struct crank){.has_base = true, .base = count, .base_t_ms = t_ms};
}

/* New turns since the base. */
static void count_turns(struct crank *crank, uint64_t t_ms, struct crank_count count)
{
    const uint16_t turns = (uint16_t)(count.turns - crank->base.turns);
    const uint16_t passed_1024 = (uint16_t)(count.t_1024 - crank->base.t_1024);

    if (passed_1024 == 0)
        return; /* turns in no time: not to be believed, and no base either */
    const uint32_t rpm = (MINUTE_1024 * turns + passed_1024 / 2u) / passed_1024;
    begin(crank, t_ms, count);
    if (rpm > CRANK_RPM_MAX)
        return;
    crank->has_rpm = true;
    crank->rpm = (int32_t)rpm;
}

/* The next turn is not there yet: the crank is no faster than if it came now. */
static int32_t slowed(int32_t rpm, uint64_t since_ms)
{
    const int32_t most_rpm =
        since_ms > FRAME_LATE_MS ? (int32_t)(60000u / (since_ms - FRAME_LATE_MS)) : rpm;
    return rpm < most_rpm ? rpm : most_rpm;
}

bool crank_take(struct crank *crank, uint64_t t_ms, struct crank_count count, int32_t *ret_rpm)
{
    if (!crank->has_base) {
        begin(crank, t_ms, count);
        return false;
    }
    /* Some sensors stamp each frame with its own time: only turns make a turn. */
    const bool has_turned = count.turns != crank->base.turns;
    if (has_turned && t_ms - crank->base_t_ms >= AMBIGUOUS_MS)
        begin(crank, t_ms, count);
    else if (has_turned)
        count_turns(crank, t_ms, count);

    const uint64_t since_ms = t_ms - crank->base_t_ms;
    if (since_ms >= CRANK_STILL_MS) {
        *ret_rpm = 0;
        return true;
    }
    if (crank->has_rpm)
        *ret_rpm = slowed(crank->rpm, since_ms);
    return crank->has_rpm;
}
