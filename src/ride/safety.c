#include "ride/safety.h"

/* A late event must not buy a jump: more than this between two does not count for the ramp. */
#define COUNTED_MAX_MS 500u

static const struct load released = {LOAD_RELEASED, 0};

/* The contracts below are for `make prove`. */
/*@ predicate under_way(enum phase phase) = phase == PHASE_RIDING || phase == PHASE_HELD;
    predicate begun_or_about(enum phase phase) =
        under_way(phase) || phase == PHASE_READY || phase == PHASE_COUNT_IN;
    logic integer most(struct limits *limits, enum load_kind kind) =
        kind == LOAD_LEVEL ? limits->load_max_tenths : limits->load_max_w;
    logic integer rate(struct limits *limits, enum load_kind kind) =
        kind == LOAD_LEVEL ? limits->ramp_tenths_per_s : limits->ramp_w_per_s;
    predicate sane(struct limits *limits) =
        0 <= limits->load_max_w <= 100000 && 0 <= limits->load_max_tenths <= 100000 &&
        0 <= limits->ramp_w_per_s <= 100000 && 0 <= limits->ramp_tenths_per_s <= 100000;
*/

/*@ requires \valid(stretch);
    assigns *stretch;
    ensures \result ==> stands;
    ensures stretch->stands == stands;
*/
static bool stands_for(struct stretch *stretch, bool stands, uint64_t t_ms, uint32_t for_ms)
{
    if (stands && !stretch->stands)
        stretch->since_ms = t_ms;
    stretch->stands = stands;
    return stands && t_ms - stretch->since_ms >= for_ms;
}

/*@ assigns \nothing;
    ensures \result <==> (phase == PHASE_RIDING || phase == PHASE_HELD);
*/
static bool is_under_way(enum phase phase)
{
    return phase == PHASE_RIDING || phase == PHASE_HELD;
}

/* What the machine itself reports ends a ride before its start as well. */
/*@ requires \valid_read(limits) && \valid_read(in);
    assigns \nothing;
    ensures in->safety_key && begun_or_about(in->phase) ==> \result == CUT_OFF_SAFETY_KEY;
    ensures link: in->link_lost && in->link_lost_ms > limits->link_lost_ms &&
            begun_or_about(in->phase) ==> \result != CUT_OFF_NONE;
*/
static enum cut_off of_machine(const struct limits *limits, const struct safety_inputs *in)
{
    if (!is_under_way(in->phase) && in->phase != PHASE_READY && in->phase != PHASE_COUNT_IN)
        return CUT_OFF_NONE;
    if (in->safety_key)
        return CUT_OFF_SAFETY_KEY;
    if (in->link_lost && in->link_lost_ms > limits->link_lost_ms)
        return CUT_OFF_LINK_LOST;
    switch (in->control_fault) {
    case CONTROL_FINE: break;
    case CONTROL_UNANSWERED: return CUT_OFF_UNANSWERED;
    case CONTROL_REFUSED: return CUT_OFF_REFUSED;
    case CONTROL_LOST: return CUT_OFF_CONTROL_LOST;
    }
    return CUT_OFF_NONE;
}

/* Whether the rider is expected to turn the pedals, so that silence is a fault and not a pause. */
/*@ requires \valid_read(in) && under_way(in->phase);
    assigns \nothing;
    ensures in->phase == PHASE_RIDING ==> \result;
*/
static bool expects_data(const struct safety_inputs *in)
{
    return in->phase == PHASE_RIDING || in->hold == HOLD_NO_DATA;
}

/* What the machine says comes before what the readings say; the stretches are kept in any case. */
/*@ requires \valid(safety) && \valid_read(limits) && \valid_read(in);
    requires \separated(safety, limits) && \separated(safety, in);
    assigns safety->power_over, safety->cadence_over;
    ensures heart: under_way(in->phase) && in->heart_median_bpm > limits->heart_limit_bpm ==>
            \result != CUT_OFF_NONE;
    ensures key: in->safety_key && begun_or_about(in->phase) ==> \result != CUT_OFF_NONE;
    ensures silence: in->phase == PHASE_RIDING && in->silence_ms > limits->data_lost_ms ==>
            \result != CUT_OFF_NONE;
    ensures time: under_way(in->phase) && in->since_start_ms > limits->total_max_ms ==>
            \result != CUT_OFF_NONE;
    ensures link: in->link_lost && in->link_lost_ms > limits->link_lost_ms &&
            begun_or_about(in->phase) ==> \result != CUT_OFF_NONE;
*/
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

