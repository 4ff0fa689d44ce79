#include "draft_edit.h"

#include <string.h>

#include "ride/fit.h"
#include "text/profile_field.h"

#define NOWHERE     SIZE_MAX
#define WRAP_AIM_MS 240000u

static bool insert(struct profile *profile, size_t at, struct profile_item item)
{
    struct profile_item *place = &profile->items[at];

    if (profile->item_count == PROFILE_ITEMS_MAX)
        return false;
    memmove(place + 1, place, (profile->item_count - at) * sizeof *place);
    *place = item;
    profile->item_count++;
    return true;
}

static void take_out(struct profile *profile, size_t at)
{
    struct profile_item *place = &profile->items[at];

    profile->item_count--;
    memmove(place, place + 1, (profile->item_count - at) * sizeof *place);
}

/* ---- where kinds belong ---- */

/* Floor, warm-up, intervals with their rounds, cool-down. */
static int section_of(const struct profile_item *item)
{
    if (item->kind != PROFILE_STEP)
        return 2;
    switch (item->step) {
    case STEP_FLOOR: return 0;
    case STEP_WARM_UP: return 1;
    case STEP_COOL_DOWN: return 3;
    case STEP_WORK:
    case STEP_REST:
    case STEP_KIND_COUNT: break;
    }
    return 2;
}

/* Behind the hand where that is its section, else at the end of it. */
static size_t place_for(const struct profile *profile, size_t after, int section)
{
    size_t end = 0;

    if (after < profile->item_count && section_of(&profile->items[after]) == section)
        return after + 1;
    while (end < profile->item_count && section_of(&profile->items[end]) <= section)
        end++;
    return end;
}

/* ---- steps ---- */

/* What a first one of its kind asks for: our own choice, as the shipped profiles have it. */
static const struct {
    const char *time, *power;
} firsts[STEP_KIND_COUNT] = {
    [STEP_FLOOR] = {"8 x 3010", ""},           [STEP_WARM_UP] = {"1:00", "40..55 %cp"},
    [STEP_WORK] = {"0:20", "115..125 %cp"},    [STEP_REST] = {"0:10", "30..50 %cp"},
    [STEP_COOL_DOWN] = {"3:00", "25..40 %cp"},
};

size_t profile_edit_add(struct profile *profile, size_t after, enum step_kind kind)
{
    struct profile_item item = {.kind = PROFILE_STEP, .step = kind};
    struct text_fault fault;
    const size_t at = place_for(profile, after, section_of(&item));

    if (profile_field_set(&item, PROFILE_FIELD_TIME, firsts[kind].time, &fault) != RESULT_OK ||
        profile_field_set(&item, PROFILE_FIELD_POWER, firsts[kind].power, &fault) != RESULT_OK ||
        !insert(profile, at, item))
        return NOWHERE;
    return at;
}

size_t profile_edit_copy(struct profile *profile, size_t at)
{
    struct profile_item copy = profile->items[at];

    copy.line = 0;
    return copy.kind == PROFILE_STEP && insert(profile, at + 1, copy) ? at + 1 : NOWHERE;
}

/* ---- rounds ---- */

/* Where the end of these rounds stands, or the rounds of this end. */
static size_t partner_of(const struct profile *profile, size_t at)
{
    const bool is_down = profile->items[at].kind == PROFILE_ROUNDS;
    int depth = 0;

    for (size_t i = at; i < profile->item_count; i = is_down ? i + 1 : i - 1) {
        const enum profile_item_kind kind = profile->items[i].kind;
        depth += kind == PROFILE_ROUNDS ? 1 : kind == PROFILE_END ? -1 : 0;
        if (depth == 0)
            return i;
    }
    return NOWHERE;
}

size_t profile_edit_remove(struct profile *profile, size_t at)
{
    if (profile->items[at].kind != PROFILE_STEP) {
        const size_t partner = partner_of(profile, at);
        const size_t first = at < partner ? at : partner;
        take_out(profile, at < partner ? partner : at);
        take_out(profile, first);
        return first;
    }
    take_out(profile, at);
    return at;
}

size_t profile_edit_move(struct profile *profile, size_t at, int by)
{
    const size_t to = by > 0 ? at + 1 : at - 1;

    if (to >= profile->item_count)
        return NOWHERE;
    struct profile_item *one = &profile->items[at], *other = &profile->items[to];
    if (section_of(one) != section_of(other) ||
        (one->kind != PROFILE_STEP && other->kind != PROFILE_STEP))
        return NOWHERE;
    const struct profile_item kept = *one;
    *one = *other;
    *other = kept;
    return to;
}

static bool is_interval(const struct profile_item *item)
{
    return item->kind == PROFILE_STEP && section_of(item) == 2;
}

size_t profile_edit_wrap(struct profile *profile, size_t at)
{
    size_t first = at, last = at;
    uint32_t round_ms = 0;

    if (!is_interval(&profile->items[at]) || profile->item_count + 2 > PROFILE_ITEMS_MAX)
        return NOWHERE;
    while (first > 0 && is_interval(&profile->items[first - 1]))
        first--;
    while (last + 1 < profile->item_count && is_interval(&profile->items[last + 1]))
        last++;
    for (size_t i = first; i <= last; i++)
        round_ms += profile->items[i].duration_ms;
    const uint32_t rounds = round_ms > 0 ? (WRAP_AIM_MS + round_ms / 2) / round_ms : 0;
    const struct profile_item begin = {.kind = PROFILE_ROUNDS,
                                       .rounds = (uint16_t)(rounds < 2 ? 2
                                                            : rounds > PROFILE_ROUNDS_MAX
                                                                ? PROFILE_ROUNDS_MAX
                                                                : rounds)};
    (void)insert(profile, last + 1, (struct profile_item){.kind = PROFILE_END});
    (void)insert(profile, first, begin);
    return first;
}
