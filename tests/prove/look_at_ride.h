/* That a ride is in one of the states of any_ride_state.h. */
#ifndef PROVE_LOOK_AT_RIDE_H
#define PROVE_LOOK_AT_RIDE_H

#include "any_ride_state.h"

static inline void look_at_reading(const struct reading *reading, int least, int most)
{
    /*@ assert least <= reading->value <= most; */
}

static inline void look_at_sensors(const struct sensors *sensors)
{
    look_at_reading(&sensors->power_w, -50, 2500);
    look_at_reading(&sensors->machine_power_w, -50, 2500);
    look_at_reading(&sensors->sensor_power_w, -50, 2500);
    look_at_reading(&sensors->cadence_rpm, 0, 250);
    look_at_reading(&sensors->machine_cadence_rpm, 0, 250);
    look_at_reading(&sensors->sensor_cadence_rpm, 0, 250);
    look_at_reading(&sensors->crank_rpm, 0, 250);
    look_at_reading(&sensors->strap_bpm, 0, 240);
    look_at_reading(&sensors->machine_bpm, 0, 240);
    look_at_reading(&sensors->data, 0, 0);
    /*@ assert sensors->power_from <= LINK_CADENCE && sensors->cadence_from <= LINK_CADENCE; */
    /*@ assert sensors->strap_filter.heart_bpm <= 240; */
    /*@ assert sensors->machine_filter.heart_bpm <= 240; */
    for (unsigned i = 0; i < HEART_READINGS_MAX; i++) {
        /*@ assert 0 <= sensors->window[i].heart_bpm <= 240; */
    }
    /*@ assert sensors->window_next < HEART_READINGS_MAX; */
    /*@ assert sensors->window_count <= HEART_READINGS_MAX; */
}

static inline void look_at_load(const struct load *load)
{
    /*@ assert load->kind <= LOAD_LEVEL && 0 <= load->value <= 100000; */
}

static inline void look_at_control(const struct control *control)
{
    /*@ assert control->state <= CONTROL_HELD && control->fault <= CONTROL_LOST; */
    /*@ assert control->accepted.kind <= LOAD_LEVEL && control->sent.kind <= LOAD_LEVEL; */
}

static inline void look_at_brake(const struct brake_model *brake)
{
    /*@ assert 0 <= brake->terms_w[0] <= 150 && 0 <= brake->terms_w[1] <= 4000; */
    /*@ assert 0 <= brake->terms_w[2] <= 4000 && -1600 <= brake->terms_w[3] <= 16000; */
    /*@ assert -1 <= brake->ridden_share <= 1; */
    for (unsigned i = 0; i < BRAKE_TERMS; i++)
        for (unsigned j = 0; j < BRAKE_TERMS; j++) {
            /*@ assert -1e8 <= brake->variance_w2[i][j] <= 1e8; */
        }
}

static inline void look_at_power_hold(const struct power_hold *hold)
{
    /*@ assert 0 <= hold->levels.minimum <= HOLD_LEVEL_MAX; */
    /*@ assert 0 <= hold->levels.maximum <= HOLD_LEVEL_MAX; */
    /*@ assert 0 <= hold->levels.step <= HOLD_LEVEL_MAX; */
    look_at_brake(&hold->brake);
    look_at_brake(&hold->before_same);
    /*@ assert 0 <= hold->most_w <= 800; */
    /*@ assert -80 <= hold->target_w.low <= MANY_W && 0 <= hold->target_w.high <= MANY_W; */
    /*@ assert -2 * HOLD_LEVEL_MAX <= hold->level_tenths <= HOLD_LEVEL_MAX; */
    /*@ assert 0 <= hold->in_force_tenths <= HOLD_LEVEL_MAX; */
    /*@ assert 0 <= hold->same_tenths <= HOLD_LEVEL_MAX; */
    /*@ assert -50 <= hold->same_power_w <= 2500; */
    for (unsigned i = 0; i < POWER_HOLD_READINGS; i++) {
        /*@ assert -50 <= hold->readings[i].power_w <= 2500; */
        /*@ assert 0 <= hold->readings[i].cadence_rpm <= 250; */
    }
    /*@ assert hold->next < POWER_HOLD_READINGS && hold->count <= POWER_HOLD_READINGS; */
}

