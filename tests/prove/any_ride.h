/*
 * Anything a ride may be given: what the headers of its room and of text/profile allow, and no
 * more.
 */
#ifndef PROVE_ANY_RIDE_H
#define PROVE_ANY_RIDE_H

#include "ride/ride.h"
#include "unknown.h"

static inline int32_t any_i32(void)
{
    return any_int(INT32_MIN, INT32_MAX);
}

/* What text/journal takes; text/profile takes less. */
enum { TARGET_MOST = 100000 };

static inline struct target_range any_range(void)
{
    return (struct target_range){any_bool(), any_int(0, TARGET_MOST), any_int(0, TARGET_MOST)};
}

static inline struct step_targets any_targets(void)
{
    return (struct step_targets){.power_w = any_range(),
                                 .cadence_rpm = any_range(),
                                 .heart_bpm = any_range(),
                                 .level_tenths = any_range(),
                                 .effort = any_range()};
}

static inline struct telemetry any_telemetry(void)
{
    return (struct telemetry){any_u32(), any_i32(), any_i32(), any_i32(), any_i32()};
}

static inline struct machine any_machine(void)
{
    return (struct machine){any_bool(), any_bool(), any_i32(), any_i32(),
                            any_i32(),  any_i32(),  any_i32()};
}

static inline struct load any_load(void)
{
    return (struct load){(enum load_kind)any_int(0, LOAD_LEVEL), any_i32()};
}

#endif
