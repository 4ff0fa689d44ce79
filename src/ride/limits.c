#include "ride/limits.h"

#include <stddef.h>

#include "body/heart.h"

/* Where no source stands beside a number it is common practice for home trainers. */
static const struct limits program_limits = {
    .load_max_w = 800,
    .load_max_tenths = 1000,
    .ramp_w_per_s = 100,
    .ramp_tenths_per_s = 100,
    .step_max_w = 50, /* what the ramp gives in raise_every_ms */
    .step_max_tenths = 50,
    .raise_every_ms = 500,
    .power_max_w = 1500,
    .cadence_max_rpm = 150,
    .over_for_ms = 3000,
    .cadence_floor_rpm = 40,
    .cadence_clear_rpm = 45,
    .cadence_resume_rpm = 55,
    .floor_for_ms = 2000,
    .cadence_still_rpm = 10,
    .power_still_w = 10,
    .still_for_ms = 5000,
    .data_stale_ms = 3000,
    .data_lost_ms = 10000,
    .heart_stale_ms = 5000,
    .link_lost_ms = 60000,
    .heart_limit_bpm = 180,
    /* More than half of the readings of five seconds are over the limit by then: no further wait,
     * which no source asks for, and which would only be later. */
    .heart_window_ms = 5000,
    .answer_ms = 3000,
    .jump_ms = 5000,
    .hold_max_ms = 120000,
    .connect_max_ms = 60000,
    .ready_max_ms = 300000,
    .easy_max_ms = 180000,
    .leave_max_ms = 6000,
};

/* Loads keep this far below the rider's power limit: a steady rider's power wobbles by some 7 %. */
#define LOAD_SHARE_TENTHS       9
#define HEART_CAUTION_BELOW_BPM 5
/* With rate-slowing medicine and no age: below what Brawner 2004 says at sixty. */
#define HEART_LIMIT_SLOWED_BPM 120
#define TIME_FOR_HOLDS_MS      600000u
/* Slower, and the half second that ride/safety counts at most would not give a tenth. */
#define RAMP_LEAST_TENTHS_PER_S 2
/* Of a new rider without a critical power; low on purpose. */
#define FIRST_BLOCKS_LOAD_W 120

static int32_t lower(int32_t limit, int32_t other)
{
    return other > 0 && other < limit ? other : limit;
}

static int32_t higher(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

/* A measured maximum stands before an estimate; an estimate needs an age. A personal limit only
 * lowers. */
static int32_t heart_limit(const struct rider *rider)
{
    int32_t limit = rider->heart_slowed ? HEART_LIMIT_SLOWED_BPM : program_limits.heart_limit_bpm;

    if (rider->heart_max_bpm > 0)
        limit = rider->heart_max_bpm;
    else if (rider->age_years > 0)
        limit = rider->heart_slowed ? heart_max_slowed_bpm_at(rider->age_years)
                                    : heart_max_bpm_at(rider->age_years);
    return lower(limit, rider->heart_limit_bpm);
}

/* Of the usual 400 W that all levels add (ride/brake_curve) the ramp gives a quarter in a second,
 * so of levels, too, and half of that at once. */
static void slow_down_levels(int32_t least_tenths, struct limits *limits)
{
    const int32_t range_tenths = limits->load_max_tenths - higher(least_tenths, 0);

    limits->ramp_tenths_per_s =
        lower(limits->ramp_tenths_per_s, higher(range_tenths / 4, RAMP_LEAST_TENTHS_PER_S));
    limits->step_max_tenths = limits->ramp_tenths_per_s / 2;
}

/* Above critical power nobody can go on for long; half of what the machine has is our own choice.
 */
static void keep_easy(const struct rider *rider, struct limits *limits)
{
    const int32_t most_w =
        rider->critical_power_w > 0 ? rider->critical_power_w : FIRST_BLOCKS_LOAD_W;

    limits->load_max_w = lower(limits->load_max_w, most_w);
    limits->load_max_tenths /= 2;
}

void limits_set(const struct rider *rider, const struct machine *machine, uint32_t plan_ms,
                struct limits *ret)
{
    struct limits limits = program_limits;

    limits.power_max_w = lower(limits.power_max_w, rider->power_limit_w);
    limits.load_max_w = lower(limits.load_max_w, rider->power_limit_w * LOAD_SHARE_TENTHS / 10);
    limits.cadence_max_rpm = lower(limits.cadence_max_rpm, rider->cadence_limit_rpm);
    limits.heart_limit_bpm = heart_limit(rider);
    limits.heart_caution_bpm = limits.heart_limit_bpm - HEART_CAUTION_BELOW_BPM;
    limits.total_max_ms = plan_ms + TIME_FOR_HOLDS_MS;
    if (machine != NULL) {
        limits.load_max_w = lower(limits.load_max_w, machine->power_max_w);
        limits.load_max_tenths = lower(limits.load_max_tenths, machine->level_max_tenths);
        limits.load_min_w = machine->power_min_w;
        limits.load_min_tenths = machine->level_min_tenths;
        slow_down_levels(machine->level_min_tenths, &limits);
    }
    if (rider->is_new)
        keep_easy(rider, &limits);
    *ret = limits;
}