static inline void look_at_knob(const struct knob *knob)
{
    for (unsigned i = 0; i < KNOB_BINS; i++) {
        /*@ assert 0 <= knob->bins[i].count <= INT16_MAX; */
        /*@ assert -50 * INT16_MAX <= knob->bins[i].power_sum_w <= 2500 * INT16_MAX; */
        /*@ assert 0 <= knob->bins[i].cadence_count <= INT16_MAX; */
        /*@ assert 0 <= knob->bins[i].cadence_sum_rpm <= 250 * INT16_MAX; */
    }
    /*@ assert knob->turn < KNOB_TURN_COUNT && knob->announced < KNOB_TURN_COUNT; */
    /*@ assert knob->due < KNOB_TURN_COUNT; */
    /*@ assert -MANY_W <= knob->off_w <= MANY_W; */
    /*@ assert -2 * MANY_W <= knob->power_then_w <= 2 * MANY_W; */
    /*@ assert -1 <= knob->place.position <= HOLD_LEVEL_MAX / 10 - 1; */
    /*@ assert 0 <= knob->place.top <= KNOB_TOP_MAX; */
    /*@ assert -1 <= knob->to <= HOLD_LEVEL_MAX / 10 - 1; */
}

static inline void look_at_sum(int64_t sum)
{
    /*@ assert -1.1 * MANY_SUM <= sum <= 1.1 * MANY_SUM; */
}

static inline void look_at_best(const struct best_powers *best)
{
    look_at_sum(best->half_mj);
    for (unsigned i = 0; i <= BEST_LONGEST_S; i++)
        look_at_sum(best->half_mj_at[i]);
    for (unsigned i = 0; i < BEST_WINDOW_COUNT; i++) {
        /*@ assert -MANY_SUM <= best->best_half_mj[i] <= MANY_SUM; */
    }
    /*@ assert -50 <= best->power_w <= 2500; */
}

/* What only adds up has grown by no more than one event's worth: see MANY. */
static inline void look_at_totals(const struct totals *totals)
{
    const struct two_powers *two = &totals->powers;

    /*@ assert -50 <= totals->work.power_w <= 2500 && -50 <= totals->work_steps.power_w <= 2500; */
    look_at_sum(totals->work.half_mj);
    look_at_sum(totals->work_steps.half_mj);
    look_at_best(&totals->best);
    /*@ assert 0 <= totals->max_power_w <= 2500; */
    /*@ assert 0 <= totals->road_mm_s <= 40000; */
    /*@ assert 0 <= totals->machine_m <= MANY + 100; */
    /*@ assert 0 <= totals->road_mm <= MANY_MM + 1000000; */
    /*@ assert 0 <= totals->heart_sum_bpm <= 240 * (MANY + 1); */
    /*@ assert 0 <= totals->heart_count <= MANY + 1 && 0 <= totals->heart_max_bpm <= 240; */
    /*@ assert 0 <= totals->recovery.from_bpm <= 240; */
    /*@ assert -240 <= totals->recovery.fall_bpm <= 240; */
    for (unsigned i = 0; i < TOTALS_WINDOW_MAX; i++) {
        /*@ assert -50 <= totals->window[i].power_w <= 2500; */
        /*@ assert 0 <= totals->window[i].cadence_rpm <= 250; */
    }
    /*@ assert totals->window_next < TOTALS_WINDOW_MAX; */
    /*@ assert totals->window_count <= TOTALS_WINDOW_MAX; */
    /*@ assert 0 <= totals->work_s <= MANY + 50 && 0 <= totals->in_range_s <= MANY + 50; */
    /*@ assert 0 <= totals->power_samples <= MANY + 1; */
    /*@ assert 0 <= totals->sensor_samples <= MANY + 1; */
    /*@ assert 0 <= two->lowest_rpm <= 250 && 0 <= two->highest_rpm <= 250; */
    /*@ assert 0 <= two->pairs <= MANY + 1; */
    /*@ assert -50 * (MANY + 1) <= two->window_machine_w <= 2500 * (MANY + 1); */
    /*@ assert -50 * (MANY + 1) <= two->window_sensor_w <= 2500 * (MANY + 1); */
    /*@ assert -1.1 * MANY_MEANS <= two->machine_w <= 1.1 * MANY_MEANS; */
    /*@ assert -1.1 * MANY_MEANS <= two->sensor_w <= 1.1 * MANY_MEANS; */
    /*@ assert -1.1 * MANY_SQUARES <= two->machine_square <= 1.1 * MANY_SQUARES; */
    /*@ assert -1.1 * MANY_SQUARES <= two->sensor_square <= 1.1 * MANY_SQUARES; */
    /*@ assert -1.1 * MANY_SQUARES <= two->product <= 1.1 * MANY_SQUARES; */
}

