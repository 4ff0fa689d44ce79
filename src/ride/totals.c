#include "ride/totals.h"

#include "body/road.h"

/* Rider and bike where the rider has not told a mass. */
#define BIKE_KG 10.0

/* ---- distance ---- */

static int32_t road_speed_mm_s(const struct rider *rider, int32_t power_w)
{
    struct road road = road_typical();

    if (rider->mass_kg > 0.0)
        road.mass_kg = rider->mass_kg + BIKE_KG;
    return (int32_t)(road_speed_m_s(&road, power_w) * 1000.0);
}

static void add_road(struct totals *totals, const struct rider *rider, uint64_t t_ms,
                     int32_t power_w)
{
    const int32_t speed_mm_s = road_speed_mm_s(rider, power_w);
    const uint64_t passed_ms = t_ms - totals->road_t_ms;

    if (totals->has_road && passed_ms <= TOTALS_GAP_MS)
        totals->road_mm += ((int64_t)totals->road_mm_s + speed_mm_s) * (int64_t)passed_ms / 2000;
    totals->has_road = true;
    totals->road_t_ms = t_ms;
    totals->road_mm_s = speed_mm_s;
}

/* A count that goes back or leaps was reset or is garbage: go on from where it is now. */
#define LEAP_M 100

static void add_machine_distance(struct totals *totals, int32_t distance_m)
{
    const int64_t step_m = (int64_t)distance_m - totals->machine_last_m;

    if (totals->has_machine_last && step_m > 0 && step_m < LEAP_M)
        totals->machine_m += (int32_t)step_m;
    totals->machine_counts = true;
    totals->has_machine_last = true;
    totals->machine_last_m = distance_m;
}

int32_t totals_distance_m(const struct totals *totals)
{
    return totals->machine_counts ? totals->machine_m : (int32_t)(totals->road_mm / 1000);
}

/* ---- samples ---- */

static void remember(struct totals *totals, uint64_t t_ms, const struct telemetry *data)
{
    totals->window[totals->window_next] = (struct totals_sample){
        .t_ms = t_ms,
        .has = data->has,
        .power_w = data->power_w,
        .cadence_rpm = data->cadence_rpm,
    };
    totals->window_next = (totals->window_next + 1) % TOTALS_WINDOW_MAX;
    if (totals->window_count < TOTALS_WINDOW_MAX)
        totals->window_count++;
}

static void add_power(struct totals *totals, const struct rider *rider,
                      const struct plan_step *step, uint64_t t_ms, int32_t power_w)
{
    work_add(&totals->work, t_ms, power_w, TOTALS_GAP_MS);
    best_add(&totals->best, t_ms, power_w, TOTALS_GAP_MS);
    if (step != NULL && step->kind == STEP_WORK)
        work_add(&totals->work_steps, t_ms, power_w, TOTALS_GAP_MS);
    else
        totals->work_steps.begun = false; /* the next work step does not join on to this one */
    if (power_w > totals->max_power_w)
        totals->max_power_w = power_w;
    add_road(totals, rider, t_ms, power_w);
}

void totals_sample(struct totals *totals, const struct rider *rider, const struct plan_step *step,
                   uint64_t t_ms, const struct telemetry *data)
{
    remember(totals, t_ms, data);
    if (data->has & HAS_POWER)
        add_power(totals, rider, step, t_ms, data->power_w);
    if (data->has & HAS_DISTANCE)
        add_machine_distance(totals, data->distance_m);
    if (data->has & HAS_HEART) {
        totals->heart_sum_bpm += data->heart_bpm;
        totals->heart_count++;
        if (data->heart_bpm > totals->heart_max_bpm)
            totals->heart_max_bpm = data->heart_bpm;
    }
}

void totals_power_by(struct totals *totals, bool is_by_sensor)
{
    totals->power_samples++;
    totals->sensor_samples += is_by_sensor;
}

void totals_break(struct totals *totals)
{
    totals->work.begun = false;
    totals->work_steps.begun = false;
    totals->best.begun = false;
    totals->has_road = false;
    totals->has_machine_last = false;
    totals->window_count = 0;
}

/* ---- in range ---- */

/* The mean of what the last seconds brought of one field; false when they brought nothing. */
static bool mean_of(const struct totals *totals, uint64_t t_ms, enum telemetry_field field,
                    int64_t *ret_sum, int64_t *ret_count)
{
    int64_t sum = 0, count = 0;

    for (uint32_t i = 0; i < totals->window_count; i++) {
        const struct totals_sample *sample = &totals->window[i];
        if (t_ms - sample->t_ms >= TOTALS_WINDOW_MS || !(sample->has & field))
            continue;
        sum += field == HAS_POWER ? sample->power_w : sample->cadence_rpm;
        count++;
    }
    *ret_sum = sum;
    *ret_count = count;
    return count > 0;
}

static bool is_in_range(const struct totals *totals, uint64_t t_ms, enum telemetry_field field,
                        const struct target_range *range)
{
    int64_t sum, count;

    return mean_of(totals, t_ms, field, &sum, &count) && sum >= range->low * count &&
           sum <= range->high * count;
}

void totals_second(struct totals *totals, const struct step_targets *targets, uint64_t t_ms)
{
    totals->work_s++;
    if (targets->power_w.set ? is_in_range(totals, t_ms, HAS_POWER, &targets->power_w)
                             : !targets->cadence_rpm.set ||
                                   is_in_range(totals, t_ms, HAS_CADENCE, &targets->cadence_rpm))
        totals->in_range_s++;
}

/* ---- summary ---- */

static int32_t mean_power_w(const struct work *work)
{
    const int64_t known_ms = (int64_t)work->known_ms;

    return known_ms == 0 ? 0 : (int32_t)((work->half_mj + known_ms) / (2 * known_ms));
}

static int32_t best_w(const struct totals *totals, enum best_window window)
{
    int32_t power_w;
    return best_power_w(&totals->best, window, &power_w) ? power_w : 0;
}

/* In per cent of the samples; a sensor that was heard at all is not 0. */
static int32_t sensor_pct(const struct totals *totals)
{
    const int64_t by_sensor = totals->sensor_samples;

    if (by_sensor == 0 || totals->power_samples == 0)
        return 0;
    const int32_t pct = (int32_t)(100 * by_sensor / totals->power_samples);
    return pct > 0 ? pct : 1;
}

void totals_summary(const struct totals *totals, struct summary *ret)
{
    const struct power_difference difference = two_powers_difference(&totals->powers);

    *ret = (struct summary){
        .work_j = work_j(&totals->work),
        .average_power_w = mean_power_w(&totals->work),
        .work_power_w = mean_power_w(&totals->work_steps),
        .distance_m = totals_distance_m(totals),
        .in_range_s = totals->in_range_s,
        .work_s = totals->work_s,
        .average_heart_bpm = totals->heart_count == 0
                                 ? 0
                                 : (int32_t)((totals->heart_sum_bpm + totals->heart_count / 2) /
                                             totals->heart_count),
        .max_heart_bpm = totals->heart_max_bpm,
        .heart_fall_bpm = totals->recovery.fall_bpm,
        .max_power_w = totals->max_power_w,
        .best_5s_w = best_w(totals, BEST_5_S),
        .best_30s_w = best_w(totals, BEST_30_S),
        .best_60s_w = best_w(totals, BEST_60_S),
        .best_180s_w = best_w(totals, BEST_180_S),
        .sensor_pct = sensor_pct(totals),
        .difference_tenths = difference.tenths,
        .difference_error_tenths = difference.error_tenths,
    };
}
