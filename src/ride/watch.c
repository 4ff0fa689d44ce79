#include "ride/watch.h"

#include "body/heart.h"

/* What passes between two events while a block is ridden; longer is a gap, and not counted. */
#define GAP_MS 1000u

static void add_time(struct watch_mean *mean, int32_t power_w, uint32_t passed_ms)
{
    mean->sum_w_ms += (int64_t)power_w * passed_ms;
    mean->ms += passed_ms;
}

static int64_t mean_w(const struct watch_mean *mean)
{
    return mean->ms > 0 ? mean->sum_w_ms / mean->ms : 0;
}

/* Without a rate to begin from, or without room, there is nothing to judge. */
static void begin_work(struct watch *watch, const struct watch_inputs *in)
{
    watch->has_worked = true;
    watch->rise_from_bpm = in->heart_median_bpm;
    watch->has_risen =
        in->heart_median_bpm == 0 || in->heart_median_bpm > in->heart_limit_bpm - WATCH_ROOM_BPM;
}

static bool is_flat(struct watch *watch, const struct watch_inputs *in)
{
    const int64_t before_w = mean_w(&watch->before), since_w = mean_w(&watch->since);

    if (in->heart_median_bpm - watch->rise_from_bpm >= WATCH_RISE_BPM)
        watch->has_risen = true;
    return watch->has_worked && !watch->has_risen && in->is_riding && in->heart_median_bpm > 0 &&
           watch->since.ms >= WATCH_RISE_AFTER_MS && since_w >= before_w + WATCH_RISE_W &&
           2 * since_w >= 3 * before_w;
}

static bool stays_up(struct watch *watch, const struct watch_inputs *in)
{
    const uint64_t passed_ms = in->t_ms - watch->fall_t_ms;

    if (!watch->falls || passed_ms < WATCH_FALL_AFTER_MS)
        return false;
    watch->falls = false;
    return passed_ms <= WATCH_FALL_AFTER_MS + WATCH_FALL_LATE_MAX_MS && in->heart_median_bpm > 0 &&
           watch->fall_from_bpm * 100 >= in->heart_limit_bpm * WATCH_FALL_FROM_PCT &&
           2 * mean_w(&watch->after) <= mean_w(&watch->since) &&
           heart_fall_is_low_1_min(watch->fall_from_bpm - in->heart_median_bpm);
}

static void change_step(struct watch *watch, const struct watch_inputs *in)
{
    if (in->in_work && !watch->has_worked)
        begin_work(watch, in);
    if (in->in_work) {
        watch->falls = false;
    } else if (watch->in_work) {
        watch->falls = in->heart_median_bpm > 0;
        watch->fall_t_ms = in->t_ms;
        watch->fall_from_bpm = in->heart_median_bpm;
        watch->after = (struct watch_mean){0};
    }
    watch->in_work = in->in_work;
}

/* Readings that are missing or of slow legs say nothing either way. */
static void compare_cadences(struct watch *watch, const struct watch_inputs *in, uint32_t passed_ms)
{
    const bool machine_is_lower = in->machine_rpm < in->sensor_rpm;
    const int32_t lower = machine_is_lower ? in->machine_rpm : in->sensor_rpm;
    const int32_t higher = machine_is_lower ? in->sensor_rpm : in->machine_rpm;

    if (lower < WATCH_TWOFOLD_RPM)
        return;
    if (100 * higher < WATCH_TWOFOLD_LOW_PCT * lower ||
        100 * higher > WATCH_TWOFOLD_TOP_PCT * lower)
        watch->twofold_ms = 0;
    else
        watch->twofold_ms += passed_ms;
}

static void pass_time(struct watch *watch, const struct watch_inputs *in)
{
    const uint64_t passed_ms = watch->begun ? in->t_ms - watch->t_ms : 0;

    watch->begun = true;
    watch->t_ms = in->t_ms;
    if (passed_ms > GAP_MS)
        return;
    if (in->is_riding)
        add_time(watch->has_worked ? &watch->since : &watch->before, in->power_w,
                 (uint32_t)passed_ms);
    if (watch->falls)
        add_time(&watch->after, in->power_w, (uint32_t)passed_ms);
    if (in->power_w > 0)
        watch->powerless_ms = 0;
    else if (in->in_work && in->cadence_rpm >= WATCH_POWERLESS_RPM)
        watch->powerless_ms += (uint32_t)passed_ms;
    compare_cadences(watch, in, (uint32_t)passed_ms);
}

static bool stands_still(struct watch_still *still, uint64_t t_ms, int32_t value, int32_t other)
{
    if (value != still->value) {
        *still = (struct watch_still){value, t_ms, other, other};
        return false;
    }
    if (other < still->low)
        still->low = other;
    if (other > still->high)
        still->high = other;
    return value > 0;
}

static bool is_frozen(struct watch_still *still, uint64_t t_ms, uint32_t for_ms, int32_t swing)
{
    return t_ms - still->since_ms >= for_ms && still->high - still->low >= swing;
}

struct watch_verdict watch_step(struct watch *watch, const struct watch_inputs *in)
{
    struct watch_verdict verdict = {0};

    pass_time(watch, in);
    change_step(watch, in);
    verdict.heart_is_flat = is_flat(watch, in);
    verdict.heart_stays_up = stays_up(watch, in);
    verdict.heart_is_frozen =
        stands_still(&watch->heart, in->t_ms, in->heart_bpm, in->power_w) &&
        is_frozen(&watch->heart, in->t_ms, WATCH_HEART_STILL_MS, WATCH_HEART_SWING_W);
    verdict.power_is_frozen =
        stands_still(&watch->power, in->t_ms, in->is_riding ? in->power_w : 0, in->cadence_rpm) &&
        is_frozen(&watch->power, in->t_ms, WATCH_POWER_STILL_MS, WATCH_POWER_SWING_RPM);
    verdict.has_no_power = watch->powerless_ms >= WATCH_POWERLESS_MS;
    verdict.cadence_is_twofold = watch->twofold_ms >= WATCH_TWOFOLD_MS;
    return verdict;
}
