#include "ride/power_hold.h"

/* How long a brake and a sensor may take to show a new level: 3 s of delay and a lag. */
#define SETTLE_MS 4000u
/* A rider's power wobbles by 7 % from second to second, the mean of three by half of that. */
#define MEAN_MS   3000u
#define SECOND_MS 1000u
/* What a level never ridden before has taught by then is no chance of one second. */
#define FELT_MS 2000u
/* An uncertain curve may be wrong, but not so that the legs get more than this of what was asked.
 */
#define SURPRISE_MAX 1.25
/* Legs that feel so much more than was asked for, and than the curve says, for so long. */
#define FAR_ABOVE    1.5
#define FAR_ABOVE_MS 2000u
/* A level within a fiftieth of the range of another, and an eighth of itself, counts as the same:
 * ramps creep. */
#define SAME_SHARE 50
#define SAME_PART  8
/* One choice raises a level by a fourth of itself, as SURPRISE_MAX, and by this of the range. */
#define RAISE_SHARE 16

struct recent {
    uint32_t count;
    double power_w, cadence_rpm;
};

void power_hold_init(struct power_hold *hold, const struct hold_levels *levels,
                     const struct brake_curve *curve)
{
    *hold = (struct power_hold){0};
    if (levels->minimum >= 0 && levels->maximum <= HOLD_LEVEL_MAX &&
        levels->maximum > levels->minimum && levels->step >= 0 && levels->step <= HOLD_LEVEL_MAX)
        hold->levels = *levels;
    brake_model_init(&hold->brake, curve);
}

bool power_hold_is_able(const struct power_hold *hold)
{
    return hold->levels.maximum > 0;
}

bool power_hold_has_levels(const struct power_hold *hold, const struct hold_levels *levels)
{
    return hold->levels.minimum == levels->minimum && hold->levels.maximum == levels->maximum &&
           hold->levels.step == levels->step;
}

/* ---- readings ---- */

static const struct hold_reading *reading_at(const struct power_hold *hold, uint32_t back)
{
    return &hold->readings[(hold->next + POWER_HOLD_READINGS - 1 - back) % POWER_HOLD_READINGS];
}

static struct recent mean_of_last(const struct power_hold *hold, uint64_t t_ms, uint32_t for_ms)
{
    struct recent mean = {0};

    for (uint32_t back = 0; back < hold->count; back++) {
        const struct hold_reading *reading = reading_at(hold, back);

        if (t_ms - reading->t_ms >= for_ms)
            break;
        mean.power_w += reading->power_w;
        mean.cadence_rpm += reading->cadence_rpm;
        mean.count++;
    }
    if (mean.count > 0) {
        mean.power_w /= mean.count;
        mean.cadence_rpm /= mean.count;
    }
    return mean;
}

static int32_t step_of(const struct hold_levels *levels)
{
    return levels->step > 0 ? levels->step : 1;
}

static double share_of(const struct hold_levels *levels, int32_t level_tenths)
{
    const int32_t above = level_tenths - levels->minimum;
    const int32_t range = levels->maximum - levels->minimum;

    return above <= 0 ? 0 : above >= range ? 1 : (double)above / range;
}

static bool has_settled(const struct power_hold *hold, uint64_t t_ms, uint32_t for_ms)
{
    return hold->in_force_tenths > 0 && t_ms - hold->in_force_t_ms >= for_ms;
}

static bool is_same_level(const struct hold_levels *levels, int32_t a, int32_t b)
{
    const int64_t lower = a < b ? a : b;
    const int64_t off = (a > b ? a : b) - lower;

    return a == b || (lower > 0 && off * SAME_SHARE <= levels->maximum - levels->minimum &&
                      off * SAME_PART <= lower - levels->minimum);
}

/* Than the curve says of the level on the brake, by the mean of its seconds. */
static bool is_harder(const struct power_hold *hold, uint64_t t_ms)
{
    const uint64_t on_ms = t_ms - hold->in_force_t_ms;
    const struct recent mean =
        mean_of_last(hold, t_ms, on_ms < SETTLE_MS ? (uint32_t)on_ms : SETTLE_MS);

    return mean.count == 0 ||
           mean.power_w >
               SURPRISE_MAX * brake_model_power_w(&hold->brake,
                                                  share_of(&hold->levels, hold->in_force_tenths),
                                                  mean.cadence_rpm);
}

/* Steps of a few seconds teach nothing, and the way up would end there. */
static void note_short_step(struct power_hold *hold, uint64_t t_ms)
{
    if (has_settled(hold, t_ms, SECOND_MS) && !is_harder(hold, t_ms))
        brake_model_bear(&hold->brake, share_of(&hold->levels, hold->in_force_tenths));
}

static void note_level(struct power_hold *hold, uint64_t t_ms, int32_t in_force_tenths)
{
    if (is_same_level(&hold->levels, in_force_tenths, hold->in_force_tenths))
        return;
    hold->has_fallen = in_force_tenths < hold->in_force_tenths;
    if (hold->has_fallen)
        note_short_step(hold, t_ms);
    hold->in_force_tenths = in_force_tenths;
    hold->in_force_t_ms = t_ms;
}

