#include "ride/safety.h"

/* A late event must not buy a jump: more than this between two does not count for the ramp. */
#define COUNTED_MAX_MS 500u

static const struct load released = {LOAD_RELEASED, 0};

static bool stands_for(struct stretch *stretch, bool stands, uint64_t t_ms, uint32_t for_ms)
{
    if (stands && !stretch->stands)
        stretch->since_ms = t_ms;
    stretch->stands = stands;
    return stands && t_ms - stretch->since_ms >= for_ms;
}

static bool is_under_way(enum phase phase)
{
    return phase == PHASE_RIDING || phase == PHASE_HELD;
}

/* What the machine itself reports ends a ride before its start as well. */
static enum cut_off of_machine(const struct limits *limits, const struct safety_inputs *in)
{
    if (!is_under_way(in->phase) && in->phase != PHASE_READY && in->phase != PHASE_COUNT_IN)
        return CUT_OFF_NONE;
    if (in->safety_key)
        return CUT_OFF_SAFETY_KEY;
    if (in->link_lost && in->link_lost_ms > limits->link_lost_ms)
        return CUT_OFF_LINK_LOST;
    switch (in->control_fault) {
    case CONTROL_FINE: return CUT_OFF_NONE;
    case CONTROL_UNANSWERED: return CUT_OFF_UNANSWERED;
    case CONTROL_REFUSED: return CUT_OFF_REFUSED;
    case CONTROL_LOST: return CUT_OFF_CONTROL_LOST;
    }
    return CUT_OFF_NONE;
}

/* Whether the rider is expected to turn the pedals, so that silence is a fault and not a pause. */
static bool expects_data(const struct safety_inputs *in)
{
    return in->phase == PHASE_RIDING || (in->phase == PHASE_HELD && in->hold == HOLD_NO_DATA);
}

/* What the machine says comes before what the readings say; the stretches are kept in any case. */
static enum cut_off find_cut_off(struct safety *safety, const struct limits *limits,
                                 const struct safety_inputs *in)
{
    const bool fresh = in->data_age_ms <= limits->data_stale_ms;
    /* By the time of the readings: one high reading and then silence is not a long excess. */
    const uint64_t read_t_ms = fresh ? in->t_ms - in->data_age_ms : in->t_ms;
    const bool power_over =
        stands_for(&safety->power_over, fresh && in->power_w > limits->power_max_w, read_t_ms,
                   limits->over_for_ms);
    const bool cadence_over =
        stands_for(&safety->cadence_over, fresh && in->cadence_rpm > limits->cadence_max_rpm,
                   read_t_ms, limits->over_for_ms);

    const enum cut_off by_machine = of_machine(limits, in);

    if (by_machine != CUT_OFF_NONE || !is_under_way(in->phase))
        return by_machine;
    if (in->heart_median_bpm > limits->heart_limit_bpm)
        return CUT_OFF_HEART;
    if (power_over)
        return CUT_OFF_POWER;
    if (cadence_over)
        return CUT_OFF_CADENCE;
    if (expects_data(in) && in->silence_ms > limits->data_lost_ms)
        return CUT_OFF_NO_DATA;
    if (in->since_start_ms > limits->total_max_ms)
        return CUT_OFF_TIME;
    return CUT_OFF_NONE;
}

bool safety_legs_are_still(const struct limits *limits, const struct safety_inputs *in)
{
    return in->cadence_known ? in->cadence_rpm < limits->cadence_still_rpm
                             : in->power_w < limits->power_still_w;
}

static bool legs_turn_again(const struct limits *limits, const struct safety_inputs *in)
{
    return in->data_age_ms <= limits->data_stale_ms &&
           (in->cadence_known ? in->cadence_rpm >= limits->cadence_resume_rpm
                              : in->power_w >= limits->power_still_w);
}

/* At a fixed power the torque grows as the cadence falls, until the legs stall: let go before. Legs
 * that stand still have stopped riding, load or not. Slow legs turn unevenly, fast through the
 * stroke and slow through the top: a cadence that swings about the floor is under it. */
static void watch_legs(struct safety *safety, const struct limits *limits,
                       const struct safety_inputs *in)
{
    const bool riding = in->phase == PHASE_RIDING;
    const int32_t floor_rpm =
        safety->cadence_low.stands ? limits->cadence_clear_rpm : limits->cadence_floor_rpm;
    const bool is_low = riding && in->cadence_known && safety->load.kind != LOAD_RELEASED &&
                        in->cadence_rpm < floor_rpm;
    const bool stalls = stands_for(&safety->cadence_low, is_low, in->t_ms, limits->floor_for_ms);
    const bool still = stands_for(&safety->legs_still, riding && safety_legs_are_still(limits, in),
                                  in->t_ms, limits->still_for_ms);

    if (stalls || still)
        safety->collapsed = true;
    if (safety->collapsed && legs_turn_again(limits, in))
        safety->collapsed = false;
}

