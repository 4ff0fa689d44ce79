#include "ride/cues.h"

#define COUNTS           3u
#define COUNT_EVERY_MS   1000u
#define COUNT_LATE_MS    200u  /* a count that comes later than that misleads */
#define SETTLE_MS        2000u /* the load itself is on its way up: see limits, ramp_w_per_s */
#define READING_MS       2000u /* silence is not out of range */
#define RANGE_AFTER_MS   3000u
#define RANGE_EVERY_MS   4000u
#define KNOB_AFTER_MS    1000u /* its advice has waited already */
#define KNOB_PAUSE_MS    4000u /* whichever way it goes */
#define PAUSE_MS         300u  /* of silence behind a cue, longer than any within one */
#define CAUTION_WAITS_MS 5000u /* for a gap; then it sounds whatever else it hides */

enum timing {
    NOW,  /* or not at all; cuts off what is no more important */
    SOON, /* once nothing as important sounds any more */
    GAP   /* in silence, when it is over before the next thing at an edge */
};

/* The more important ones have the higher rank. */
static const struct {
    int rank;
    enum timing timing;
} manners[CUE_KIND_COUNT] = {
    [CUE_BEAT] = {2, NOW},    [CUE_LOWER] = {2, NOW},     [CUE_LIFT] = {2, NOW},
    [CUE_RANGE] = {1, GAP},   [CUE_MARK] = {1, GAP},      [CUE_COUNT] = {2, NOW},
    [CUE_KNOB_UP] = {1, GAP}, [CUE_KNOB_DOWN] = {1, GAP}, [CUE_RESUMED] = {3, SOON},
    [CUE_EASE] = {4, NOW},    [CUE_WORK] = {4, NOW},      [CUE_HELD] = {5, SOON},
    [CUE_END] = {6, SOON},    [CUE_CAUTION] = {7, GAP},   [CUE_CUT_OFF] = {8, NOW},
};

static uint32_t bit(enum cue cue)
{
    return 1u << cue;
}

static uint32_t bits_of(enum timing timing)
{
    uint32_t bits = 0;

    for (enum cue cue = CUE_NONE + 1; cue < CUE_KIND_COUNT; cue++)
        if (manners[cue].timing == timing)
            bits |= bit(cue);
    return bits;
}

/* ---- what is to be heard ---- */

static void want(struct cues *cues, enum cue cue, enum cue instead_of)
{
    cues->wanted &= ~bit(instead_of);
    cues->wanted |= bit(cue);
}

/* The load changes: what is out of range is judged anew. */
static void settle(struct cues *cues, uint64_t t_ms)
{
    cues->out = CUE_NONE;
    cues->knob_t_ms = 0;
    cues->settled_t_ms = t_ms + SETTLE_MS;
}

static void hear_step(struct cues *cues, const struct plan_step *steps, int32_t index)
{
    cues->on_floor = steps[index].kind == STEP_FLOOR;
    if (steps[index].reps.reps > 0)
        return; /* its own seconds are heard */
    if (index == 0 || steps[index].kind == STEP_WORK)
        want(cues, CUE_WORK, CUE_EASE);
    else if (steps[index - 1].kind == STEP_WORK)
        want(cues, CUE_EASE, CUE_WORK);
}

static void hear_phase(struct cues *cues, const struct ride *ride, enum phase phase)
{
    if (phase == PHASE_HELD)
        want(cues, CUE_HELD, CUE_RESUMED);
    if (phase > PHASE_FLOOR && cues->on_floor)
        want(cues, CUE_EASE, CUE_NONE);
    cues->on_floor = false;
    if (phase < PHASE_EASY || cues->is_over)
        return;
    cues->is_over = true;
    cues->wanted &= bit(CUE_CAUTION);
    /* A ride that never began has no end, and whoever left hears nothing any more. */
    if (ride->start_t_ms != 0 && ride->reason != REASON_LEFT && ride->reason != REASON_UNGUARDED)
        want(cues, CUE_END, CUE_NONE);
}

