#include "ride/plan.h"

#include <assert.h>
#include <string.h>

_Static_assert((uint64_t)PLAN_STEPS_MAX *PLAN_STEP_MAX_MS <= UINT32_MAX,
               "the duration of the longest plan must fit");

/* Rounds that are open while a profile is walked, the innermost last. */
struct open_rounds {
    size_t first_item;
    uint16_t round, rounds;
};

static bool is_interval(enum step_kind kind)
{
    return kind == STEP_WORK || kind == STEP_REST;
}

static bool step_is_valid(const struct profile_item *item)
{
    if ((unsigned)item->step >= STEP_KIND_COUNT || (unsigned)item->end.until > UNTIL_HEART ||
        item->end.value < 0 || (item->end.until != UNTIL_TIME && item->end.value == 0))
        return false;
    if (item->reps.reps > 0 && item->duration_ms != reps_duration_ms(item->reps))
        return false;
    return item->duration_ms >= PLAN_STEP_MIN_MS && item->duration_ms <= PLAN_STEP_MAX_MS;
}

static bool item_is_valid(const struct profile_item *item)
{
    switch (item->kind) {
    case PROFILE_STEP: return step_is_valid(item);
    case PROFILE_ROUNDS: return item->rounds >= 1 && item->rounds <= PROFILE_ROUNDS_MAX;
    case PROFILE_END: return true;
    }
    return false;
}

/* Nothing here overflows: items, rounds to the power of the depth, and the longest step make less
 * than 2^55. */
static void measure_step(const struct profile_item *item, uint64_t times, struct profile_size *size)
{
    size->steps += times;
    if (item->step == STEP_WORK)
        size->work_steps += times;
    if (is_interval(item->step))
        size->length_ms += times * item->duration_ms;
}

/* Off the bike is before everything else. */
static bool is_out_of_place(const struct profile_item *items, size_t at)
{
    return items[at].step == STEP_FLOOR && at > 0 &&
           (items[at - 1].kind != PROFILE_STEP || items[at - 1].step != STEP_FLOOR);
}

enum result profile_measure_part(const struct profile *profile, size_t from, size_t end,
                                 struct profile_size *ret)
{
    struct profile_size size = {0};
    uint64_t times[PROFILE_DEPTH_MAX + 1] = {1};
    size_t depth = 0;
    enum profile_item_kind before = PROFILE_STEP;
    for (size_t i = from; i < end; i++) {
        const struct profile_item *item = &profile->items[i];
        if (!item_is_valid(item))
            return RESULT_INVALID;
        if (item->kind == PROFILE_STEP) {
            if (is_out_of_place(profile->items, i))
                return RESULT_INVALID;
            measure_step(item, times[depth], &size);
        } else if (item->kind == PROFILE_ROUNDS) {
            if (depth == PROFILE_DEPTH_MAX)
                return RESULT_INVALID;
            times[depth + 1] = times[depth] * item->rounds;
            depth++;
        } else {
            if (depth == 0 || before == PROFILE_ROUNDS)
                return RESULT_INVALID;
            depth--;
        }
        before = item->kind;
    }
    if (depth != 0)
        return RESULT_INVALID;
    *ret = size;
    return RESULT_OK;
}

enum result profile_measure(const struct profile *profile, struct profile_size *ret)
{
    if (profile->item_count > PROFILE_ITEMS_MAX)
        return RESULT_INVALID;
    return profile_measure_part(profile, 0, profile->item_count, ret);
}

bool profile_asks_for_mark(const struct profile *profile)
{
    for (size_t i = 0; i < profile->item_count; i++)
        if (profile->items[i].targets.power_mark_tenths.set)
            return true;
    return false;
}

bool profile_asks_for_critical_power(const struct profile *profile, const struct rider *rider)
{
    for (size_t i = 0; i < profile->item_count; i++)
        if (profile->items[i].targets.power_cp_tenths.set)
            return true;
    return rider->mark_power_w == 0 && profile_asks_for_mark(profile);
}

static bool length_is_allowed(const struct profile *profile, uint64_t length_ms)
{
    return length_ms >= PLAN_LENGTH_MIN_MS && length_ms <= PLAN_LENGTH_MAX_MS &&
           length_ms >= profile->length_min_ms && length_ms <= profile->length_max_ms;
}

static int32_t share_w(int32_t tenths, uint16_t of_w)
{
    return (int32_t)(((int64_t)tenths * of_w + 500) / 1000);
}

static void turn_into_watts(struct step_targets *targets, struct target_range *tenths,
                            uint16_t of_w)
{
    if (!tenths->set)
        return;
    targets->power_w = (struct target_range){
        .set = true, .low = share_w(tenths->low, of_w), .high = share_w(tenths->high, of_w)};
    *tenths = (struct target_range){0};
}