static inline void look_at_span(const struct watch_span *span, int most)
{
    /*@ assert 0 <= span->low <= most && 0 <= span->high <= most; */
}

static inline void look_at_apart(const struct watch_apart *apart)
{
    look_at_sum(apart->machine.sum_w_ms);
    look_at_sum(apart->sensor.sum_w_ms);
    look_at_span(&apart->machine_w, 2500);
    look_at_span(&apart->sensor_w, 2500);
    look_at_span(&apart->cadence_rpm, 250);
    look_at_span(&apart->all_machine_w, 2500);
    look_at_span(&apart->all_sensor_w, 2500);
}

static inline void look_at_watch(const struct watch *watch)
{
    look_at_sum(watch->before.sum_w_ms);
    look_at_sum(watch->since.sum_w_ms);
    look_at_sum(watch->after.sum_w_ms);
    look_at_apart(&watch->apart);
    /*@ assert 0 <= watch->rise_from_bpm <= 240 && 0 <= watch->fall_from_bpm <= 240; */
    /*@ assert -50 <= watch->heart.low <= 2500 && -50 <= watch->heart.high <= 2500; */
    /*@ assert 0 <= watch->power.low <= 250 && 0 <= watch->power.high <= 250; */
}

static inline void look_at_ride(const struct ride *ride)
{
    /*@ assert ride->phase <= PHASE_ENDED && ride->hold <= HOLD_CLOCK_JUMP; */
    /*@ assert ride->end <= END_CUT_OFF && ride->reason <= REASON_UNGUARDED; */
    /*@ assert ride->step < PLAN_STEPS_MAX && ride->step_end_ms <= PLAN_STEP_MAX_MS; */
    /*@ assert 0 <= ride->skipped <= MANY + 1; */
    /*@ assert ride->floor_lead_ms <= FLOOR_LEAD_MS && -50 <= ride->shift_pct <= 20; */
    /*@ assert ride->safety.cut_off <= CUT_OFF_TIME && ride->verdict.hold <= HOLD_CLOCK_JUMP; */
    look_at_load(&ride->safety.load);
    look_at_load(&ride->verdict.load);
    look_at_sensors(&ride->sensors);
    look_at_control(&ride->control);
    look_at_power_hold(&ride->power_hold);
    look_at_knob(&ride->knob);
    /*@ assert 0 <= ride->felt.easy <= KNOB_TOP_MAX; */
    look_at_brake(&ride->knob_scale.brake);
    /*@ assert 0 <= ride->knob_scale.top <= KNOB_TOP_MAX; */
    look_at_totals(&ride->totals);
    look_at_watch(&ride->watch);
}

#endif