static void note_power(struct power_hold *hold, uint64_t t_ms, int32_t power_w, int32_t cadence_rpm)
{
    if (hold->count == 0 || power_w != hold->same_power_w) {
        hold->same_power_w = power_w;
        hold->same_tenths = hold->in_force_tenths;
        hold->before_same = hold->brake;
    }
    hold->readings[hold->next] = (struct hold_reading){t_ms, power_w, cadence_rpm};
    hold->next = (hold->next + 1) % POWER_HOLD_READINGS;
    if (hold->count < POWER_HOLD_READINGS)
        hold->count++;
}

/* A brake that lags behind a level on its way up gives less than it will, so more is no lag. */
static bool is_far_above(const struct power_hold *hold, uint64_t t_ms, int32_t in_force_tenths)
{
    const double share = share_of(&hold->levels, in_force_tenths);
    uint32_t count = 0;

    if (!hold->target_w.set || in_force_tenths == 0 ||
        (hold->has_fallen && !has_settled(hold, t_ms, SETTLE_MS + MEAN_MS)))
        return false;
    for (uint32_t back = 0; back < hold->count; back++) {
        const struct hold_reading *reading = reading_at(hold, back);
        const double expected_w = brake_model_power_w(&hold->brake, share, reading->cadence_rpm);

        if (t_ms - reading->t_ms >= FAR_ABOVE_MS)
            break;
        if (reading->power_w < FAR_ABOVE * hold->target_w.high ||
            reading->power_w < FAR_ABOVE * expected_w)
            return false;
        count++;
    }
    return count > 1;
}

static bool is_frozen(const struct power_hold *hold)
{
    return !is_same_level(&hold->levels, hold->same_tenths, hold->in_force_tenths);
}

/* The next choice is made from what is known now, whatever was chosen before. */
static void choose_anew(struct power_hold *hold)
{
    hold->target_w.set = false;
}

static void learn(struct power_hold *hold, uint64_t t_ms, int32_t in_force_tenths)
{
    const struct recent mean = mean_of_last(hold, t_ms, SECOND_MS);

    hold->learned_t_ms = t_ms;
    if (mean.power_w > 0)
        brake_model_learn(&hold->brake, share_of(&hold->levels, in_force_tenths), mean.cadence_rpm,
                          mean.power_w);
}

/* And choose from what was known before, until the power moves again. */
static void forget_frozen(struct power_hold *hold)
{
    hold->brake = hold->before_same;
    choose_anew(hold);
}

void power_hold_reading(struct power_hold *hold, uint64_t t_ms, int32_t in_force_tenths,
                        int32_t power_w, int32_t cadence_rpm)
{
    if (in_force_tenths < hold->levels.minimum || in_force_tenths > hold->levels.maximum)
        in_force_tenths = 0;
    note_level(hold, t_ms, in_force_tenths);
    note_power(hold, t_ms, power_w, cadence_rpm);
    if (!power_hold_is_able(hold) || t_ms - hold->learned_t_ms < SECOND_MS)
        return;
    if (is_far_above(hold, t_ms, in_force_tenths)) {
        brake_model_doubt(&hold->brake);
        learn(hold, t_ms, in_force_tenths);
        choose_anew(hold);
    } else if (has_settled(hold, t_ms, SETTLE_MS) && is_frozen(hold)) {
        forget_frozen(hold);
    } else if (has_settled(hold, t_ms, SETTLE_MS)) {
        learn(hold, t_ms, in_force_tenths);
    }
}

/* ---- the choice ---- */

static double floor_of(int32_t floor_rpm)
{
    return floor_rpm > 0 ? floor_rpm : POWER_HOLD_FLOOR_RPM;
}

static double middle_of(const struct target_range *range)
{
    return (range->low + range->high) / 2.0;
}

/* Of the last second: power follows the cadence of now. */
static double cadence_of(const struct power_hold *hold, uint64_t t_ms)
{
    const struct recent mean = mean_of_last(hold, t_ms, SECOND_MS);

    return mean.count > 0 ? mean.cadence_rpm : BRAKE_USUAL_RPM;
}

static double cadence_to_count_on(const struct power_hold *hold, uint64_t t_ms, int32_t floor_rpm)
{
    const double cadence_rpm = cadence_of(hold, t_ms);

    return cadence_rpm > floor_of(floor_rpm) ? cadence_rpm : floor_of(floor_rpm);
}

/* That the legs may be given for this power: not where the curve may be wrong by too much, nor
 * where the strongest brake that feels like this one at the levels ridden may be too strong. The
 * next one is tried all the same: there is none between, and level 0 is none at all. Rounding up is
 * no leave to exceed a limit. */