static void hear_caution(struct cues *cues, enum caution caution, uint64_t t_ms)
{
    /* It comes with every end of work, which has a sound of its own. */
    if (caution == CAUTION_KEEP_TURNING)
        return;
    if (!(cues->wanted & bit(CUE_CAUTION)))
        cues->caution_t_ms = t_ms;
    want(cues, CUE_CAUTION, CUE_NONE);
}

static void hear(struct cues *cues, const struct ride *ride, const struct effect *effect,
                 uint64_t t_ms)
{
    switch (effect->kind) {
    case EFFECT_STEP:
        settle(cues, t_ms);
        hear_step(cues, ride->setup.plan.steps, effect->step.index);
        return;
    case EFFECT_PHASE: hear_phase(cues, ride, effect->phase.phase); return;
    case EFFECT_HOLD:
        settle(cues, t_ms);
        if (effect->hold.hold == HOLD_NONE)
            want(cues, CUE_RESUMED, CUE_HELD);
        else if (ride->phase == PHASE_FLOOR)
            want(cues, CUE_HELD, CUE_RESUMED);
        return;
    case EFFECT_CAUTION: hear_caution(cues, effect->caution.caution, t_ms); return;
    case EFFECT_CUT_OFF:
        cues->is_over = true;
        cues->wanted = bit(CUE_CUT_OFF);
        return;
    case EFFECT_COMMAND:
    case EFFECT_SAMPLE:
    case EFFECT_SHIFT:
    case EFFECT_KNOB:
    case EFFECT_SUMMARY:
    case EFFECT_KIND_COUNT: return;
    }
}

/* Power, or cadence where no power is asked for or nothing measures it. */
static bool is_out_of_range(const struct ride *ride, uint64_t t_ms)
{
    const struct plan_step *step = ride->phase == PHASE_RIDING ? ride_current_step(ride) : NULL;
    if (step == NULL || step->kind != STEP_WORK)
        return false;
    const struct step_targets targets = ride_asked(ride);
    const bool has_power = targets.power_w.set && !ride_is_powerless(ride);
    const struct target_range *range = has_power ? &targets.power_w : &targets.cadence_rpm;
    const struct reading *reading = has_power ? &ride->sensors.power_w : &ride->sensors.cadence_rpm;

    /* Without the strap the load is one of rest: legs cannot make up for that. */
    if (has_power && ride->verdict.strap_lost)
        return false;
    return range->set && reading_is_fresh(reading, t_ms, READING_MS) &&
           (reading->value < range->low || reading->value > range->high);
}

/* By hand the standing advice tells, in every step: it knows what can be done about it. */
static enum cue cue_of_range(const struct ride *ride, uint64_t t_ms)
{
    if (!ride_turns_knob(ride))
        return is_out_of_range(ride, t_ms) ? CUE_RANGE : CUE_NONE;
    switch (ride->phase == PHASE_RIDING ? ride->knob.turn : KNOB_LEAVE) {
    case KNOB_UP: return CUE_KNOB_UP;
    case KNOB_DOWN: return CUE_KNOB_DOWN;
    case KNOB_FASTER:
    case KNOB_SLOWER: return CUE_RANGE;
    case KNOB_LEAVE:
    case KNOB_TURN_COUNT: break;
    }
    return CUE_NONE;
}

static bool is_of_knob(enum cue cue)
{
    return cue == CUE_KNOB_UP || cue == CUE_KNOB_DOWN;
}

static void watch_range(struct cues *cues, const struct ride *ride, uint64_t t_ms)
{
    const enum cue before = cues->out;

    cues->out = t_ms >= cues->settled_t_ms ? cue_of_range(ride, t_ms) : CUE_NONE;
    if (cues->out != before)
        cues->range_t_ms = t_ms + (is_of_knob(cues->out) ? KNOB_AFTER_MS : RANGE_AFTER_MS);
    cues->wanted &= ~(bit(CUE_RANGE) | bit(CUE_KNOB_UP) | bit(CUE_KNOB_DOWN));
    if (cues->out != CUE_NONE && t_ms >= cues->range_t_ms &&
        (!is_of_knob(cues->out) || t_ms >= cues->knob_t_ms))
        want(cues, cues->out, CUE_NONE);
}

