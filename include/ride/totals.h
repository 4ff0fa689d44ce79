/*
 * What a block adds up to, in integers, sample by sample.
 *
 * Work is the area under the power samples, straight lines between them; a gap longer than
 * TOTALS_GAP_MS is not invented: no work, and its time does not count as known. Distance is the
 * machine's where it counts one, else that of the road model in body/road. A second of work is in
 * range when the mean of the samples of its last 3 s is in the power range of the step, or in the
 * cadence range where no power is asked for.
 */
#ifndef RIDE_TOTALS_H
#define RIDE_TOTALS_H

#include "body/best.h"
#include "body/energy.h"
#include "body/rider.h"
#include "body/two_powers.h"
#include "ride/effect.h"
#include "ride/plan.h"
#include "ride/recovery.h"

#define TOTALS_GAP_MS     3000u
#define TOTALS_WINDOW_MS  3000u
#define TOTALS_WINDOW_MAX 32u /* samples; ten a second for the window */

struct totals_sample {
    uint64_t t_ms;
    uint32_t has; /* enum telemetry_field */
    int32_t power_w, cadence_rpm;
};

struct totals {
    struct work work, work_steps; /* everything; the work steps alone */
    struct best_powers best;
    int32_t max_power_w;
    /* distance */
    bool machine_counts; /* has ever told a distance */
    bool has_machine_last;
    int32_t machine_last_m; /* its own count */
    int32_t machine_m;      /* what the block has of it */
    int64_t road_mm;
    uint64_t road_t_ms; /* of the last speed, and that speed */
    int32_t road_mm_s;
    bool has_road;
    /* heart */
    int64_t heart_sum_bpm;
    int32_t heart_count, heart_max_bpm;
    struct recovery recovery;
    /* in range */
    struct totals_sample window[TOTALS_WINDOW_MAX];
    uint32_t window_next, window_count;
    int32_t work_s, in_range_s;
    /* who measured the power of the samples, and how far apart the two are */
    int32_t power_samples, sensor_samples;
    struct two_powers powers;
};

/* A reading that counts. `step` is the one being ridden, or NULL. */
void totals_sample(struct totals *totals, const struct rider *rider, const struct plan_step *step,
                   uint64_t t_ms, const struct telemetry *data);
/* Its power was measured by the machine, or by a sensor. */
void totals_power_by(struct totals *totals, bool is_by_sensor);
/* A whole second of a work step has passed, in which this was asked for. */
void totals_second(struct totals *totals, const struct step_targets *targets, uint64_t t_ms);
/* The block clock stood: what comes next does not join on. */
void totals_break(struct totals *totals);

int32_t totals_distance_m(const struct totals *totals);
/* Fills the figures of `ret`; end and reason are the ride's. */
void totals_summary(const struct totals *totals, struct summary *ret);

#endif