static bool is_bearable(const struct power_hold *hold, int32_t level_tenths, double power_w,
                        double cadence_rpm)
{
    const struct brake_model *brake = &hold->brake;
    const double share = share_of(&hold->levels, level_tenths);
    const int32_t below_tenths = level_tenths - step_of(&hold->levels);
    const bool is_next =
        below_tenths <= 0 || share_of(&hold->levels, below_tenths) <= brake->ridden_share;
    const double expected_w = brake_model_power_w(brake, share, cadence_rpm);
    const double room_w = power_w * SURPRISE_MAX - expected_w;

    return room_w >= 0 && (hold->most_w <= 0 || expected_w <= hold->most_w) &&
           brake_model_variance_w2(brake, share, cadence_rpm) <= room_w * room_w &&
           (is_next || brake_model_most_w(brake, share, cadence_rpm) <= power_w * SURPRISE_MAX);
}

/* Of the levels there are the one nearest to `power_w` among the bearable. */
static int32_t nearest_level(const struct power_hold *hold, double power_w, double cadence_rpm)
{
    const int32_t highest = hold->levels.maximum, step = hold->levels.step;
    int32_t best_tenths = hold->levels.minimum;
    double best_off_w = -1;

    /*@ loop variant highest - level; */
    for (int32_t level = hold->levels.minimum; level <= highest; level += step > 0 ? step : 1) {
        const double expected_w =
            brake_model_power_w(&hold->brake, share_of(&hold->levels, level), cadence_rpm);
        const double off_w = expected_w > power_w ? expected_w - power_w : power_w - expected_w;

        if (best_off_w >= 0 &&
            (off_w >= best_off_w || !is_bearable(hold, level, power_w, cadence_rpm)))
            break;
        best_tenths = level;
        best_off_w = off_w;
    }
    return best_tenths;
}

int32_t power_hold_level_for(const struct power_hold *hold, uint64_t t_ms, int32_t power_w,
                             int32_t floor_rpm)
{
    return nearest_level(hold, power_w, cadence_to_count_on(hold, t_ms, floor_rpm));
}

/* Nothing above it was ridden. */
static bool is_highest(const struct power_hold *hold)
{
    return share_of(&hold->levels, hold->in_force_tenths) >= hold->brake.ridden_share;
}

/* One choice raises a level by no more, among those that were ridden: above them it is what was
 * felt that bounds it. As a level that the machine has. */
static int32_t raise_max(const struct power_hold *hold)
{
    const struct hold_levels *levels = &hold->levels;
    const int32_t step = step_of(levels);
    const int32_t above =
        hold->level_tenths > levels->minimum ? hold->level_tenths - levels->minimum : 0;
    const int32_t most =
        (int32_t)(above * SURPRISE_MAX) + (levels->maximum - levels->minimum) / RAISE_SHARE;
    const int32_t whole = most - most % step, next = above - above % step + step;

    return levels->minimum + (whole > next ? whole : next);
}

/* Outside the range, and where the new choice would lead back. */
static int32_t corrected(const struct power_hold *hold, uint64_t t_ms,
                         const struct target_range *target_w, int32_t floor_rpm)
{
    const struct recent mean = mean_of_last(hold, t_ms, MEAN_MS);
    const double cadence_rpm = cadence_to_count_on(hold, t_ms, floor_rpm);
    const bool is_low = mean.power_w < target_w->low;

    if (mean.count == 0 || (!is_low && mean.power_w <= target_w->high) ||
        (is_low && cadence_of(hold, t_ms) < floor_of(floor_rpm)))
        return hold->level_tenths;

    const int32_t level = nearest_level(hold, middle_of(target_w), cadence_rpm);

    if ((level > hold->level_tenths) != is_low)
        return hold->level_tenths;
    const int32_t most = is_highest(hold) ? level : raise_max(hold);

    return level < most ? level : most;
}

/* How long a choice stands before it is looked at. On the way up into levels that nobody has ridden
 * the next waits for no more than to have felt the last. */
static uint32_t look_ms(const struct power_hold *hold)
{
    return SETTLE_MS + (is_highest(hold) ? FELT_MS : MEAN_MS);
}

int32_t power_hold_level(struct power_hold *hold, uint64_t t_ms,
                         const struct target_range *target_w, int32_t floor_rpm)
{
    const bool is_new = !hold->target_w.set || target_w->low != hold->target_w.low ||
                        target_w->high != hold->target_w.high;
    int32_t level = hold->level_tenths;

    if (is_new)
        level =
            nearest_level(hold, middle_of(target_w), cadence_to_count_on(hold, t_ms, floor_rpm));
    else if (has_settled(hold, t_ms, look_ms(hold)) && t_ms - hold->chosen_t_ms >= look_ms(hold))
        level = corrected(hold, t_ms, target_w, floor_rpm);
    if (is_new || level != hold->level_tenths)
        hold->chosen_t_ms = t_ms;
    hold->target_w = *target_w;
    hold->level_tenths = level;
    return level;
}
