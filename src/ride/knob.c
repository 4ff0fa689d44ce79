#include "ride/knob.h"

#include "ride/power_hold.h"

/* The newest readings tell whether a turn has come through, the mean of more of them whether one is
 * needed: a rider's power wobbles by 7 % from second to second, the mean of eight by 3 %. Where
 * something new is asked the direction is plain, and the old readings are of no use. */
#define NEWEST_MS 1500u
#define FRESH_MS  2500u
#define MEAN_MS   8000u
/* How long a brake and a sensor may take to show a turn: 4 s, as in ride/power_hold, and a second
 * for the hand. */
#define SETTLE_MS       5000u
#define HAND_AND_LAG_MS 2000u
/* Between two numbers is half of one: so much more, that it is not turned to and fro. */
#define NUMBER_PCT 75
/* A hand that was waiting for it needs a second, and the newest readings as long again. */
#define HAND_MS 2500u
/* Nobody feels less than that (common practice). */
#define BEARABLE_PCT 3
/* What is well inside: this part of the range away from its end. */
#define INSIDE_PART 4

struct mean {
    int32_t count, power_w;
    int32_t cadence_count, cadence_rpm;
};

void knob_reading(struct knob *knob, uint64_t t_ms, int32_t power_w, int32_t cadence_rpm)
{
    const uint64_t slot = t_ms / KNOB_BIN_MS;
    struct knob_bin *bin = &knob->bins[slot % KNOB_BINS];

    if (bin->slot != slot)
        *bin = (struct knob_bin){.slot = slot};
    const int32_t count = bin->count;
    if (count >= INT16_MAX)
        return;
    bin->count = count + 1;
    bin->power_sum_w += power_w;
    if (cadence_rpm == KNOB_NO_CADENCE)
        return;
    bin->cadence_count++;
    bin->cadence_sum_rpm += cadence_rpm;
}

/*@ assigns \nothing;
    ensures 0 <= \result.count <= KNOB_BINS * INT16_MAX;
    ensures -50 <= \result.power_w <= 2500 && 0 <= \result.cadence_rpm <= 250;
*/
static struct mean mean_of(const struct knob *knob, uint64_t t_ms, uint32_t for_ms)
{
    const uint64_t now = t_ms / KNOB_BIN_MS;
    struct mean mean = {0};

    for (unsigned i = 0; i < KNOB_BINS; i++) {
        const struct knob_bin *bin = &knob->bins[i];

        if (bin->count == 0 || bin->slot + for_ms / KNOB_BIN_MS <= now)
            continue;
        mean.count += bin->count;
        mean.power_w += bin->power_sum_w;
        mean.cadence_count += bin->cadence_count;
        mean.cadence_rpm += bin->cadence_sum_rpm;
    }
    if (mean.count > 0)
        mean.power_w /= mean.count;
    if (mean.cadence_count > 0)
        mean.cadence_rpm /= mean.cadence_count;
    return mean;
}

int32_t knob_top_for(int32_t position, int32_t top)
{
    static const int32_t tops[] = {10, 25, KNOB_TOP_MAX};

    for (unsigned i = 0; i < sizeof tops / sizeof tops[0]; i++)
        if (position <= tops[i] && top <= tops[i])
            return tops[i];
    return KNOB_TOP_MAX;
}

void knob_put(struct knob *knob, uint64_t t_ms, int32_t position)
{
    knob->place = (struct knob_place){true, position, knob_top_for(position, knob->place.top)};
    knob->is_told = true;
    knob->is_assumed = knob->is_nearest = false;
    knob->has_to = false;
    knob->due = KNOB_LEAVE;
    knob->settled_t_ms = t_ms + SETTLE_MS;
}

void knob_begin(struct knob *knob)
{
    knob->turn = KNOB_LEAVE;
    knob->is_met = knob->is_nearest = false;
    knob->is_fresh = true;
    knob->announced = knob->due = KNOB_LEAVE;
    knob->settled_t_ms = 0;
    knob->told_t_ms = 0;
}

