#include "ride/recovery.h"

/* Events come four times a second: so late a reading is of another time than the minute's end. */
#define LATE_MS 2000u

static void end_minute(struct recovery *recovery, uint64_t t_ms, int32_t heart_bpm)
{
    recovery->is_counting = false;
    if (heart_bpm > 0 && t_ms - recovery->since_ms <= RECOVERY_MS + LATE_MS)
        recovery->fall_bpm = recovery->from_bpm - heart_bpm;
}

void recovery_step(struct recovery *recovery, uint64_t t_ms, bool in_work, int32_t heart_bpm)
{
    const bool was_in_work = recovery->in_work;

    if (in_work)
        *recovery = (struct recovery){.in_work = true};
    else if (was_in_work)
        *recovery = (struct recovery){
            .is_counting = heart_bpm > 0, .since_ms = t_ms, .from_bpm = heart_bpm};
    else if (recovery->is_counting && t_ms - recovery->since_ms >= RECOVERY_MS)
        end_minute(recovery, t_ms, heart_bpm);
}

uint32_t recovery_left_ms(const struct recovery *recovery, uint64_t t_ms)
{
    const uint64_t passed_ms = t_ms - recovery->since_ms;

    return recovery->is_counting && passed_ms < RECOVERY_MS ? (uint32_t)(RECOVERY_MS - passed_ms)
                                                            : 0;
}
