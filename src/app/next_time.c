#include "next_time.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/profile_file.h"
#include "body/compare.h"
#include "brake.h"
#include "port/store_history.h"
#include "rerun.h"
#include "ride/fit.h"
#include "ruler.h"
#include "ui/verdict.h"

/* ---- a ride that was ---- */

/* What its journal tells and its summary does not. */
struct told {
    uint32_t legs_pct; /* in: lowered by so much, unless it was a first block */
    bool is_known, is_eased, has_warned, is_shifted_up;
    struct asked asked;
    uint32_t work_ms; /* of the plan */
    uint32_t step;    /* of the brake at the end, as `asked`; 0: any, or not known */
};

static uint32_t step_of(const struct ride *ride, const struct asked *asked)
{
    const struct machine *machine = &ride->control.machine;

    if (asked->unit == VERDICT_WATTS)
        return brake_step_w(ride, asked->value);
    return machine->takes_level && machine->level_step_tenths > 0
               ? (uint32_t)machine->level_step_tenths
               : 0;
}

static void watch(void *user, const struct ride *ride)
{
    static const enum caution heart[] = {CAUTION_HEART_NEAR, CAUTION_HEART_FLAT,
                                         CAUTION_HEART_STAYS};
    struct told *told = user;

    if (!told->is_known) {
        told->is_known = true;
        told->is_eased = told->legs_pct > 0 && !ride->setup.rider.is_new;
        told->asked = asked_of(&ride->setup.plan, told->is_eased ? told->legs_pct : 0);
        told->work_ms = plan_work_ms(&ride->setup.plan);
    }
    told->is_shifted_up |= ride->shift_pct > 0;
    if (ride->phase == PHASE_ENDED)
        told->step = step_of(ride, &told->asked);
    for (size_t i = 0; i < sizeof heart / sizeof heart[0]; i++)
        told->has_warned |= ride->caution_t_ms[heart[i]] != 0;
}

/* Of an old ride the store knows no seconds of work, but its journal does. */
static bool did_all_work(const struct told *told, const struct summary *summary)
{
    return (uint32_t)summary->work_s + COMPARE_SLACK_S >= told->work_ms / 1000;
}

/* Of the mean power asked for; a brake that takes its 5 s in each step of 20 s gives some less. */
#define RIDDEN_PCT 90

static enum progress_reason unjudged(const struct store_ride *ride, const struct told *told,
                                     const struct summary *summary)
{
    if (told->asked.unit != VERDICT_WATTS)
        return PROGRESS_NO_BLOCKS;
    if (summary->max_power_w <= 0)
        return PROGRESS_UNMEASURED;
    return told->is_shifted_up && ride->summary.in_range_pct < PROGRESS_FULL_PCT &&
                   (int64_t)summary->work_power_w * 100 >= (int64_t)told->asked.value * RIDDEN_PCT
               ? PROGRESS_SHIFTED_UP
               : PROGRESS_NO_BLOCKS;
}

static struct progress_block block_of(const struct store_ride *ride, const struct told *told,
                                      const struct summary *summary)
{
    return (struct progress_block){
        .is_done = ride->summary.ending == STORE_ENDING_DONE && did_all_work(told, summary),
        .is_cut_off = ride->summary.ending == STORE_ENDING_CUT_OFF,
        .has_warned = told->has_warned,
        .is_eased = told->is_eased,
        .has_in_range = ride->summary.has_in_range,
        .in_range_pct = ride->summary.in_range_pct,
        .unjudged = unjudged(ride, told, summary),
        .has_effort = ride->rating.has_effort,
        .effort = ride->rating.effort,
        .asked = told->asked.value,
        .length_s = ride->length_ms / 1000,
        .proposed = ride->proposed,
        .proposed_length_s = ride->proposed_length_ms / 1000,
    };
}