/* After one of them was heard. */
static void wait_again(struct cues *cues, enum cue cue, uint64_t t_ms)
{
    if (cue == CUE_RANGE)
        cues->range_t_ms = t_ms + RANGE_EVERY_MS;
    if (!is_of_knob(cue))
        return;
    cues->range_t_ms = t_ms + KNOB_AGAIN_MS;
    cues->knob_t_ms = t_ms + KNOB_PAUSE_MS;
}

/* ---- repetitions ---- */

/* The step off the bike whose seconds are counted now, or NULL. */
static const struct plan_step *counted_step(const struct ride *ride)
{
    const bool runs = ride->phase == PHASE_FLOOR && ride->hold == HOLD_NONE;
    const struct plan_step *step = runs ? ride_current_step(ride) : NULL;

    return step != NULL && step->reps.reps > 0 ? step : NULL;
}

static enum cue cue_of(struct rep_place place)
{
    if (place.second > 1)
        return CUE_BEAT;
    return place.part == REP_LOWERS ? CUE_LOWER : place.part == REP_LIFTS ? CUE_LIFT : CUE_BEAT;
}

static void count_second(struct cues *cues, const struct ride *ride, uint64_t t_ms)
{
    const struct plan_step *step = counted_step(ride);
    const uint64_t begin_t_ms = ride->t_ms - ride->step_ms;

    if (step == NULL || t_ms - begin_t_ms >= step->duration_ms)
        return;
    const uint32_t passed_ms = (uint32_t)(t_ms - begin_t_ms);
    const uint64_t beat_t_ms = t_ms - passed_ms % 1000;
    if (beat_t_ms != cues->beat_t_ms && t_ms - beat_t_ms <= COUNT_LATE_MS)
        want(cues, cue_of(reps_place(step->reps, passed_ms)), CUE_NONE);
    cues->beat_t_ms = beat_t_ms;
}

static uint64_t next_second_t_ms(const struct ride *ride, uint64_t t_ms)
{
    const struct plan_step *step = counted_step(ride);
    const uint64_t begin_t_ms = ride->t_ms - ride->step_ms;
    const uint64_t next_ms = (t_ms - begin_t_ms) / 1000 * 1000 + 1000;

    return step != NULL && next_ms < step->duration_ms ? begin_t_ms + next_ms : CUES_NEVER;
}

/* ---- counting down ---- */

/* The next beginning of work, though not past an end of it: that is to be heard first. By hand
 * also the end of a step at which the brake is to be turned. */
static uint64_t next_work_t_ms(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;
    uint64_t edge_t_ms = ride_next_edge_ms(ride);

    if (counted_step(ride) != NULL)
        return RIDE_NO_EDGE;
    if (ride->phase != PHASE_RIDING || ride_turn_at_edge(ride) != KNOB_LEAVE)
        return edge_t_ms;
    for (size_t i = ride->step + 1; i < plan->step_count; i++) {
        if (plan->steps[i].kind == STEP_WORK)
            return edge_t_ms;
        if (plan->steps[ride->step].kind == STEP_WORK)
            break;
        edge_t_ms += plan->steps[i].duration_ms;
    }
    return RIDE_NO_EDGE;
}

static uint64_t next_count_t_ms(const struct cues *cues)
{
    return cues->counts_left == 0
               ? CUES_NEVER
               : cues->counted_t_ms - (uint64_t)cues->counts_left * COUNT_EVERY_MS;
}

