#include "rehearse.h"

#include <assert.h>
#include <string.h>

#include "io/virtual_config.h"
#include "ride/limits.h"
#include "ride_plan.h"
#include "stage.h"

/* W' for each watt of critical power, as the built-in rider has it (common practice). */
#define ASSUMED_W_PRIME_J_PER_W 75u

/* A brake that holds whatever may be commanded. */
#define STRONG_BRAKE_NM 250.0
#define STRONG_BRAKE_W  2000

/* The first seconds of a step are for the load and the rider to get there: 3 to 9 s, median 5
 * (records of Weigend et al. 2022, arXiv:2207.14295). A step that leaves less than as much again
 * is not judged, nor is a miss of 3 %, which nobody feels (common practice). */
#define SETTLE_MS     5000u
#define JUDGED_MIN_MS 3000u
#define MISS_PCT      3

struct run {
    struct rehearsal *result;
    struct reserve reserve;
    bool has_last; /* reading of this stretch of the block */
    uint64_t last_t_ms;
    int32_t last_power_w;
    /* this second of the block */
    int64_t power_sum_w, heart_sum_bpm;
    int32_t power_count, heart_count;
    /* this step, once the rider may have settled */
    size_t step;
    int64_t step_sum_w, step_low_sum_w;
    bool is_lowered, is_below;
    struct rehearsal_place below_at; /* since when it is */
};

/* ---- who rides ---- */

void rehearse_complete(struct rider *rider)
{
    if (rider->critical_power_w == 0)
        rider->critical_power_w = ASSUMED_CRITICAL_POWER_W;
    if (rider->w_prime_j == 0)
        rider->w_prime_j = ASSUMED_W_PRIME_J_PER_W * rider->critical_power_w;
}

static void heart_bounds(const struct rider *rider, int32_t *ret_max_bpm, int32_t *ret_limit_bpm)
{
    struct rider unlimited = *rider;
    struct limits limits;

    limits_set(rider, NULL, 0, &limits);
    *ret_limit_bpm = limits.heart_limit_bpm;
    unlimited.heart_limit_bpm = 0;
    limits_set(&unlimited, NULL, 0, &limits);
    *ret_max_bpm = limits.heart_limit_bpm;
}

struct virtual_rider_config rehearse_rider(const struct rider *rider)
{
    struct virtual_rider_config config = virtual_rider_default();
    int32_t heart_max_bpm, heart_limit_bpm;

    heart_bounds(rider, &heart_max_bpm, &heart_limit_bpm);
    config.peak_power_w *= rider->critical_power_w / config.critical_power_w;
    config.critical_power_w = rider->critical_power_w;
    config.w_prime_j = rider->w_prime_j;
    config.heart_max_bpm = heart_max_bpm;
    if (rider->heart_rest_bpm > 0)
        config.heart_rest_bpm = rider->heart_rest_bpm;
    config.cadence_wander_rpm = 0;
    config.heart_noise_bpm = 0;
    return config;
}

static struct virtual_machine_config strong_machine(void)
{
    struct virtual_machine_config config = virtual_machine_default();

    config.takes_level = true;
    config.power_noise = 0;
    config.power_w.maximum = STRONG_BRAKE_W;
    config.knob *= config.brake.peak_torque_nm / STRONG_BRAKE_NM;
    config.brake.peak_torque_nm = STRONG_BRAKE_NM;
    return config;
}

/* ---- the plan alone ---- */

static int32_t middle_w(const struct plan_step *step, uint32_t step_ms)
{
    const struct target_range power_w = plan_step_targets(step, step_ms).power_w;
    return (power_w.low + power_w.high) / 2;
}

/* Work that ends a step ends it sooner; where distance or heart do, nobody knows beforehand. */
static uint32_t asked_ms(const struct plan_step *step)
{
    const int32_t power_w = middle_w(step, step->duration_ms / 2);
    const int64_t work_ms = power_w > 0 ? INT64_C(1000) * step->end.value / power_w : 0;

    return step->end.until == UNTIL_WORK && work_ms > 0 && work_ms < step->duration_ms
               ? (uint32_t)work_ms
               : step->duration_ms;
}

/* How far below critical power the plan rests, on average: for the time constant of the integral
 * model. 0 where it never does. */
static double rests_below_w(const struct plan *plan, double critical_power_w)
{
    double below_j = 0, rest_s = 0;

    for (size_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        const double below_w = critical_power_w - middle_w(step, step->duration_ms / 2);
        if (!step->targets.power_w.set || below_w <= 0)
            continue;
        below_j += below_w * step->duration_ms / 1000.0;
        rest_s += step->duration_ms / 1000.0;
    }
    return rest_s > 0 ? below_j / rest_s : 0;
}

static void note_low(struct rehearsal_low *low, double left_j, struct rehearsal_place place)
{
    if (left_j < low->left_j)
        *low = (struct rehearsal_low){left_j, place};
}

