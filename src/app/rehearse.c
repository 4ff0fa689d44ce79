#include "rehearse.h"

#include <assert.h>
#include <string.h>

#include "io/virtual_config.h"
#include "rehearse_asked.h"
#include "rehearse_turns.h"
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
    struct turn_watch turns;
    struct brake_curve curve; /* as it was known at the end, and where the knob was left */
    struct knob_place place;
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

void rehearse_complete(struct rider *rider, bool is_virtual)
{
    ride_plan_complete_rider(rider, is_virtual);
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
    rehearse_note_low(&result->ridden, run->reserve.balance_j, place_of(ride));
    run->has_last = true;
    run->last_t_ms = ride->t_ms;
    run->last_power_w = power_w;
}

static struct rehearsal_second asked_at(const struct plan_step *step, uint32_t step_ms)
{
    return (struct rehearsal_second){.target_w = (int16_t)rehearse_middle_w(step, step_ms),
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

/* What misses the range on a knob may be its numbers: then nobody is told to turn faster. */
static bool is_of_the_legs(const struct run *run)
{
    return run->result->brake != REHEARSAL_BY_HAND || run->turns.is_slow;
}

static void judge_step(struct run *run)
{
    const struct plan_step *step = &run->result->plan->steps[run->step];

    if (step->duration_ms >= SETTLE_MS + JUDGED_MIN_MS &&
        is_missed(run->step_sum_w, run->step_low_sum_w) && is_of_the_legs(run))
        rehearse_note_trouble(run->result, run->is_lowered ? REHEARSAL_LOWERED : REHEARSAL_MISSED,
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
            rehearse_note_trouble(run->result, REHEARSAL_LEGS, place_of(ride));
        break;
    case EFFECT_CUT_OFF:
        rehearse_note_trouble(run->result, REHEARSAL_CUT_OFF, place_of(ride));
        break;
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
    turn_watch_end(&run->turns, ride);
    run->curve = brake_model_curve(&ride->power_hold.brake);
    run->place = ride->knob.place;
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

    for (size_t i = 0; i < effects->count; i++) {
        take_effect(run, ride, &effects->list[i]);
        turn_watch_effect(&run->turns, ride, &effects->list[i]);
    }
    while (result->ridden_count < ride->block_ms / 1000)
        end_second(run, ride);
    if (ride->phase < PHASE_EASY)
        return true;
    end_plan(run, ride);
    return false;
}

static enum rehearsal_brake brake_of(const struct virtual_machine_config *machine)
{
    if (machine == NULL || machine->takes_power)
        return REHEARSAL_WATTS;
    return machine->takes_level ? REHEARSAL_LEVELS : REHEARSAL_BY_HAND;
}

static void begin(const struct plan *plan, const struct rider *rider, enum rehearsal_brake brake,
                  struct run *run)
{
    struct rehearsal *result = run->result;

    memset(result, 0, sizeof *result);
    result->plan = plan;
    result->brake = brake;
    result->critical_power_w = rider->critical_power_w;
    result->w_prime_j = rider->w_prime_j;
    heart_bounds(rider, &result->heart_max_bpm, &result->heart_limit_bpm);
    result->asked.left_j = result->ridden.left_j = result->slow.left_j = rider->w_prime_j;
    *run = (struct run){.result = result, .turns.result = &result->turns};
    run->reserve =
        reserve_full(rider->critical_power_w, rider->w_prime_j,
                     reserve_tau_s(rehearse_rests_below_w(plan, rider->critical_power_w)));
    rehearse_reckon_asked(result, run->reserve);
}

enum result rehearse(const struct plan *plan, const struct rider *rider,
                     const struct virtual_machine_config *machine, struct rehearsal *ret)
{
    static struct ride_setup setup;
    const struct virtual_rider_config config = rehearse_rider(rider);
    const struct virtual_machine_config bike = machine != NULL ? *machine : strong_machine();
    const enum rehearsal_brake brake = brake_of(machine);
    struct run run = {.result = ret};
    const struct stage_watch watch = {.effects = on_effects, .user = &run};

    assert(rider->critical_power_w > 0 && rider->w_prime_j > 0);
    if (plan_duration_ms(plan) > REHEARSAL_SECONDS_MAX * 1000)
        return RESULT_RANGE;
    setup = (struct ride_setup){.plan = *plan,
                                .rider = *rider,
                                .counts_recovery = true,
                                .holds_power = brake == REHEARSAL_LEVELS,
                                .tells_knob = brake == REHEARSAL_BY_HAND};
    setup.rider.is_new = false;
    begin(plan, rider, brake, &run);
    const enum result result = stage_ride(&setup, &bike, &config, 1, &watch);
    if (result != RESULT_OK || brake == REHEARSAL_WATTS)
        return result;
    setup.brake = run.curve;
    setup.knob = run.place;
    begin(plan, rider, brake, &run);
    return stage_ride(&setup, &bike, &config, 1, &watch);
}

void rehearse_leave_out_the_floor(struct plan *plan)
{
    const size_t count = plan_floor_steps(plan);

    plan->step_count -= count;
    memmove(plan->steps, plan->steps + count, plan->step_count * sizeof plan->steps[0]);
}

enum result rehearse_plan(const struct profile *profile, const struct fit_wish *wish,
                          const struct rider *rider, struct fit *ret_fit, struct plan *ret_plan)
{
    struct profile fitted;
    enum result result = profile_fit(profile, wish, &fitted, ret_fit);

    if (result == RESULT_OK)
        result = profile_plan(&fitted, rider, ret_plan);
    if (result == RESULT_OK)
        rehearse_leave_out_the_floor(ret_plan);
    return result;
}
