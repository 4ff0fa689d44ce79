/*
 * How far the heart falls in the first minute after hard work.
 *
 * It counts from the end of each work step: the one that turns out to be the last gives the number,
 * whether a cool-down follows, a stop or a cut-off. Work that begins again ends the count. Both
 * rates are the median of the seconds before, as for the limit: single beats scatter.
 *
 * Meaning and sources: body/heart.h.
 */
#ifndef RIDE_RECOVERY_H
#define RIDE_RECOVERY_H

#include <stdbool.h>
#include <stdint.h>

#define RECOVERY_MS 60000u

/* Zeroed: no work yet. */
struct recovery {
    bool in_work;
    bool is_counting;
    uint64_t since_ms; /* the end of the work */
    int32_t from_bpm;
    int32_t fall_bpm; /* once the minute has passed; 0: not known */
};

/* With every event, once its time has passed. `heart_bpm` is the median, 0 where it is not known:
 * then there is no number, for an older rate would flatter. */
void recovery_step(struct recovery *recovery, uint64_t t_ms, bool in_work, int32_t heart_bpm);

/* What is left of the minute, 0 when nothing counts. */
uint32_t recovery_left_ms(const struct recovery *recovery, uint64_t t_ms);

#endif
