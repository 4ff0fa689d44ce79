/*
 * A ride in any state that it can be in, and in more: all that each number can be, whatever the
 * others are.
 */
#ifndef PROVE_ANY_RIDE_STATE_H
#define PROVE_ANY_RIDE_STATE_H

#include "any_ride.h"

#define MANY_MEANS   1e15
#define MANY_SQUARES 1e30
#define MANY_SUM     1000000000000000000
#define MANY_MM      (INT32_MAX * INT64_C(1000))
/* More events than a ride can hear: at a thousand a second they take eleven days and a half, and
 * the longest plan takes ten and a half, after which ride/safety ends it. Sums are of as many, or
 * more. */
enum { MANY = 1000000000, MANY_W = 130000 };

static inline struct reading any_reading(int least, int most)
{
    return (struct reading){any_bool(), any_int(least, most), any_u64()};
}

static inline struct reading any_power(void)
{
    return any_reading(-50, 2500);
}

static inline struct reading any_cadence(void)
{
    return any_reading(0, 250);
}

static inline struct heart_filter any_filter(void)
{
    return (struct heart_filter){any_bool(), any_u64(), (uint32_t)any_int(0, 240)};
}

/* ---- the setup ---- */

static inline void any_plan(struct plan *plan)
{
    plan->step_count = (size_t)any_int(1, PLAN_STEPS_MAX);
    const size_t at = (size_t)any_int(0, PLAN_STEPS_MAX - 1);
    struct plan_step *step = &plan->steps[at];
    step->kind = (enum step_kind)any_int(0, STEP_KIND_COUNT - 1);
    step->targets = any_targets();
    step->ramp_to = any_targets();
    step->end = (struct step_end){(enum step_until)any_int(0, UNTIL_HEART), any_int(0, INT32_MAX)};
    step->reps.reps = (uint16_t)any_int(0, PLAN_REPS_MAX);
    step->reps.tempo = (uint16_t)any_int(0, UINT16_MAX);
    //@ loop unroll PLAN_STEPS_MAX;
    for (unsigned i = 0; i < PLAN_STEPS_MAX; i++)
        plan->steps[i].duration_ms = (uint32_t)any_int(PLAN_STEP_MIN_MS, PLAN_STEP_MAX_MS);
}

static inline void any_setup(struct ride_setup *any)
{
    any_plan(&any->plan);
    any->rider.mass_kg = Frama_C_double_interval(0.0, 7000.0);
    MAKE_UNKNOWN(any->rider.age_years);
    MAKE_UNKNOWN(any->rider.heart_max_bpm);
    MAKE_UNKNOWN(any->rider.heart_limit_bpm);
    MAKE_UNKNOWN(any->rider.critical_power_w);
    MAKE_UNKNOWN(any->rider.power_limit_w);
    MAKE_UNKNOWN(any->rider.cadence_limit_rpm);
    any->rider.is_new = any_bool();
    any->rider.heart_slowed = any_bool();
    any->strap_expected = any_bool();
    any->counts_recovery = any_bool();
    any->tells_sources = any_bool();
    any->is_watched = any_bool();
    any->compares_powers = any_bool();
    any->holds_power = any_bool();
    any->tells_knob = any_bool();
    any->knob = (struct knob_place){any_bool(), any_int(0, KNOB_TOP_MAX), any_int(0, KNOB_TOP_MAX)};
    MAKE_UNKNOWN(any->brake);
}

/* ---- the parts ---- */

static inline void any_sensors(struct sensors *sensors)
{
    sensors->power_w = any_power();
    sensors->cadence_rpm = any_cadence();
    sensors->distance_m = any_reading(INT32_MIN, INT32_MAX);
    sensors->data = any_reading(0, 0);
    sensors->machine_power_w = any_power();
    sensors->machine_cadence_rpm = any_cadence();
    sensors->sensor_power_w = any_power();
    sensors->sensor_cadence_rpm = any_cadence();
    sensors->crank_rpm = any_cadence();
    sensors->machine_has_power = any_bool();
    sensors->sensor_has_cadence = any_bool();
    sensors->power_from = (enum link_source)any_int(0, LINK_CADENCE);
    sensors->cadence_from = (enum link_source)any_int(0, LINK_CADENCE);
    sensors->fell_silent = any_u32();
    sensors->strap_bpm = any_reading(0, 240);
    sensors->machine_bpm = any_reading(0, 240);
    sensors->strap_filter = any_filter();
    sensors->machine_filter = any_filter();
    for (unsigned i = 0; i < HEART_READINGS_MAX; i++) {
        sensors->window[i].heart_bpm = any_int(0, 240);
        sensors->window[i].t_ms = any_u64();
    }
    sensors->window_next = (uint32_t)any_int(0, HEART_READINGS_MAX - 1);
    sensors->window_count = (uint32_t)any_int(0, HEART_READINGS_MAX);
    sensors->doubtful_in_a_row = any_u32();
}