/*@ requires \valid_read(limits) && \valid_read(in);
    assigns \nothing;
 */
bool safety_legs_are_still(const struct limits *limits, const struct safety_inputs *in)
{
    return in->cadence_known ? in->cadence_rpm < limits->cadence_still_rpm
                             : in->power_w < limits->power_still_w;
}

/*@ requires \valid_read(limits) && \valid_read(in);
    assigns \nothing;
*/
static bool legs_turn_again(const struct limits *limits, const struct safety_inputs *in)
{
    return in->data_age_ms <= limits->data_stale_ms &&
           (in->cadence_known ? in->cadence_rpm >= limits->cadence_resume_rpm
                              : in->power_w >= limits->power_still_w);
}

/* At a fixed power the torque grows as the cadence falls, until the legs stall: let go before. Legs
 * that stand still have stopped riding, load or not; in a hold, after which the load comes back,
 * nobody waits whether they mean it. Slow legs turn unevenly, fast through the stroke and slow
 * through the top: a cadence that swings about the floor is under it. */
/*@ requires \valid(safety) && \valid_read(limits) && \valid_read(in);
    requires \separated(safety, limits) && \separated(safety, in);
    assigns safety->cadence_low, safety->legs_still, safety->collapsed;
*/
static void watch_legs(struct safety *safety, const struct limits *limits,
                       const struct safety_inputs *in)
{
    const bool riding = in->phase == PHASE_RIDING;
    const int32_t floor_rpm =
        safety->cadence_low.stands ? limits->cadence_clear_rpm : limits->cadence_floor_rpm;
    const bool is_low = riding && in->cadence_known && safety->load.kind != LOAD_RELEASED &&
                        in->cadence_rpm < floor_rpm;
    const bool stalls = stands_for(&safety->cadence_low, is_low, in->t_ms, limits->floor_for_ms);
    const bool stand = safety_legs_are_still(limits, in);
    const bool still =
        stands_for(&safety->legs_still, riding && stand, in->t_ms, limits->still_for_ms);
    const bool rest = in->phase == PHASE_HELD && in->data_age_ms <= limits->data_stale_ms && stand;

    if (stalls || still || rest)
        safety->collapsed = true;
    if (safety->collapsed && legs_turn_again(limits, in))
        safety->collapsed = false;
}

/*@ requires \valid_read(safety) && \valid_read(limits) && \valid_read(in);
    assigns \nothing;
    ensures stale: under_way(in->phase) && in->data_age_ms > limits->data_stale_ms ==>
            \result != HOLD_NONE;
    ensures link: under_way(in->phase) && in->link_lost ==> \result == HOLD_LINK;
*/
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

/*@ assigns \nothing;
    ensures \result <==> (a.kind == b.kind && a.value == b.value);
*/
bool load_is_same(struct load a, struct load b)
{
    return a.kind == b.kind && a.value == b.value;
}

/*@ requires \valid_read(limits);
    assigns \nothing;
    ensures \result == most(limits, kind);
*/
static int32_t ceiling(const struct limits *limits, enum load_kind kind)
{
    return kind == LOAD_LEVEL ? limits->load_max_tenths : limits->load_max_w;
}

/*@ requires \valid_read(limits);
    assigns \nothing;
*/
static int32_t least(const struct limits *limits, enum load_kind kind)
{
    return kind == LOAD_LEVEL ? limits->load_min_tenths : limits->load_min_w;
}

/*@ assigns \nothing;
    ensures \result <==> (a.kind == LOAD_RELEASED || (a.kind == b.kind && a.value <= b.value));
*/
bool load_is_at_most(struct load a, struct load b)
{
    if (a.kind == LOAD_RELEASED)
        return true;
    return a.kind == b.kind && a.value <= b.value;
}

/* How far up the load may be now. A load of another kind than the last one begins at nothing; so
 * does time: only what has passed while the load was on its way up counts. Watts and levels are not
 * comparable, so the one lets go before the other begins. */
