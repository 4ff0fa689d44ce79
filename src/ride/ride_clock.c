#include "ride_clock.h"

#include "acts.h"

/* ---- where the ride is ---- */

/* That of the steps: on the floor, too, where the block clock has not begun. */
static bool runs(const struct ride *ride)
{
    return ride->phase == PHASE_RIDING || (ride->phase == PHASE_FLOOR && ride->hold == HOLD_NONE);
}

const struct plan_step *ride_current_step(const struct ride *ride)
{
    const bool on_floor = ride->phase == PHASE_FLOOR && ride->floor_lead_ms == 0;

    if (ride->phase != PHASE_RIDING && ride->phase != PHASE_HELD && !on_floor)
        return NULL;
    return &ride->setup.plan.steps[ride->step];
}

struct step_targets ride_targets(const struct ride *ride)
{
    const struct plan_step *step = ride_current_step(ride);

    return step != NULL ? plan_step_targets(step, ride->step_ms - ride->step_ms % 1000)
                        : (struct step_targets){0};
}

struct step_targets ride_asked(const struct ride *ride)
{
    const struct step_targets targets = ride_targets(ride);

    return ride_shifted(ride, &targets);
}

uint64_t ride_next_edge_ms(const struct ride *ride)
{
    const uint64_t counted_in_ms = ride->phase_t_ms + COUNT_IN_MS;

    /* It may have to wait longer for the machine; nobody knows how long. */
    if (ride->phase == PHASE_COUNT_IN && counted_in_ms > ride->t_ms)
        return counted_in_ms;
    if (ride->phase == PHASE_FLOOR && ride->hold == HOLD_NONE && ride->floor_lead_ms > 0)
        return ride->t_ms + ride->floor_lead_ms;
    if (runs(ride))
        return ride->t_ms + (ride->step_end_ms - ride->step_ms);
    return RIDE_NO_EDGE;
}

/* ---- time passes ---- */

/* A step takes a second at least, and no more than limits.jump_ms passes at once. */
#define STEPS_AT_ONCE_MAX 8u

/* Each at its own time, however late the event that tells of it. */
static void count_seconds(struct ride *ride, uint32_t passed_ms, uint32_t part_ms)
{
    const struct plan_step *step = &ride->setup.plan.steps[ride->step];
    const uint32_t begin_ms = ride->step_ms - ride->step_ms % 1000;
    const uint32_t seconds = (ride->step_ms % 1000 + part_ms) / 1000;
    const uint64_t second_t_ms = ride->t_ms - passed_ms + 1000 - ride->step_ms % 1000;

    for (uint32_t i = 0; i < seconds; i++) {
        const struct step_targets targets = plan_step_targets(step, begin_ms + i * 1000);
        totals_second(&ride->totals, &targets, second_t_ms + i * UINT64_C(1000));
    }
}

static uint32_t pass_lead(struct ride *ride, uint32_t passed_ms, struct effects *effects)
{
    const uint32_t lead_ms = ride->floor_lead_ms;
    const uint32_t part_ms = passed_ms < lead_ms ? passed_ms : lead_ms;

    if (part_ms == 0)
        return passed_ms;
    ride->floor_lead_ms = lead_ms - part_ms;
    if (ride->floor_lead_ms == 0)
        act_step(ride, effects);
    return passed_ms - part_ms;
}

static void advance(struct ride *ride, uint32_t passed_ms, struct effects *effects)
{
    if (ride->phase == PHASE_FLOOR)
        passed_ms = pass_lead(ride, passed_ms, effects);
    for (uint32_t i = 0; i < STEPS_AT_ONCE_MAX && passed_ms > 0 && runs(ride); i++) {
        const uint32_t left_ms = ride->step_end_ms - ride->step_ms;
        const uint32_t part_ms = passed_ms < left_ms ? passed_ms : left_ms;

        if (ride->setup.plan.steps[ride->step].kind == STEP_WORK)
            count_seconds(ride, passed_ms, part_ms);
        ride->step_ms += part_ms;
        if (ride->phase == PHASE_RIDING)
            ride->block_ms += part_ms;
        passed_ms -= part_ms;
        if (ride->step_ms == ride->step_end_ms)
            act_next_step(ride, effects);
    }
    if (ride->phase == PHASE_EASY)
        ride->block_ms += passed_ms;
}

/* ---- steps that end before their time ---- */

/* What the heart did in the step itself, by readings that are no older: who hears none, or one that
 * has been called frozen, rides on to the end of the step's time. */
static int64_t heart_above(const struct ride *ride, int32_t heart_bpm)
{
    const struct limits *limits = &ride->limits;
    const int32_t median_bpm =
        sensors_heart_median(&ride->sensors, ride->t_ms, limits->heart_window_ms);

    if (ride->step_ms < limits->heart_window_ms || median_bpm == 0 ||
        ride->caution_t_ms[CAUTION_HEART_FROZEN] != 0 ||
        !sensors_heart_rate(&ride->sensors, ride->t_ms, limits->heart_stale_ms).known)
        return INT64_MAX;
    return median_bpm - heart_bpm;
}

static int64_t left_to_end(const struct ride *ride)
{
    const struct step_end *end = &ride->setup.plan.steps[ride->step].end;

    switch (end->until) {
    case UNTIL_WORK: return end->value - (work_j(&ride->totals.work) - ride->step_work_j);
    case UNTIL_DISTANCE:
        return end->value - ((int64_t)totals_distance_m(&ride->totals) - ride->step_distance_m);
    case UNTIL_HEART: return heart_above(ride, end->value);
    case UNTIL_TIME: break;
    }
    return INT64_MAX;
}

int32_t ride_left_to_end(const struct ride *ride)
{
    const int64_t left = ride_current_step(ride) != NULL ? left_to_end(ride) : INT64_MAX;

    return left < 0 || left > INT32_MAX ? 0 : (int32_t)left;
}

void ride_clock_watch(struct ride *ride, struct effects *effects)
{
    if (ride->phase == PHASE_RIDING && left_to_end(ride) <= 0)
        act_end_step(ride, effects);
}

void ride_clock_move(struct ride *ride, uint64_t t_ms, struct effects *effects)
{
    const uint64_t passed_ms = t_ms - ride->t_ms;

    ride->t_ms = t_ms;
    if (runs(ride) && passed_ms > ride->limits.jump_ms)
        act_hold(ride, HOLD_CLOCK_JUMP, effects);
    else if (ride->phase == PHASE_COUNT_IN && passed_ms > ride->limits.jump_ms)
        act_enter(ride, PHASE_READY, effects); /* nobody has heard it */
    else if (passed_ms <= ride->limits.jump_ms && (runs(ride) || ride->phase == PHASE_EASY))
        advance(ride, (uint32_t)passed_ms, effects);
}