static inline struct pending any_pending(void)
{
    return (struct pending){any_bool(), any_bool(), any_u64(), any_u32()};
}

static inline struct load any_allowed_load(void)
{
    return (struct load){(enum load_kind)any_int(0, LOAD_LEVEL), any_int(0, 100000)};
}

static inline void any_control(struct control *control)
{
    *control = (struct control){
        .state = (enum control_state)any_int(0, CONTROL_HELD),
        .fault = (enum control_fault)any_int(0, CONTROL_LOST),
        .machine = any_machine(),
        .is_used = any_bool(),
        .is_over = any_bool(),
        .is_ending = any_bool(),
        .start_due = any_bool(),
        .load_refused = any_bool(),
        .asked = any_u32(),
        .refusals = any_u32(),
        .sent = any_load(),
        .accepted = any_load(),
        .has_sent = any_bool(),
        .is_loaded = any_bool(),
        .left_loaded = any_bool(),
        .raised_t_ms = any_u64(),
        .stop_sent = any_bool(),
        .stop_answered = any_bool(),
        .asking = any_pending(),
        .loading = any_pending(),
        .stopping = any_pending(),
    };
}

static inline void any_brake(struct brake_model *brake)
{
    brake->terms_w[0] = Frama_C_double_interval(0, 150);
    brake->terms_w[1] = Frama_C_double_interval(0, 4000);
    brake->terms_w[2] = Frama_C_double_interval(0, 4000);
    brake->terms_w[3] = Frama_C_double_interval(-1600, 16000);
    brake->ridden_share = Frama_C_double_interval(-1, 1);
    for (unsigned i = 0; i < BRAKE_TERMS; i++)
        for (unsigned j = 0; j < BRAKE_TERMS; j++)
            brake->variance_w2[i][j] = Frama_C_double_interval(-1e8, 1e8);
}

static inline void any_power_hold(struct power_hold *hold)
{
    hold->levels = (struct hold_levels){any_int(0, HOLD_LEVEL_MAX), any_int(0, HOLD_LEVEL_MAX),
                                        any_int(0, HOLD_LEVEL_MAX)};
    any_brake(&hold->brake);
    any_brake(&hold->before_same);
    hold->most_w = any_int(0, 800);
    hold->target_w = (struct target_range){any_bool(), any_int(-80, MANY_W), any_int(0, MANY_W)};
    hold->level_tenths = any_int(-2 * HOLD_LEVEL_MAX, HOLD_LEVEL_MAX);
    hold->chosen_t_ms = any_u64();
    hold->in_force_tenths = any_int(0, HOLD_LEVEL_MAX);
    hold->in_force_t_ms = any_u64();
    hold->has_fallen = any_bool();
    hold->learned_t_ms = any_u64();
    hold->same_power_w = any_int(-50, 2500);
    hold->same_tenths = any_int(0, HOLD_LEVEL_MAX);
    for (unsigned i = 0; i < POWER_HOLD_READINGS; i++)
        hold->readings[i] = (struct hold_reading){any_u64(), any_int(-50, 2500), any_int(0, 250)};
    hold->next = (uint32_t)any_int(0, POWER_HOLD_READINGS - 1);
    hold->count = (uint32_t)any_int(0, POWER_HOLD_READINGS);
}

static inline enum knob_turn any_turn(void)
{
    return (enum knob_turn)any_int(0, KNOB_TURN_COUNT - 1);
}

/* Of a scale as long as that of levels. */
static inline int any_number(void)
{
    return any_int(-1, HOLD_LEVEL_MAX / 10 - 1);
}

static inline void any_knob(struct knob *knob)
{
    for (unsigned i = 0; i < KNOB_BINS; i++)
        knob->bins[i] = (struct knob_bin){any_u64(), any_int(0, INT16_MAX),
                                          any_int(-50 * INT16_MAX, 2500 * INT16_MAX),
                                          any_int(0, INT16_MAX), any_int(0, 250 * INT16_MAX)};
    knob->turn = any_turn();
    knob->off_w = any_int(-MANY_W, MANY_W);
    knob->told_t_ms = any_u64();
    knob->power_then_w = any_int(-2 * MANY_W, 2 * MANY_W);
    knob->settled_t_ms = any_u64();
    knob->announced = any_turn();
    knob->due = any_turn();
    knob->place = (struct knob_place){any_bool(), any_number(), any_int(0, KNOB_TOP_MAX)};
    knob->is_told = any_bool();
    knob->is_assumed = any_bool();
    knob->has_to = any_bool();
    knob->to = any_number();
    knob->is_fresh = any_bool();
    knob->is_met = any_bool();
    knob->is_nearest = any_bool();
}