/*@ requires \valid_read(safety) && \valid_read(limits) && sane(limits);
    requires 0 <= safety->load.value <= 100000 && 0 <= goal.value <= 100000;
    assigns \nothing;
    ensures \result.kind == LOAD_RELEASED || \result.kind == goal.kind;
    ensures \result.kind != LOAD_RELEASED ==> 0 < \result.value <= goal.value;
    ensures 0 <= \result.value <= 100000;
    ensures ramp: \result.kind != LOAD_RELEASED ==> \result.value <=
            (safety->load.kind == goal.kind ? safety->load.value : 0) +
            rate(limits, goal.kind) * COUNTED_MAX_MS / 1000;
*/
static struct load ramped(const struct safety *safety, const struct limits *limits, uint64_t t_ms,
                          struct load goal)
{
    if (goal.kind == LOAD_RELEASED)
        return released;
    const int64_t rate = goal.kind == LOAD_LEVEL ? limits->ramp_tenths_per_s : limits->ramp_w_per_s;
    const int64_t from = safety->load.kind == goal.kind ? safety->load.value : 0;
    const bool goes_on = safety->load.kind == goal.kind || safety->load.kind == LOAD_RELEASED;
    const uint64_t passed_ms = safety->climbs && goes_on ? t_ms - safety->climb_t_ms : 0;
    const uint64_t counted_ms = passed_ms < COUNTED_MAX_MS ? passed_ms : COUNTED_MAX_MS;
    const int64_t reach = from + rate * (int64_t)counted_ms / 1000;

    if (goal.value > reach)
        goal.value = (int32_t)reach;
    return goal.value > 0 ? goal : released;
}

/* Events may come closer together than one watt's worth of ramp: their time goes on counting. */
/*@ requires \valid(safety);
    assigns safety->climb_t_ms, safety->climbs, safety->load;
    ensures safety->load.kind == allowed.kind && safety->load.value == allowed.value;
*/
static void note_load(struct safety *safety, uint64_t t_ms, struct load goal, struct load allowed)
{
    const bool climbs = allowed.value < goal.value;

    if (!climbs || !safety->climbs || !load_is_same(allowed, safety->load))
        safety->climb_t_ms = t_ms;
    safety->climbs = climbs;
    safety->load = allowed;
}

/* Where a wish may go in the end, however slowly. */
/*@ requires \valid_read(limits) && sane(limits);
    assigns \nothing;
    ensures \result.kind != LOAD_RELEASED ==> \result.kind == wish.kind &&
            0 < \result.value <= most(limits, wish.kind) && \result.value <= wish.value;
    ensures 0 <= \result.value <= 100000;
*/
static struct load within_limits(const struct limits *limits, struct load wish)
{
    if (wish.kind != LOAD_RELEASED && wish.value > ceiling(limits, wish.kind))
        wish.value = ceiling(limits, wish.kind);
    /* Rounding up to what the machine can do least would be more than was allowed. */
    if (wish.kind == LOAD_RELEASED || wish.value <= 0 || wish.value < least(limits, wish.kind))
        return released;
    return wish;
}

/* What forbids every load, and what is to be said. */
/*@ requires \valid(safety) && \valid_read(limits) && \valid_read(in);
    requires \separated(safety, limits, in);
    assigns *safety;
    ensures safety->load.kind == \old(safety->load.kind);
    ensures safety->load.value == \old(safety->load.value);
    ensures latch: \old(safety->cut_off) != CUT_OFF_NONE ==>
            safety->cut_off == \old(safety->cut_off);
    ensures said: \result.cut_off == safety->cut_off;
    ensures stale: under_way(in->phase) && in->data_age_ms > limits->data_stale_ms ==>
            \result.hold != HOLD_NONE;
    ensures link: under_way(in->phase) && in->link_lost ==> \result.hold == HOLD_LINK;
    ensures heart: under_way(in->phase) && in->heart_median_bpm > limits->heart_limit_bpm ==>
            safety->cut_off != CUT_OFF_NONE;
    ensures key: in->safety_key && begun_or_about(in->phase) ==>
            safety->cut_off != CUT_OFF_NONE;
    ensures silence: in->phase == PHASE_RIDING && in->silence_ms > limits->data_lost_ms ==>
            safety->cut_off != CUT_OFF_NONE;
*/
static struct safety_verdict find_faults(struct safety *safety, const struct limits *limits,
                                         const struct safety_inputs *in)
{
    const enum cut_off found = find_cut_off(safety, limits, in);
    struct safety_verdict verdict = {0};

    if (safety->cut_off == CUT_OFF_NONE)
        safety->cut_off = found;
    watch_legs(safety, limits, in);
    verdict.cut_off = safety->cut_off;
    verdict.hold = find_hold(safety, limits, in);
    verdict.heart_near =
        in->heart_age_ms <= limits->heart_stale_ms && in->heart_bpm >= limits->heart_caution_bpm;
    verdict.strap_lost =
        in->in_work && in->heart_was_known && in->heart_age_ms > limits->heart_stale_ms;
    return verdict;
}