static struct step_targets resolve(const struct step_targets *asked, const struct rider *rider)
{
    struct step_targets targets = *asked;
    const uint16_t cp_w = rider->critical_power_w;

    if (rider->heart_slowed)
        targets.heart_bpm = (struct target_range){0};
    turn_into_watts(&targets, &targets.power_cp_tenths, cp_w);
    turn_into_watts(&targets, &targets.power_mark_tenths,
                    rider->mark_power_w > 0 ? rider->mark_power_w : cp_w);
    return targets;
}

static struct plan_step step_of(const struct profile_item *item, const struct rider *rider,
                                const struct open_rounds *innermost)
{
    struct plan_step step = {
        .kind = item->step,
        .duration_ms = item->duration_ms,
        .targets = resolve(&item->targets, rider),
        .ramp_to = resolve(&item->ramp_to, rider),
        .end = item->end,
        .reps = item->reps,
        .round = innermost->round,
        .rounds = innermost->rounds,
    };
    memcpy(step.cue_text, item->cue_text, sizeof step.cue_text);
    if (rider->heart_slowed && item->end.until == UNTIL_HEART)
        step.end = (struct step_end){0};
    return step;
}

/* The profile has been measured: it is well formed and its steps fit. */
static void unroll(const struct profile *profile, const struct rider *rider, struct plan *plan)
{
    struct open_rounds open[PROFILE_DEPTH_MAX + 1] = {0}; /* open[0]: outside all rounds */
    size_t depth = 0, count = 0, at = 0;

    while (at < profile->item_count) {
        const struct profile_item *item = &profile->items[at++];
        if (item->kind == PROFILE_STEP) {
            assert(count < PLAN_STEPS_MAX);
            plan->steps[count++] = step_of(item, rider, &open[depth]);
        } else if (item->kind == PROFILE_ROUNDS) {
            assert(depth < PROFILE_DEPTH_MAX);
            open[++depth] = (struct open_rounds){at, 1, item->rounds};
        } else if (open[depth].round < open[depth].rounds) {
            open[depth].round++;
            at = open[depth].first_item;
        } else {
            assert(depth > 0);
            depth--;
        }
    }
    plan->step_count = count;
}

enum result profile_unroll(const struct profile *profile, const struct rider *rider,
                           struct plan *ret)
{
    struct profile_size size;
    enum result result = profile_measure(profile, &size);
    if (result != RESULT_OK)
        return result;
    if (size.steps > PLAN_STEPS_MAX)
        return RESULT_FULL;
    if (rider->critical_power_w == 0 && profile_asks_for_critical_power(profile, rider))
        return RESULT_NOT_FOUND;
    memset(ret, 0, sizeof(*ret));
    memcpy(ret->title, profile->title, sizeof(ret->title));
    unroll(profile, rider, ret);
    return RESULT_OK;
}

enum result profile_plan(const struct profile *profile, const struct rider *rider, struct plan *ret)
{
    struct profile_size size;
    enum result result = profile_measure(profile, &size);
    if (result != RESULT_OK)
        return result;
    if (!length_is_allowed(profile, size.length_ms))
        return RESULT_RANGE;
    return profile_unroll(profile, rider, ret);
}

/* ---- sums ---- */

static uint32_t sum_ms(const struct plan *plan, bool (*counts)(enum step_kind kind))
{
    uint32_t sum = 0;

    for (size_t i = 0; i < plan->step_count; i++)
        if (counts(plan->steps[i].kind))
            sum += plan->steps[i].duration_ms;
    return sum;
}

static bool is_on_the_bike(enum step_kind kind)
{
    return kind != STEP_FLOOR;
}

static bool is_floor(enum step_kind kind)
{
    return kind == STEP_FLOOR;
}

static bool is_work(enum step_kind kind)
{
    return kind == STEP_WORK;
}

uint32_t plan_length_ms(const struct plan *plan)
{
    return sum_ms(plan, is_interval);
}

uint32_t plan_duration_ms(const struct plan *plan)
{
    return sum_ms(plan, is_on_the_bike);
}

uint32_t plan_work_ms(const struct plan *plan)
{
    return sum_ms(plan, is_work);
}

uint32_t plan_floor_ms(const struct plan *plan)
{
    return sum_ms(plan, is_floor);
}

size_t plan_floor_steps(const struct plan *plan)
{
    for (size_t i = 0; i < plan->step_count; i++)
        if (!is_floor(plan->steps[i].kind))
            return i;
    return plan->step_count;
}