static inline void any_safety(struct safety *safety)
{
    safety->cut_off = (enum cut_off)any_int(0, CUT_OFF_TIME);
    safety->load = any_allowed_load();
    safety->climbs = any_bool();
    safety->climb_t_ms = any_u64();
    safety->power_over = (struct stretch){any_bool(), any_u64()};
    safety->cadence_over = (struct stretch){any_bool(), any_u64()};
    safety->cadence_low = (struct stretch){any_bool(), any_u64()};
    safety->legs_still = (struct stretch){any_bool(), any_u64()};
    safety->collapsed = any_bool();
}

static inline int64_t any_sum(int64_t least, int64_t most)
{
    return Frama_C_long_interval(least, most);
}

static inline void any_work(struct work *work)
{
    work->begun = any_bool();
    work->t_ms = any_u64();
    work->power_w = any_int(-50, 2500);
    work->half_mj = any_sum(-MANY_SUM, MANY_SUM);
    work->known_ms = (uint64_t)any_sum(0, MANY_SUM);
}

static inline void any_totals(struct totals *totals)
{
    any_work(&totals->work);
    any_work(&totals->work_steps);
    struct best_powers *best = &totals->best;
    best->begun = any_bool();
    best->t_ms = any_u64();
    best->power_w = any_int(-50, 2500);
    best->half_mj = any_sum(-MANY_SUM, MANY_SUM);
    best->stretch_ms = (uint64_t)any_sum(0, MANY_SUM);
    for (unsigned i = 0; i <= BEST_LONGEST_S; i++)
        best->half_mj_at[i] = any_sum(-MANY_SUM, MANY_SUM);
    for (unsigned i = 0; i < BEST_WINDOW_COUNT; i++) {
        best->known[i] = any_bool();
        best->best_half_mj[i] = any_sum(-MANY_SUM, MANY_SUM);
    }
    totals->max_power_w = any_int(0, 2500);
    totals->machine_counts = any_bool();
    totals->has_machine_last = any_bool();
    totals->machine_last_m = any_i32();
    totals->machine_m = any_int(0, MANY);
    totals->road_mm = any_sum(0, MANY_MM);
    totals->road_t_ms = any_u64();
    totals->road_mm_s = any_int(0, 40000);
    totals->has_road = any_bool();
    totals->heart_sum_bpm = any_sum(0, INT64_C(240) * MANY);
    totals->heart_count = any_int(0, MANY);
    totals->heart_max_bpm = any_int(0, 240);
    totals->recovery =
        (struct recovery){any_bool(), any_bool(), any_u64(), any_int(0, 240), any_int(-240, 240)};
    for (unsigned i = 0; i < TOTALS_WINDOW_MAX; i++)
        totals->window[i] =
            (struct totals_sample){any_u64(), any_u32(), any_int(-50, 2500), any_int(0, 250)};
    totals->window_next = (uint32_t)any_int(0, TOTALS_WINDOW_MAX - 1);
    totals->window_count = (uint32_t)any_int(0, TOTALS_WINDOW_MAX);
    totals->work_s = any_int(0, MANY);
    totals->in_range_s = any_int(0, MANY);
    totals->power_samples = any_int(0, MANY);
    totals->sensor_samples = any_int(0, MANY);
    struct two_powers *two = &totals->powers;
    two->has_window = any_bool();
    two->begin_t_ms = any_u64();
    two->last_t_ms = any_u64();
    two->lowest_rpm = any_int(0, 250);
    two->highest_rpm = any_int(0, 250);
    two->window_machine_w = any_sum(INT64_C(-50) * MANY, INT64_C(2500) * MANY);
    two->window_sensor_w = any_sum(INT64_C(-50) * MANY, INT64_C(2500) * MANY);
    two->pairs = any_int(0, MANY);
    two->windows = any_u32();
    two->machine_w = Frama_C_double_interval(-MANY_MEANS, MANY_MEANS);
    two->sensor_w = Frama_C_double_interval(-MANY_MEANS, MANY_MEANS);
    two->machine_square = Frama_C_double_interval(-MANY_SQUARES, MANY_SQUARES);
    two->sensor_square = Frama_C_double_interval(-MANY_SQUARES, MANY_SQUARES);
    two->product = Frama_C_double_interval(-MANY_SQUARES, MANY_SQUARES);
}

