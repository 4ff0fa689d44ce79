#include "body/progress.h"

enum progress_outcome progress_outcome(const struct progress_block *block)
{
    const uint32_t in_range_pct = block->has_in_range ? block->in_range_pct : 100;

    if (block->is_done && block->unjudged != PROGRESS_NO_BLOCKS)
        return PROGRESS_PARTLY;
    if (!block->is_done || in_range_pct < PROGRESS_MISSED_PCT)
        return PROGRESS_MISSED;
    return in_range_pct >= PROGRESS_FULL_PCT ? PROGRESS_FULL : PROGRESS_PARTLY;
}

/* Within a hundredth: a machine's own range, or a share of critical power, may round otherwise. */
static bool asked_the_same(const struct progress_block *a, const struct progress_block *b)
{
    const uint32_t more = a->asked > b->asked ? a->asked : b->asked;
    const uint32_t less = a->asked > b->asked ? b->asked : a->asked;
    return a->length_s == b->length_s && (uint64_t)(more - less) * 100 <= more;
}

static uint32_t raise_pct(const struct progress_block *a, const struct progress_block *b)
{
    const uint32_t harder = a->effort > b->effort ? a->effort : b->effort;
    if (!a->has_effort || !b->has_effort)
        return harder > 8 ? 2 : 3;
    return harder > 8 ? 2 : harder > 6 ? 3 : 5;
}

static uint32_t changed(uint32_t asked, int32_t change_pct)
{
    return (uint32_t)(((uint64_t)asked * (uint32_t)(100 + change_pct) + 50) / 100);
}

static void raise_target(struct progress *next, int32_t pct, enum progress_reason reason)
{
    next->reason = reason;
    next->ask = PROGRESS_RAISE;
    next->change_pct = pct;
    next->asked = changed(next->asked, pct);
}

static void go_on(const struct progress_block *before, const struct progress_block *last,
                  const struct progress_room *room, struct progress *next)
{
    const int32_t pct = (int32_t)raise_pct(before, last);
    const uint32_t asked = changed(last->asked, pct);
    const bool may_rise = asked > last->asked && (room->asked_max == 0 || asked <= room->asked_max);
    const bool is_coarse = may_rise && asked - last->asked < room->step;

    if (may_rise && !is_coarse) {
        raise_target(next, pct, PROGRESS_TWO_FULL);
    } else if (room->round_s > 0 && last->length_s > 0 &&
               last->length_s + room->round_s <= room->length_max_s) {
        next->reason = is_coarse ? PROGRESS_TWO_FULL_COARSE : PROGRESS_TWO_FULL;
        next->ask = PROGRESS_LENGTHEN;
        next->length_s += room->round_s;
    } else if (is_coarse && room->is_by_legs) {
        raise_target(next, pct, PROGRESS_TWO_FULL_BY_LEGS);
    } else {
        next->reason = is_coarse ? PROGRESS_TWO_FULL_COARSE : PROGRESS_TWO_FULL_NO_ROOM;
    }
}

static void step_back(struct progress *next)
{
    next->reason = PROGRESS_TWO_MISSED;
    next->ask = PROGRESS_STEP_BACK;
    next->change_pct = -(int32_t)PROGRESS_BACK_PCT;
    next->asked = changed(next->asked, next->change_pct);
}

/* What a block in full leads to; `before` is NULL unless it was in full at the same target. */
static void follow_full(const struct progress_block *before, const struct progress_block *last,
                        const struct progress_room *room, struct progress *next)
{
    const bool was_overruled = last->proposed > 0 || last->proposed_length_s > 0;

    if (last->has_warned)
        next->reason = PROGRESS_HAS_WARNED;
    else if (last->is_eased)
        next->reason = PROGRESS_WAS_EASED;
    else if (before == NULL || before->has_warned || before->is_eased || was_overruled)
        next->reason = PROGRESS_FIRST_FULL;
    else
        go_on(before, last, room, next);
}

static enum progress_reason reason_of_miss(const struct progress_block *last)
{
    if (last->is_cut_off)
        return PROGRESS_WAS_CUT_OFF;
    return last->has_warned ? PROGRESS_HAS_WARNED : PROGRESS_ONE_MISSED;
}

struct progress progress_next(const struct progress_block *blocks, size_t count,
                              const struct progress_room *room)
{
    if (count == 0)
        return (struct progress){.ask = PROGRESS_AS_WRITTEN, .reason = PROGRESS_NO_BLOCKS};

    const struct progress_block *last = &blocks[count - 1];
    const struct progress_block *before = count > 1 ? &blocks[count - 2] : NULL;
    const enum progress_outcome outcome = progress_outcome(last);
    const bool is_second =
        before != NULL && progress_outcome(before) == outcome && asked_the_same(before, last);
    struct progress next = {
        .ask = PROGRESS_REPEAT, .asked = last->asked, .length_s = last->length_s};

    switch (outcome) {
    case PROGRESS_FULL: follow_full(is_second ? before : NULL, last, room, &next); break;
    case PROGRESS_PARTLY:
        next.reason = last->has_warned                       ? PROGRESS_HAS_WARNED
                      : last->unjudged != PROGRESS_NO_BLOCKS ? last->unjudged
                                                             : PROGRESS_NOT_FULL;
        break;
    case PROGRESS_MISSED:
        next.reason = reason_of_miss(last);
        if (is_second)
            step_back(&next);
        break;
    }
    return next;
}