void knob_begin_step(struct knob *knob, uint64_t t_ms)
{
    const enum knob_turn due = knob->announced;

    knob_begin(knob);
    knob->due = due;
    if (due != KNOB_LEAVE)
        knob->settled_t_ms = t_ms + HAND_MS;
}

/* ---- which way ---- */

static bool is_low(const struct knob_asked *asked, int32_t power_w)
{
    return asked->wants_more && power_w * 100 < asked->power_w.low * (100 - BEARABLE_PCT);
}

static bool is_high(const struct knob_asked *asked, int32_t power_w)
{
    return power_w * 100 > asked->power_w.high * (100 + BEARABLE_PCT);
}

/* An advice that stands does so until the power is well inside, that nobody rides along an end. */
static bool still_misses(const struct knob *knob, const struct knob_asked *asked, int32_t power_w)
{
    const int32_t part_w = (asked->power_w.high - asked->power_w.low) / INSIDE_PART;

    switch (knob->turn) {
    case KNOB_UP:
    case KNOB_FASTER: return asked->wants_more && power_w < asked->power_w.low + part_w;
    case KNOB_DOWN:
    case KNOB_SLOWER: return power_w > asked->power_w.high - part_w;
    case KNOB_LEAVE:
    case KNOB_TURN_COUNT: break;
    }
    return false;
}

/* Legs that stand still are slow, too, and without a cadence it is the power that shows it. */
static bool is_slow(const struct mean *newest, int32_t floor_rpm)
{
    return newest->power_w <= 0 || (newest->cadence_count > 0 && newest->cadence_rpm < floor_rpm);
}

static enum knob_turn turn_up(const struct knob_asked *asked, const struct mean *newest)
{
    const int32_t floor_rpm =
        asked->cadence_rpm.set ? asked->cadence_rpm.low : POWER_HOLD_FLOOR_RPM;

    if (is_slow(newest, floor_rpm))
        return KNOB_FASTER;
    return asked->may_rise ? KNOB_UP : KNOB_LEAVE;
}

/* At the highest cadence that is asked for the same knob would do: it is the legs. */
static enum knob_turn turn_down(const struct knob_asked *asked, const struct mean *newest)
{
    const struct target_range *rpm = &asked->cadence_rpm;

    if (rpm->set && newest->cadence_rpm > rpm->high &&
        newest->power_w * rpm->high <= asked->power_w.high * newest->cadence_rpm)
        return KNOB_SLOWER;
    return KNOB_DOWN;
}

/* The power has come as far as it has still to go, since it was told: what the hand has done may be
 * all that is needed, once it has come through. */
static bool is_under_way(const struct knob *knob, int32_t power_w)
{
    const int32_t come_w = power_w - knob->power_then_w;

    return (knob->turn == KNOB_UP && come_w >= knob->off_w) ||
           (knob->turn == KNOB_DOWN && come_w <= knob->off_w);
}

static int32_t off_w(const struct knob_asked *asked, const struct mean *mean)
{
    return (asked->power_w.low + asked->power_w.high) / 2 - mean->power_w;
}

static bool is_as_near_as_it_goes(const struct knob *knob, const struct knob_asked *asked,
                                  enum knob_turn turn)
{
    const int32_t off = knob->off_w < 0 ? -knob->off_w : knob->off_w;

    return (turn == KNOB_UP || turn == KNOB_DOWN) && asked->number_w > 0 &&
           off * 100 <= asked->number_w * NUMBER_PCT;
}

static enum knob_turn turn_standing(struct knob *knob, uint64_t t_ms,
                                    const struct knob_asked *asked, const struct mean *newest)
{
    const bool is_inside = !still_misses(knob, asked, newest->power_w);

    knob->off_w = off_w(asked, newest);
    if (is_inside || is_under_way(knob, newest->power_w)) {
        knob->is_met = is_inside;
        knob->is_fresh = false;
        knob->settled_t_ms = t_ms + SETTLE_MS;
        return KNOB_LEAVE;
    }
    return knob->turn == KNOB_UP || knob->turn == KNOB_FASTER ? turn_up(asked, newest)
                                                              : turn_down(asked, newest);
}