static void count_down(struct cues *cues, const struct ride *ride, uint64_t t_ms)
{
    const uint64_t edge_t_ms = next_work_t_ms(ride);

    if (edge_t_ms != cues->counted_t_ms) {
        const uint64_t left = edge_t_ms > t_ms ? (edge_t_ms - t_ms) / COUNT_EVERY_MS : 0;
        cues->counted_t_ms = edge_t_ms;
        cues->counts_left = left < COUNTS ? (uint32_t)left : COUNTS;
    }
    if (edge_t_ms == RIDE_NO_EDGE)
        cues->counts_left = 0;
    for (uint32_t i = 0; i < COUNTS && cues->counts_left > 0 && next_count_t_ms(cues) <= t_ms;
         i++) {
        if (t_ms - next_count_t_ms(cues) <= COUNT_LATE_MS)
            want(cues, CUE_COUNT, CUE_NONE);
        cues->counts_left--;
    }
}

/* ---- one at a time ---- */

static uint64_t earlier(uint64_t one_t_ms, uint64_t other_t_ms)
{
    return one_t_ms < other_t_ms ? one_t_ms : other_t_ms;
}

static bool has_gap(const struct cues *cues, const struct ride *ride, enum cue cue, uint64_t t_ms)
{
    const uint64_t count_t_ms = earlier(next_count_t_ms(cues), next_second_t_ms(ride, t_ms));
    const uint64_t edge_t_ms = earlier(ride_next_edge_ms(ride), count_t_ms);

    return edge_t_ms >= t_ms + cue_length_ms(cue) + PAUSE_MS;
}

static bool may_begin(const struct cues *cues, const struct ride *ride, enum cue cue, uint64_t t_ms)
{
    const bool is_silent = cues->sounding == CUE_NONE && (cues->wanted & ~bits_of(GAP)) == 0;
    const int rank = manners[cue].rank, sounding = manners[cues->sounding].rank;

    switch (manners[cue].timing) {
    case NOW: return rank >= sounding;
    case SOON: return rank > sounding;
    case GAP:
        return (is_silent && has_gap(cues, ride, cue, t_ms)) ||
               (cue == CUE_CAUTION && rank > sounding &&
                t_ms - cues->caution_t_ms >= CAUTION_WAITS_MS);
    }
    return false;
}

static enum cue begin(struct cues *cues, const struct ride *ride, uint64_t t_ms)
{
    if (t_ms >= cues->until_t_ms)
        cues->sounding = CUE_NONE;
    for (enum cue cue = CUE_KIND_COUNT - 1; cue > CUE_NONE; cue--) {
        if (!(cues->wanted & bit(cue)) || !may_begin(cues, ride, cue, t_ms))
            continue;
        cues->sounding = cue;
        cues->until_t_ms = t_ms + cue_length_ms(cue) + PAUSE_MS;
        cues->wanted &= ~bit(cue);
        wait_again(cues, cue, t_ms);
        return cue;
    }
    return CUE_NONE;
}

static uint64_t next_t_ms(const struct cues *cues, const struct ride *ride, uint64_t t_ms)
{
    uint64_t next = earlier(next_count_t_ms(cues), next_second_t_ms(ride, t_ms));

    if (cues->out != CUE_NONE && cues->range_t_ms > t_ms)
        next = earlier(next, cues->range_t_ms);
    if (cues->wanted != 0 && cues->sounding != CUE_NONE)
        next = earlier(next, cues->until_t_ms);
    if ((cues->wanted & bit(CUE_CAUTION)) && cues->caution_t_ms + CAUTION_WAITS_MS > t_ms)
        next = earlier(next, cues->caution_t_ms + CAUTION_WAITS_MS);
    return next;
}

void cues_pass_mark(struct cues *cues)
{
    if (!cues->is_over)
        want(cues, CUE_MARK, CUE_NONE);
}

enum cue cues_step(struct cues *cues, const struct ride *ride, const struct effects *effects,
                   uint64_t t_ms, uint64_t *ret_next_t_ms)
{
    for (size_t i = 0; effects != NULL && i < effects->count; i++)
        hear(cues, ride, &effects->list[i], t_ms);
    watch_range(cues, ride, t_ms);
    count_second(cues, ride, t_ms);
    count_down(cues, ride, t_ms);

    const enum cue begun = begin(cues, ride, t_ms);
    cues->wanted &= ~bits_of(NOW);
    *ret_next_t_ms = next_t_ms(cues, ride, t_ms);
    return begun;
}
