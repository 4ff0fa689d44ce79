#include "ride/plan.h"

#include <string.h>

#include "ride/names.h"

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

static bool item_is_valid(const struct profile_item *item)
{
    switch (item->kind) {
    case PROFILE_STEP:
        return (unsigned)item->step < STEP_KIND_COUNT && item->duration_ms >= PLAN_STEP_MIN_MS &&
               item->duration_ms <= PLAN_STEP_MAX_MS;
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

enum result profile_measure(const struct profile *profile, struct profile_size *ret)
{
    struct profile_size size = {0};
    uint64_t times[PROFILE_DEPTH_MAX + 1] = {1};
    size_t depth = 0;
    enum profile_item_kind before = PROFILE_STEP;
    if (profile->item_count > PROFILE_ITEMS_MAX)
        return RESULT_INVALID;
    for (size_t i = 0; i < profile->item_count; i++) {
        const struct profile_item *item = &profile->items[i];
        if (!item_is_valid(item))
            return RESULT_INVALID;
        if (item->kind == PROFILE_STEP) {
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

static bool asks_for_critical_power(const struct profile *profile)
{
    for (size_t i = 0; i < profile->item_count; i++)
        if (profile->items[i].targets.power_cp_tenths.set)
            return true;
    return false;
}

static bool length_is_allowed(const struct profile *profile, uint64_t length_ms)
{
    return length_ms >= PLAN_LENGTH_MIN_MS && length_ms <= PLAN_LENGTH_MAX_MS &&
           length_ms >= profile->length_min_ms && length_ms <= profile->length_max_ms;
}

static int32_t share_w(int32_t cp_tenths, uint16_t critical_power_w)
{
    return (int32_t)(((int64_t)cp_tenths * critical_power_w + 500) / 1000);
}

static struct step_targets resolve(const struct step_targets *asked, const struct rider *rider)
{
    struct step_targets targets = *asked;

    if (rider->heart_slowed)
        targets.heart_bpm = (struct target_range){0};
    if (asked->power_cp_tenths.set) {
        targets.power_w = (struct target_range){
            .set = true,
            .low = share_w(asked->power_cp_tenths.low, rider->critical_power_w),
            .high = share_w(asked->power_cp_tenths.high, rider->critical_power_w),
        };
        targets.power_cp_tenths = (struct target_range){0};
    }
    return targets;
}

static void add_step(struct plan *plan, const struct profile_item *item, const struct rider *rider,
                     const struct open_rounds *innermost)
{
    plan->steps[plan->step_count++] = (struct plan_step){
        .kind = item->step,
        .duration_ms = item->duration_ms,
        .targets = resolve(&item->targets, rider),
        .round = innermost->round,
        .rounds = innermost->rounds,
    };
}

/* The profile has been measured: it is well formed and its steps fit. */
static void unroll(const struct profile *profile, const struct rider *rider, struct plan *plan)
{
    struct open_rounds open[PROFILE_DEPTH_MAX + 1] = {0}; /* open[0]: outside all rounds */
    size_t depth = 0;
    size_t at = 0;
    while (at < profile->item_count) {
        const struct profile_item *item = &profile->items[at++];
        if (item->kind == PROFILE_STEP) {
            add_step(plan, item, rider, &open[depth]);
        } else if (item->kind == PROFILE_ROUNDS) {
            open[++depth] = (struct open_rounds){at, 1, item->rounds};
        } else if (open[depth].round < open[depth].rounds) {
            open[depth].round++;
            at = open[depth].first_item;
        } else {
            depth--;
        }
    }
}

enum result profile_plan(const struct profile *profile, const struct rider *rider, struct plan *ret)
{
    struct profile_size size;
    enum result result = profile_measure(profile, &size);
    if (result != RESULT_OK)
        return result;
    if (!length_is_allowed(profile, size.length_ms))
        return RESULT_RANGE;
    if (size.steps > PLAN_STEPS_MAX)
        return RESULT_FULL;
    if (rider->critical_power_w == 0 && asks_for_critical_power(profile))
        return RESULT_NOT_FOUND;
    memset(ret, 0, sizeof(*ret));
    memcpy(ret->title, profile->title, sizeof(ret->title));
    unroll(profile, rider, ret);
    return RESULT_OK;
}

uint32_t plan_length_ms(const struct plan *plan)
{
    uint32_t length_ms = 0;
    for (size_t i = 0; i < plan->step_count; i++)
        if (is_interval(plan->steps[i].kind))
            length_ms += plan->steps[i].duration_ms;
    return length_ms;
}

uint32_t plan_duration_ms(const struct plan *plan)
{
    uint32_t duration_ms = 0;
    for (size_t i = 0; i < plan->step_count; i++)
        duration_ms += plan->steps[i].duration_ms;
    return duration_ms;
}

uint32_t plan_work_ms(const struct plan *plan)
{
    uint32_t work_ms = 0;
    for (size_t i = 0; i < plan->step_count; i++)
        if (plan->steps[i].kind == STEP_WORK)
            work_ms += plan->steps[i].duration_ms;
    return work_ms;
}

const char *step_kind_text(enum step_kind kind)
{
    return name_of(&step_names, kind);
}
