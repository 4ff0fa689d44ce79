#include "next_time.h"

#include <stdlib.h>
#include <string.h>

#include "app/profile_file.h"
#include "port/store_history.h"
#include "ride/fit.h"
#include "text/journal.h"
#include "ui/verdict.h"

/* ---- what a ride asked for ---- */

struct asked {
    enum verdict_unit unit;
    uint32_t value; /* mean of the middles of its work steps; 0: none */
};

static struct asked asked_of(const struct plan *plan)
{
    uint64_t power = 0, level = 0, power_ms = 0, level_ms = 0;

    for (size_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        const struct step_targets middle = plan_step_targets(step, step->duration_ms / 2);
        const struct target_range *power_w = &middle.power_w, *tenths = &middle.level_tenths;
        if (step->kind != STEP_WORK)
            continue;
        if (power_w->set && power_w->low >= 0) {
            power += (uint64_t)(power_w->low + power_w->high) * step->duration_ms;
            power_ms += step->duration_ms;
        } else if (tenths->set && tenths->low >= 0) {
            level += (uint64_t)(tenths->low + tenths->high) * step->duration_ms;
            level_ms += step->duration_ms;
        }
    }
    if (power_ms > 0)
        return (struct asked){VERDICT_WATTS, (uint32_t)((power + power_ms) / (2 * power_ms))};
    return (struct asked){VERDICT_LEVEL_TENTHS,
                          level_ms > 0 ? (uint32_t)((level + level_ms) / (2 * level_ms)) : 0};
}

static bool read_asked(struct store *store, int64_t id, struct asked *ret)
{
    struct ride_setup *setup = calloc(1, sizeof *setup);
    char *text = NULL;
    size_t length = 0;
    bool is_read = false;

    if (setup != NULL && store_journal(store, id, &text, &length) == RESULT_OK) {
        struct journal_reader reader = journal_reader(text, length);
        struct text_fault fault;
        is_read = journal_read_setup(&reader, setup, &fault) == RESULT_OK;
        if (is_read)
            *ret = asked_of(&setup->plan);
    }
    free(text);
    free(setup);
    return is_read;
}

static struct progress_block block_of(const struct store_ride *ride, uint32_t asked)
{
    return (struct progress_block){
        .is_done = ride->summary.ending == STORE_ENDING_DONE,
        .has_in_range = ride->summary.has_in_range,
        .in_range_pct = ride->summary.in_range_pct,
        .has_effort = ride->rating.has_effort,
        .effort = ride->rating.effort,
        .asked = asked,
        .length_s = ride->length_ms / 1000,
    };
}

/* The profile's file may have gone since; then the block gets no longer. */
static struct progress_room room_for(const struct store_ride *now, const struct rider *rider,
                                     enum verdict_unit unit)
{
    struct progress_room room = {.asked_max = unit == VERDICT_WATTS ? rider->power_limit_w : 0};
    struct profile *profile = calloc(1, sizeof *profile);
    struct fit_span span;

    if (profile != NULL && now->profile[0] != '\0' && peek_profile(now->profile, profile) &&
        fit_span(profile, &span) == RESULT_OK) {
        room.round_s = span.round_ms / 1000;
        room.length_max_s = fit_length_ms(&span, span.high) / 1000;
    }
    free(profile);
    return room;
}

/* Broken off before its work a ride says nothing of the legs. (Old stores know only the share.) */
static bool has_worked(const struct store_ride *ride)
{
    return ride->state != STORE_RIDING && (ride->summary.work_s > 0 || ride->summary.has_in_range);
}

/* ---- the ride before it ---- */

static bool find_before(struct store *store, const struct store_ride *now, struct store_ride *ret)
{
    struct store_ride ride = {.id = now->id};

    while (store_next_alike(store, now, ride.id, &ride) == RESULT_OK) {
        if (!has_worked(&ride))
            continue;
        *ret = ride;
        return true;
    }
    return false;
}

void next_time(struct store *store, const struct store_ride *now, const struct rider *rider,
               char *ret, size_t size)
{
    struct progress_block blocks[2];
    struct asked last, before_asked;
    struct store_ride before;
    size_t count = 0;

    ret[0] = '\0';
    if (!has_worked(now) || !read_asked(store, now->id, &last))
        return;
    if (find_before(store, now, &before) && read_asked(store, before.id, &before_asked) &&
        before_asked.unit == last.unit)
        blocks[count++] = block_of(&before, before_asked.value);
    blocks[count++] = block_of(now, last.value);
    const struct progress_room room = room_for(now, rider, last.unit);
    const struct progress next = progress_next(blocks, count, &room);
    verdict_next(&next, &blocks[count - 1], last.unit, ret, size);
}