static bool read_block(struct store *store, const struct store_ride *ride,
                       struct progress_block *ret, struct told *ret_told)
{
    struct told told = {.legs_pct = (uint32_t)fit_legs_pct(ride->feel)};
    struct text_fault fault;
    struct rerun rerun;
    char *text = NULL;
    size_t length = 0;

    if (store_journal(store, ride->id, &text, &length) != RESULT_OK)
        return false;
    const bool is_read = rerun_watched(text, length, (struct rerun_watch){watch, &told}, &rerun,
                                       &fault) == RESULT_OK;
    free(text);
    if (!is_read || !told.is_known)
        return false;
    *ret = block_of(ride, &told, &rerun.summary);
    *ret_told = told;
    return true;
}

/* Broken off before its work, or by a crash, a ride says nothing of the legs. (Old stores know only
 * the share.) */
static bool has_worked(const struct store_ride *ride)
{
    return ride->state == STORE_FINISHED &&
           (ride->summary.work_s > 0 || ride->summary.has_in_range);
}

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

/* ---- what comes of it ---- */

/* The profile's file may have gone since; then the block gets no longer. */
static struct progress_room room_for(const struct store_ride *now, const struct rider *rider,
                                     const struct told *told)
{
    const bool is_watts = told->asked.unit == VERDICT_WATTS;
    struct progress_room room = {.asked_max = is_watts ? rider->power_limit_w : 0,
                                 .step = told->step,
                                 .is_by_legs = is_watts};
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

static void add(struct next_time *next, const struct store_ride *ride,
                const struct progress_block *block)
{
    next->ids[next->count] = ride->id;
    next->blocks[next->count++] = *block;
}

void next_time_after(struct store *store, const struct store_ride *now, const struct rider *rider,
                     struct next_time *ret)
{
    struct progress_block block, block_before;
    struct told told, told_before;
    struct store_ride before = {0};

    *ret = (struct next_time){0};
    if (!has_worked(now) || !read_block(store, now, &block, &told))
        return;
    ret->unit = told.asked.unit;
    if (find_before(store, now, &before) && !ruler_is_same(now, &before))
        ret->other_source_id = before.id;
    else if (before.id != 0 && read_block(store, &before, &block_before, &told_before) &&
             told_before.asked.unit == ret->unit)
        add(ret, &before, &block_before);
    add(ret, now, &block);
    const struct progress_room room = room_for(now, rider, &told);
    ret->progress = progress_next(ret->blocks, ret->count, &room);
}

void next_time_for(struct store *store, const struct store_ride *like, const struct rider *rider,
                   struct next_time *ret)
{
    struct store_ride last;

    *ret = (struct next_time){0};
    if (find_before(store, like, &last))
        next_time_after(store, &last, rider, ret);
}

/* ---- in words, and as a share ---- */

void next_time_say(const struct next_time *next, char *ret, size_t size)
{
    ret[0] = '\0';
    if (next->count > 0)
        verdict_next(&next->progress, &next->blocks[next->count - 1], next->unit, ret, size);
}

void next_time_reckon(const struct next_time *next, char *ret, size_t size)
{
    verdict_blocks(next->blocks, next->ids, next->count, next->unit, ret, size);
    const size_t length = strlen(ret);
    if (length > 0 && next->other_source_id != 0)
        (void)snprintf(ret + length, size - length,
                       "; ride %lld was measured by another source of power",
                       (long long)next->other_source_id);
}

int32_t next_time_load_pct(const struct next_time *next, const struct asked *written)
{
    const int64_t asked = next->progress.asked, as_written = written->value;

    if (asked == 0 || as_written == 0 || written->unit != next->unit)
        return 0;
    const int64_t pct = (INT64_C(200) * asked + as_written) / (2 * as_written) - 100;
    return pct > FIT_LOAD_MAX_PCT    ? FIT_LOAD_MAX_PCT
           : pct < -FIT_LOAD_MAX_PCT ? -FIT_LOAD_MAX_PCT
                                     : (int32_t)pct;
}