/*@ requires \valid_read(safety) && \valid_read(in);
    assigns \nothing;
    ensures \result ==> verdict.cut_off == CUT_OFF_NONE && verdict.hold == HOLD_NONE &&
            in->phase == PHASE_RIDING && in->has_control && !safety->collapsed;
*/
static bool may_load(const struct safety *safety, const struct safety_inputs *in,
                     struct safety_verdict verdict)
{
    return verdict.cut_off == CUT_OFF_NONE && verdict.hold == HOLD_NONE && !safety->collapsed &&
           in->phase == PHASE_RIDING && in->has_control;
}

/*@ requires \valid(safety) && \valid_read(limits) && \valid_read(inputs);
    requires \separated(safety, limits, inputs) && sane(limits);
    requires 0 <= safety->load.value <= 100000;
    assigns *safety;
    ensures again: 0 <= safety->load.value <= 100000;
    ensures latch: \old(safety->cut_off) != CUT_OFF_NONE ==>
            safety->cut_off == \old(safety->cut_off);
    ensures said: \result.cut_off == safety->cut_off;
    ensures loaded: \result.load.kind != LOAD_RELEASED ==> \result.cut_off == CUT_OFF_NONE &&
            inputs->phase == PHASE_RIDING && inputs->has_control && !inputs->link_lost &&
            inputs->data_age_ms <= limits->data_stale_ms;
    ensures most: \result.load.kind != LOAD_RELEASED ==>
            0 < \result.load.value <= most(limits, \result.load.kind);
    ensures ramp: \result.load.kind != LOAD_RELEASED ==> \result.load.value <=
            (\old(safety->load.kind) == \result.load.kind ? \old(safety->load.value) : 0) +
            rate(limits, \result.load.kind) * COUNTED_MAX_MS / 1000;
    ensures wanted: \result.load.kind != LOAD_RELEASED && !\result.strap_lost ==>
            \result.load.kind == wanted.kind && \result.load.value <= wanted.value;
    ensures strap: \result.strap_lost && \result.load.kind != LOAD_RELEASED ==>
            \result.load.kind == inputs->rest_load.kind &&
            \result.load.value <= inputs->rest_load.value;
    ensures heart: under_way(inputs->phase) &&
            inputs->heart_median_bpm > limits->heart_limit_bpm ==>
            \result.cut_off != CUT_OFF_NONE;
    ensures key: inputs->safety_key && begun_or_about(inputs->phase) ==>
            \result.cut_off != CUT_OFF_NONE;
    ensures silence: inputs->phase == PHASE_RIDING &&
            inputs->silence_ms > limits->data_lost_ms ==> \result.cut_off != CUT_OFF_NONE;
*/
struct safety_verdict safety_step(struct safety *safety, const struct limits *limits,
                                  const struct safety_inputs *inputs, struct load wanted)
{
    struct safety_verdict verdict = find_faults(safety, limits, inputs);

    if (verdict.strap_lost && !load_is_at_most(wanted, inputs->rest_load))
        wanted = inputs->rest_load;
    const struct load goal =
        may_load(safety, inputs, verdict) ? within_limits(limits, wanted) : released;
    const struct load reached = ramped(safety, limits, inputs->t_ms, goal);

    verdict.lowered = goal.kind != LOAD_RELEASED && goal.value < wanted.value;
    verdict.load = reached.value < least(limits, reached.kind) ? released : reached;
    note_load(safety, inputs->t_ms, goal, reached);
    return verdict;
}