static enum hold find_hold(const struct safety *safety, const struct limits *limits,
                           const struct safety_inputs *in)
{
    if (!is_under_way(in->phase))
        return HOLD_NONE;
    if (in->link_lost)
        return HOLD_LINK;
    /* Before the age of data: some machines fall silent when nobody pedals. */
    if (safety->collapsed && !in->may_coast)
        return HOLD_CADENCE;
    if (in->data_age_ms > limits->data_stale_ms)
        return HOLD_NO_DATA;
    return HOLD_NONE;
}

bool load_is_same(struct load a, struct load b)
{
    return a.kind == b.kind && a.value == b.value;
}

static int32_t ceiling(const struct limits *limits, enum load_kind kind)
{
    return kind == LOAD_LEVEL ? limits->load_max_tenths : limits->load_max_w;
}

static int32_t least(const struct limits *limits, enum load_kind kind)
{
    return kind == LOAD_LEVEL ? limits->load_min_tenths : limits->load_min_w;
}

bool load_is_at_most(struct load a, struct load b)
{
    if (a.kind == LOAD_RELEASED)
        return true;
    return a.kind == b.kind && a.value <= b.value;
}

/* How far up the load may be now. A load of another kind than the last one begins at nothing; so
 * does time: only what has passed while the load was on its way up counts. */
static struct load ramped(const struct safety *safety, const struct limits *limits, uint64_t t_ms,
                          struct load goal)
{
    if (goal.kind == LOAD_RELEASED)
        return released;
    const int64_t rate = goal.kind == LOAD_LEVEL ? limits->ramp_tenths_per_s : limits->ramp_w_per_s;
    const int64_t from = safety->load.kind == goal.kind ? safety->load.value : 0;
    const uint64_t passed_ms = safety->climbs ? t_ms - safety->climb_t_ms : 0;
    const uint64_t counted_ms = passed_ms < COUNTED_MAX_MS ? passed_ms : COUNTED_MAX_MS;
    const int64_t reach = from + rate * (int64_t)counted_ms / 1000;

    if (goal.value > reach)
        goal.value = (int32_t)reach;
    return goal.value > 0 ? goal : released;
}

/* Events may come closer together than one watt's worth of ramp: their time goes on counting. */
static void note_load(struct safety *safety, uint64_t t_ms, struct load goal, struct load allowed)
{
    const bool climbs = allowed.value < goal.value;

    if (!climbs || !safety->climbs || !load_is_same(allowed, safety->load))
        safety->climb_t_ms = t_ms;
    safety->climbs = climbs;
    safety->load = allowed;
}

/* Where the load may go in the end, with all that forbids or lowers it; not how fast. */
static struct load goal_load(const struct safety *safety, const struct limits *limits,
                             const struct safety_inputs *in, struct load wanted,
                             struct safety_verdict *verdict)
{
    if (wanted.kind == LOAD_RELEASED || verdict->cut_off != CUT_OFF_NONE ||
        verdict->hold != HOLD_NONE || safety->collapsed || in->phase != PHASE_RIDING ||
        !in->has_control)
        return released;
    if (verdict->strap_lost && !load_is_at_most(wanted, in->rest_load))
        wanted = in->rest_load;
    if (wanted.value > ceiling(limits, wanted.kind)) {
        wanted.value = ceiling(limits, wanted.kind);
        verdict->lowered = true;
    }
    /* Rounding up to what the machine can do least would be more than was allowed. */
    if (wanted.kind == LOAD_RELEASED || wanted.value <= 0 ||
        wanted.value < least(limits, wanted.kind))
        return released;
    return wanted;
}

void safety_step(struct safety *safety, const struct limits *limits,
                 const struct safety_inputs *inputs, struct load wanted, struct safety_verdict *ret)
{
    const enum cut_off found = find_cut_off(safety, limits, inputs);
    struct safety_verdict verdict = {0};

    if (safety->cut_off == CUT_OFF_NONE)
        safety->cut_off = found;
    verdict.cut_off = safety->cut_off;
    watch_legs(safety, limits, inputs);
    verdict.hold = find_hold(safety, limits, inputs);
    verdict.heart_near = inputs->heart_age_ms <= limits->heart_stale_ms &&
                         inputs->heart_bpm >= limits->heart_caution_bpm;
    verdict.strap_lost =
        inputs->in_work && inputs->heart_was_known && inputs->heart_age_ms > limits->heart_stale_ms;
    const struct load goal = goal_load(safety, limits, inputs, wanted, &verdict);
    const struct load reached = ramped(safety, limits, inputs->t_ms, goal);
    verdict.load = reached.value < least(limits, reached.kind) ? released : reached;

    note_load(safety, inputs->t_ms, goal, reached);
    *ret = verdict;
}
