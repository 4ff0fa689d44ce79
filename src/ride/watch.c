#include "ride/watch.h"

#include "body/heart.h"
#include "body/two_powers.h"

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

/* ---- two powers ---- */

static void widen(struct watch_span *span, int32_t value)
{
    if (value < span->low)
        span->low = value;
    if (value > span->high)
        span->high = value;
}

static bool is_steady(const struct watch_span *power_w)
{
    return 100 * (power_w->high - power_w->low) <= WATCH_APART_STEADY_PCT * power_w->high;
}

static bool goes_on(struct watch_apart *apart, const struct watch_inputs *in)
{
    if (!apart->has_window)
        return false;
    widen(&apart->machine_w, in->machine_w);
    widen(&apart->sensor_w, in->sensor_w);
    widen(&apart->cadence_rpm, in->cadence_rpm);
    return is_steady(&apart->machine_w) && is_steady(&apart->sensor_w) &&
           apart->cadence_rpm.high - apart->cadence_rpm.low <= WATCH_APART_STEADY_RPM;
}

static void begin_window(struct watch_apart *apart, const struct watch_inputs *in)
{
    apart->has_window = true;
    apart->machine = apart->sensor = (struct watch_mean){0};
    apart->machine_w = (struct watch_span){in->machine_w, in->machine_w};
    apart->sensor_w = (struct watch_span){in->sensor_w, in->sensor_w};
    apart->cadence_rpm = (struct watch_span){in->cadence_rpm, in->cadence_rpm};
}

static void end_window(struct watch_apart *apart)
{
    const int32_t machine_w = (int32_t)mean_w(&apart->machine);
    const int32_t sensor_w = (int32_t)mean_w(&apart->sensor);
    const bool sensor_is_higher = sensor_w > machine_w;

    apart->has_window = false;
    if (!two_powers_are_far(machine_w, sensor_w)) {
        apart->windows = 0;
        return;
    }
    if (apart->windows == 0 || sensor_is_higher != apart->sensor_is_higher) {
        apart->windows = 0;
        apart->sensor_is_higher = sensor_is_higher;
        apart->all_machine_w = apart->machine_w;
        apart->all_sensor_w = apart->sensor_w;
    }
    widen(&apart->all_machine_w, apart->machine_w.low);
    widen(&apart->all_machine_w, apart->machine_w.high);
    widen(&apart->all_sensor_w, apart->sensor_w.low);
    widen(&apart->all_sensor_w, apart->sensor_w.high);
    if (apart->windows < WATCH_APART_WINDOWS)
        apart->windows++;
}

static void compare_powers(struct watch_apart *apart, const struct watch_inputs *in,
                           uint32_t passed_ms)
{
    if (!in->is_riding || in->machine_w < WATCH_APART_LEAST_W ||
        in->sensor_w < WATCH_APART_LEAST_W) {
        apart->has_window = false;
        return;
    }
    if (!goes_on(apart, in)) {
        begin_window(apart, in);
        return;
    }
    add_time(&apart->machine, in->machine_w, passed_ms);
    add_time(&apart->sensor, in->sensor_w, passed_ms);
    if (apart->machine.ms >= WATCH_APART_WINDOW_MS)
        end_window(apart);
}

static bool are_apart(const struct watch_apart *apart)
{
    return apart->windows >= WATCH_APART_WINDOWS &&
           apart->all_machine_w.low < apart->all_machine_w.high &&
           apart->all_sensor_w.low < apart->all_sensor_w.high;
}

/* ---- all of it ---- */

static void pass_time(struct watch *watch, const struct watch_inputs *in)
{
    const uint64_t passed_ms = watch->begun ? in->t_ms - watch->t_ms : 0;

    watch->begun = true;
    watch->t_ms = in->t_ms;
    if (passed_ms > GAP_MS) {
        watch->apart.has_window = false;
        return;
    }
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
    compare_powers(&watch->apart, in, (uint32_t)passed_ms);
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
    verdict.powers_are_apart = are_apart(&watch->apart);
    return verdict;
}