static inline struct watch_mean any_mean(void)
{
    return (struct watch_mean){any_sum(-MANY_SUM, MANY_SUM), any_u32()};
}

static inline struct watch_still any_still(int most, int other_least, int other_most)
{
    return (struct watch_still){any_int(-50, most), any_u64(), any_int(other_least, other_most),
                                any_int(other_least, other_most)};
}

static inline struct watch_span any_span(int least, int most)
{
    return (struct watch_span){any_int(least, most), any_int(least, most)};
}

static inline void any_apart(struct watch_apart *apart)
{
    apart->has_window = any_bool();
    apart->machine = any_mean();
    apart->sensor = any_mean();
    apart->machine_w = any_span(0, 2500);
    apart->sensor_w = any_span(0, 2500);
    apart->cadence_rpm = any_span(0, 250);
    apart->windows = any_u32();
    apart->sensor_is_higher = any_bool();
    apart->all_machine_w = any_span(0, 2500);
    apart->all_sensor_w = any_span(0, 2500);
}

static inline void any_watch(struct watch *watch)
{
    watch->begun = any_bool();
    watch->has_worked = any_bool();
    watch->in_work = any_bool();
    watch->has_risen = any_bool();
    watch->t_ms = any_u64();
    watch->before = any_mean();
    watch->since = any_mean();
    watch->after = any_mean();
    watch->rise_from_bpm = any_int(0, 240);
    watch->falls = any_bool();
    watch->fall_t_ms = any_u64();
    watch->fall_from_bpm = any_int(0, 240);
    watch->heart = any_still(240, -50, 2500);
    watch->power = any_still(2500, 0, 250);
    watch->powerless_ms = any_u32();
    watch->twofold_ms = any_u32();
    any_apart(&watch->apart);
}

/* ---- the ride ---- */

static inline void any_ride(struct ride *ride)
{
    const struct machine machine = any_machine();
    limits_set(&ride->setup.rider, any_bool() ? &machine : NULL, any_u32(), &ride->limits);
    ride->phase = (enum phase)any_int(0, PHASE_ENDED);
    ride->hold = (enum hold)any_int(0, HOLD_CLOCK_JUMP);
    ride->end = (enum end)any_int(0, END_CUT_OFF);
    ride->reason = (enum end_reason)any_int(0, REASON_UNGUARDED);
    ride->t_ms = any_u64();
    ride->phase_t_ms = any_u64();
    ride->start_t_ms = any_u64();
    ride->block_ms = any_u32();
    ride->step = (size_t)any_int(0, PLAN_STEPS_MAX - 1);
    ride->step_ms = any_u32();
    ride->step_end_ms = (uint32_t)any_int(0, PLAN_STEP_MAX_MS);
    ride->step_work_j = any_sum(-MANY_SUM / 1000, MANY_SUM / 1000);
    ride->step_distance_m = any_int(0, INT32_MAX);
    ride->floor_lead_ms = (uint32_t)any_int(0, FLOOR_LEAD_MS);
    ride->hold_t_ms = any_u64();
    ride->shift_pct = any_int(-50, 20);
    ride->skipped = any_int(0, MANY);
    ride->must_rest = any_bool();
    ride->safety_key = any_bool();
    ride->heart_was_known = any_bool();
    ride->is_linked = any_bool();
    ride->machine_known = any_bool();
    ride->is_regaining = any_bool();
    ride->lost_t_ms = any_u64();
    any_sensors(&ride->sensors);
    any_control(&ride->control);
    any_power_hold(&ride->power_hold);
    any_knob(&ride->knob);
    ride->felt.easy = any_int(0, KNOB_TOP_MAX);
    ride->felt.raised_t_ms = any_u64();
    ride->knob_scale.top = any_int(0, KNOB_TOP_MAX);
    ride->knob_scale.t_ms = any_u64();
    any_brake(&ride->knob_scale.brake);
    any_safety(&ride->safety);
    ride->verdict = (struct safety_verdict){
        any_allowed_load(), ride->safety.cut_off, (enum hold)any_int(0, HOLD_CLOCK_JUMP),
        any_bool(),         any_bool(),           any_bool()};
    any_totals(&ride->totals);
    any_watch(&ride->watch);
    for (unsigned i = 0; i < CAUTION_COUNT; i++)
        ride->caution_t_ms[i] = any_u64();
}

#endif