/* The readings from before the last turn came through do not count. */
static uint32_t since_turn_ms(const struct knob *knob, uint64_t t_ms)
{
    const uint64_t ms = t_ms + SETTLE_MS - HAND_AND_LAG_MS - knob->settled_t_ms;

    return ms < MEAN_MS ? (uint32_t)ms : MEAN_MS;
}

static enum knob_turn turn_anew(struct knob *knob, uint64_t t_ms, const struct knob_asked *asked,
                                const struct mean *newest)
{
    const struct mean mean =
        mean_of(knob, t_ms, knob->is_fresh ? FRESH_MS : since_turn_ms(knob, t_ms));

    knob->off_w = off_w(asked, &mean);
    if (is_low(asked, newest->power_w))
        return is_low(asked, mean.power_w) ? turn_up(asked, newest) : KNOB_LEAVE;
    if (is_high(asked, newest->power_w))
        return is_high(asked, mean.power_w) ? turn_down(asked, newest) : KNOB_LEAVE;
    knob->is_met = true;
    knob->is_fresh = false;
    return KNOB_LEAVE;
}

/* The power is where the announced turn was to bring it, or beyond. */
static bool is_there(enum knob_turn due, const struct target_range *asked_w, int32_t power_w)
{
    return due == KNOB_UP ? power_w >= asked_w->low : power_w <= asked_w->high;
}

static enum knob_turn turn_now(struct knob *knob, uint64_t t_ms, const struct knob_asked *asked)
{
    const struct mean newest = mean_of(knob, t_ms, NEWEST_MS);

    if (newest.count > 0 && is_there(knob->due, &asked->power_w, newest.power_w))
        knob->due = KNOB_LEAVE;
    if (!asked->power_w.set || newest.count == 0 || t_ms < knob->settled_t_ms ||
        asked->left_ms <= knob_ahead_ms(asked->step_ms + asked->left_ms))
        return KNOB_LEAVE;
    knob->due = KNOB_LEAVE;
    if (knob->turn != KNOB_LEAVE)
        return turn_standing(knob, t_ms, asked, &newest);
    const enum knob_turn turn = turn_anew(knob, t_ms, asked, &newest);
    const bool is_nearest = is_as_near_as_it_goes(knob, asked, turn);

    /* Until something else is told: who rides along an end does not want to read it come and go. */
    knob->is_nearest = is_nearest || (knob->is_nearest && turn == KNOB_LEAVE);
    return is_nearest ? KNOB_LEAVE : turn;
}

bool knob_step(struct knob *knob, uint64_t t_ms, const struct knob_asked *asked)
{
    const enum knob_turn before = knob->turn;

    knob->turn = turn_now(knob, t_ms, asked);
    if (knob->turn == before &&
        (knob->turn == KNOB_LEAVE || t_ms - knob->told_t_ms < KNOB_AGAIN_MS))
        return false;
    if (knob->turn == KNOB_UP || knob->turn == KNOB_DOWN)
        knob->is_met = false;
    knob->power_then_w = (asked->power_w.low + asked->power_w.high) / 2 - knob->off_w;
    knob->told_t_ms = t_ms;
    return true;
}

/* ---- the next step ---- */

uint32_t knob_ahead_ms(uint32_t duration_ms)
{
    return duration_ms / 3 < KNOB_AHEAD_MS ? duration_ms / 3 : KNOB_AHEAD_MS;
}

enum knob_turn knob_between(const struct target_range *now_w, const struct target_range *next_w)
{
    const int32_t middle_w = (next_w->low + next_w->high) / 2;

    if (!now_w->set || !next_w->set || (middle_w >= now_w->low && middle_w <= now_w->high))
        return KNOB_LEAVE;
    return middle_w > now_w->high ? KNOB_UP : KNOB_DOWN;
}