static void note_trouble(struct rehearsal *result, enum rehearsal_trouble trouble,
                         struct rehearsal_place place)
{
    if (result->trouble != REHEARSAL_FINE && place.at_ms >= result->trouble_at.at_ms)
        return;
    result->trouble = trouble;
    result->trouble_at = place;
}

static void ride_part(struct rehearsal *result, struct reserve *reserve, size_t step,
                      uint32_t at_ms, uint32_t part_ms, int32_t power_w)
{
    const double before_j = reserve->balance_j;
    const double above_w = power_w - reserve->critical_power_w;
    const struct rehearsal_place end = {at_ms + part_ms, step};

    reserve_ride(reserve, power_w, part_ms / 1000.0);
    if (before_j > 0 && reserve->balance_j <= 0 && result->empty_ms == 0) {
        result->empty_ms = at_ms + (uint32_t)(1000 * before_j / above_w);
        note_trouble(result, REHEARSAL_EMPTY, (struct rehearsal_place){result->empty_ms, step});
    }
    note_low(&result->asked, reserve->balance_j, end);
    note_low(&result->slow, reserve_integral_j(reserve), end);
}

/* Exactly, but for ramps, which go by the second. A step without a power costs nothing here: what
 * is ridden in it is not the plan's choice. */
static void reckon_asked(struct rehearsal *result, struct reserve reserve)
{
    uint32_t at_ms = 0;

    for (size_t i = 0; i < result->plan->step_count; i++) {
        const struct plan_step *step = &result->plan->steps[i];
        const uint32_t step_ms = asked_ms(step);
        const uint32_t part_ms = step->ramp_to.power_w.set ? 1000 : step_ms;
        for (uint32_t ms = 0; step->targets.power_w.set && ms < step_ms; ms += part_ms)
            ride_part(result, &reserve, i, at_ms + ms,
                      part_ms < step_ms - ms ? part_ms : step_ms - ms,
                      middle_w(step, ms + part_ms / 2));
        at_ms += step_ms;
    }
}

/* ---- as it is ridden ---- */

static struct rehearsal_place place_of(const struct ride *ride)
{
    return (struct rehearsal_place){ride->block_ms, ride->step};
}

static void spend(struct run *run, const struct ride *ride, int32_t power_w)
{
    struct rehearsal *result = run->result;
    const double time_s = (double)(ride->t_ms - run->last_t_ms) / 1000.0;

    if (run->has_last)
        reserve_ride(&run->reserve, (power_w + run->last_power_w) / 2.0, time_s);
    note_low(&result->ridden, run->reserve.balance_j, place_of(ride));
    run->has_last = true;
    run->last_t_ms = ride->t_ms;
    run->last_power_w = power_w;
}

static struct rehearsal_second asked_at(const struct plan_step *step, uint32_t step_ms)
{
    return (struct rehearsal_second){.target_w = (int16_t)middle_w(step, step_ms),
                                     .in_work = step->kind == STEP_WORK};
}

static void end_second(struct run *run, const struct ride *ride)
{
    struct rehearsal *result = run->result;
    const struct plan_step *step = &result->plan->steps[run->step];
    struct rehearsal_second *second = &result->seconds[result->ridden_count++];

    *second = asked_at(step, run->step == ride->step ? ride->step_ms : step->duration_ms);
    second->reserve_pct = (int8_t)reserve_percent(&run->reserve);
    if (run->power_count > 0)
        second->power_w = (int16_t)(run->power_sum_w / run->power_count);
    if (run->heart_count > 0)
        second->heart_bpm = (int16_t)(run->heart_sum_bpm / run->heart_count);
    run->power_sum_w = run->heart_sum_bpm = 0;
    run->power_count = run->heart_count = 0;
}

/* The seconds that nobody came to ride. */
static void add_unridden(struct rehearsal *result, const struct ride *ride)
{
    uint32_t step_ms = ride->step_ms;

    result->second_count = result->ridden_count;
    for (size_t i = ride->step; i < result->plan->step_count; i++, step_ms = 0)
        for (; step_ms < result->plan->steps[i].duration_ms; step_ms += 1000)
            if (result->second_count < REHEARSAL_SECONDS_MAX)
                result->seconds[result->second_count++] =
                    asked_at(&result->plan->steps[i], step_ms);
}

static bool is_missed(int64_t sum_w, int64_t low_sum_w)
{
    return sum_w * 100 < low_sum_w * (100 - MISS_PCT);
}

static void judge_sample(struct run *run, const struct ride *ride, int32_t power_w)
{
    const int32_t low_w = ride_targets(ride).power_w.low;
    const bool is_below = is_missed(power_w, low_w);

    if (is_below && !run->is_below)
        run->below_at = place_of(ride);
    run->is_below = is_below;
    run->is_lowered = run->is_lowered || ride->verdict.lowered;
    run->step_sum_w += power_w;
    run->step_low_sum_w += low_w;
}

static void take_sample(struct run *run, const struct ride *ride, const struct telemetry *sample)
{
    if (sample->has & HAS_HEART) {
        run->heart_sum_bpm += sample->heart_bpm;
        run->heart_count++;
    }
    if (!(sample->has & HAS_POWER))
        return;
    spend(run, ride, sample->power_w);
    run->power_sum_w += sample->power_w;
    run->power_count++;
    if (ride->step_ms >= SETTLE_MS)
        judge_sample(run, ride, sample->power_w);
}

static void judge_step(struct run *run)
{
    const struct plan_step *step = &run->result->plan->steps[run->step];

    if (step->duration_ms >= SETTLE_MS + JUDGED_MIN_MS &&
        is_missed(run->step_sum_w, run->step_low_sum_w))
        note_trouble(run->result, run->is_lowered ? REHEARSAL_LOWERED : REHEARSAL_MISSED,
                     run->below_at);
    run->step_sum_w = run->step_low_sum_w = 0;
    run->is_lowered = run->is_below = false;
}

static void take_effect(struct run *run, const struct ride *ride, const struct effect *effect)
{
    switch (effect->kind) {
    case EFFECT_SAMPLE:
        if (ride->phase == PHASE_RIDING)
            take_sample(run, ride, &effect->sample);
        break;
    case EFFECT_STEP:
        judge_step(run);
        run->step = (size_t)effect->step.index;
        break;
    case EFFECT_HOLD:
        run->has_last = false;
        if (effect->hold.hold == HOLD_CADENCE)
            note_trouble(run->result, REHEARSAL_LEGS, place_of(ride));
        break;
    case EFFECT_CUT_OFF: note_trouble(run->result, REHEARSAL_CUT_OFF, place_of(ride)); break;
    case EFFECT_COMMAND:
    case EFFECT_PHASE:
    case EFFECT_SUMMARY:
    case EFFECT_SHIFT:
    case EFFECT_CAUTION:
    case EFFECT_KNOB:
    case EFFECT_KIND_COUNT: break;
    }
}

/* What is ridden out after the plan is not part of it. */
static void end_plan(struct run *run, const struct ride *ride)
{
    struct summary *summary = &run->result->summary;

    judge_step(run);
    add_unridden(run->result, ride);
    totals_summary(&ride->totals, summary);
    summary->end = ride->end;
    summary->reason = ride->reason;
    summary->cut_off = ride->safety.cut_off;
    summary->duration_ms = ride->block_ms;
}

static bool on_effects(void *user, const struct ride *ride, const struct effects *effects)
{
    struct run *run = user;
    struct rehearsal *result = run->result;

    for (size_t i = 0; i < effects->count; i++)
        take_effect(run, ride, &effects->list[i]);
    while (result->ridden_count < ride->block_ms / 1000)
        end_second(run, ride);
    if (ride->phase < PHASE_EASY)
        return true;
    end_plan(run, ride);
    return false;
}

enum result rehearse(const struct plan *plan, const struct rider *rider, struct rehearsal *ret)
{
    static struct ride_setup setup;
    const struct virtual_rider_config config = rehearse_rider(rider);
    const struct virtual_machine_config machine = strong_machine();
    struct run run = {.result = ret};
    const struct stage_watch watch = {.effects = on_effects, .user = &run};

    assert(rider->critical_power_w > 0 && rider->w_prime_j > 0);
    if (plan_duration_ms(plan) > REHEARSAL_SECONDS_MAX * 1000)
        return RESULT_RANGE;
    run.reserve = reserve_full(rider->critical_power_w, rider->w_prime_j,
                               reserve_tau_s(rests_below_w(plan, rider->critical_power_w)));
    memset(ret, 0, sizeof *ret);
    ret->plan = plan;
    ret->critical_power_w = rider->critical_power_w;
    ret->w_prime_j = rider->w_prime_j;
    heart_bounds(rider, &ret->heart_max_bpm, &ret->heart_limit_bpm);
    ret->asked.left_j = ret->ridden.left_j = ret->slow.left_j = rider->w_prime_j;
    reckon_asked(ret, run.reserve);
    setup = (struct ride_setup){.plan = *plan, .rider = *rider, .counts_recovery = true};
    setup.rider.is_new = false;
    return stage_ride(&setup, &machine, &config, 1, &watch);
}

void rehearse_leave_out_the_floor(struct plan *plan)
{
    const size_t count = plan_floor_steps(plan);

    plan->step_count -= count;
    memmove(plan->steps, plan->steps + count, plan->step_count * sizeof plan->steps[0]);
}

enum result rehearse_plan(const struct profile *profile, const struct fit_wish *wish,
                          const struct rider *rider, struct fit *ret_fit, struct rider *ret_rider,
                          struct plan *ret_plan)
{
    struct profile fitted;
    struct rider complete = *rider;
    enum result result = profile_fit(profile, wish, &fitted, ret_fit);

    rehearse_complete(&complete);
    if (result == RESULT_OK)
        result = profile_plan(&fitted, &complete, ret_plan);
    if (result != RESULT_OK)
        return result;
    rehearse_leave_out_the_floor(ret_plan);
    *ret_rider = complete;
    return RESULT_OK;
}
