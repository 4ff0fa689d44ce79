#include "safety_oracle.h"

#include <stddef.h>

enum rule {
    OLD_READINGS,
    NO_CONTROL,
    ONLY_RIDING,
    ABOVE_WANTED,
    ABOVE_LIMIT,
    BELOW_MACHINE,
    RAMP,
    KINDS,
    CUT_OFF_LASTS,
    CUT_OFF_NO_LOAD,
    HEART,
    POWER,
    CADENCE,
    SILENCE,
    MACHINE,
    TIME,
    CAUSE,
    NO_STRAP,
    SLOW_LEGS,
    STILL_LEGS,
    MUST_TURN,
    HOLDS,
    HEART_NEAR,
    LOWERED,
    RULE_COUNT
};

static const char *const rule_names[RULE_COUNT] = {
    [OLD_READINGS] = "old-readings-no-load",
    [NO_CONTROL] = "no-control-no-load",
    [ONLY_RIDING] = "only-riding-has-load",
    [ABOVE_WANTED] = "never-above-wanted",
    [ABOVE_LIMIT] = "never-above-limit",
    [BELOW_MACHINE] = "never-below-machine",
    [RAMP] = "rises-by-the-ramp",
    [KINDS] = "lets-go-between-kinds",
    [CUT_OFF_LASTS] = "cut-off-lasts",
    [CUT_OFF_NO_LOAD] = "cut-off-no-load",
    [HEART] = "heart-cuts-off",
    [POWER] = "power-cuts-off",
    [CADENCE] = "cadence-cuts-off",
    [SILENCE] = "silence-cuts-off",
    [MACHINE] = "machine-cuts-off",
    [TIME] = "time-cuts-off",
    [CAUSE] = "cut-off-has-its-cause",
    [NO_STRAP] = "no-strap-rest-load",
    [SLOW_LEGS] = "slow-legs-no-load",
    [STILL_LEGS] = "still-legs-no-load",
    [MUST_TURN] = "legs-turn-before-load",
    [HOLDS] = "holds-say-why",
    [HEART_NEAR] = "heart-near-is-said",
    [LOWERED] = "lowered-is-said",
};

void oracle_init(struct oracle *oracle)
{
    *oracle = (struct oracle){.fast_ms = NOT_STANDING,
                              .strong_ms = NOT_STANDING,
                              .slow_ms = NOT_STANDING,
                              .still_ms = NOT_STANDING};
}

static int32_t capped(int64_t ms)
{
    return ms < ORACLE_AGE_CAP_MS ? (int32_t)ms : ORACLE_AGE_CAP_MS;
}

/* How long something stands that stood `before` and has now been seen again or not. */
static int32_t standing(int32_t before, bool stands, uint32_t passed_ms)
{
    if (!stands)
        return NOT_STANDING;
    return before == NOT_STANDING ? 0 : capped((int64_t)before + passed_ms);
}

static bool has_load(struct load load)
{
    return load.kind != LOAD_RELEASED;
}

static bool is_fresh(const struct limits *limits, const struct safety_inputs *in)
{
    return in->data_age_ms <= limits->data_stale_ms;
}

static bool between_start_and_end(const struct safety_inputs *in)
{
    return in->phase == PHASE_RIDING || in->phase == PHASE_HELD;
}

static bool before_the_end(const struct safety_inputs *in)
{
    return between_start_and_end(in) || in->phase == PHASE_READY || in->phase == PHASE_COUNT_IN;
}

/* ---- causes of a cut-off, as they stand now ---- */

static bool machine_says(const struct limits *limits, const struct safety_inputs *in)
{
    return before_the_end(in) && (in->safety_key || in->control_fault != CONTROL_FINE ||
                                  (in->link_lost && in->link_lost_ms > limits->link_lost_ms));
}

static bool is_silent(const struct limits *limits, const struct safety_inputs *in)
{
    return (in->phase == PHASE_RIDING || (in->phase == PHASE_HELD && in->hold == HOLD_NO_DATA)) &&
           in->silence_ms > limits->data_lost_ms;
}

static bool stood(int32_t standing_ms, uint32_t for_ms)
{
    return standing_ms != NOT_STANDING && (uint32_t)standing_ms >= for_ms;
}

static bool has_cause(const struct oracle *now, const struct limits *limits,
                      const struct safety_inputs *in, enum cut_off cut_off)
{
    const bool under_way = between_start_and_end(in);

    switch (cut_off) {
    case CUT_OFF_NONE: return true;
    case CUT_OFF_HEART: return under_way && in->heart_median_bpm > limits->heart_limit_bpm;
    case CUT_OFF_POWER: return under_way && stood(now->strong_ms, limits->over_for_ms);
    case CUT_OFF_CADENCE: return under_way && stood(now->fast_ms, limits->over_for_ms);
    case CUT_OFF_NO_DATA: return is_silent(limits, in);
    case CUT_OFF_LINK_LOST: return in->link_lost && in->link_lost_ms > limits->link_lost_ms;
    case CUT_OFF_UNANSWERED: return in->control_fault == CONTROL_UNANSWERED;
    case CUT_OFF_REFUSED: return in->control_fault == CONTROL_REFUSED;
    case CUT_OFF_CONTROL_LOST: return in->control_fault == CONTROL_LOST;
    case CUT_OFF_SAFETY_KEY: return in->safety_key;
    case CUT_OFF_TIME: return under_way && in->since_start_ms > limits->total_max_ms;
    case CUT_OFF_COUNT: return false;
    }
    return false;
}

/* ---- the history ---- */

static bool legs_turn(const struct limits *limits, const struct safety_inputs *in)
{
    if (!is_fresh(limits, in))
        return false;
    return in->cadence_known ? in->cadence_rpm >= limits->cadence_resume_rpm
                             : in->power_w >= limits->power_still_w;
}

static bool legs_stand(const struct limits *limits, const struct safety_inputs *in)
{
    return in->cadence_known ? in->cadence_rpm < limits->cadence_still_rpm
                             : in->power_w < limits->power_still_w;
}

static void remember(struct oracle *now, const struct oracle *before, const struct limits *limits,
                     uint32_t passed_ms, uint32_t read_before_ms, const struct safety_inputs *in)
{
    const bool fresh = is_fresh(limits, in);
    const bool riding = in->phase == PHASE_RIDING;
    /* Once slow, legs are slow until they are clear of the floor. */
    const int32_t floor_rpm =
        before->slow_ms != NOT_STANDING ? limits->cadence_clear_rpm : limits->cadence_floor_rpm;

    now->strong_ms =
        standing(before->strong_ms, fresh && in->power_w > limits->power_max_w, read_before_ms);
    now->fast_ms = standing(before->fast_ms, fresh && in->cadence_rpm > limits->cadence_max_rpm,
                            read_before_ms);
    now->slow_ms = standing(before->slow_ms,
                            riding && in->cadence_known && before->load_kind != LOAD_RELEASED &&
                                in->cadence_rpm < floor_rpm,
                            passed_ms);
    now->still_ms = standing(before->still_ms, riding && legs_stand(limits, in), passed_ms);
    if (stood(now->slow_ms, limits->floor_for_ms) || stood(now->still_ms, limits->still_for_ms))
        now->must_turn = true;
    /* Nobody is on the pedals, and may be off the bike. */
    if (in->phase == PHASE_HELD && fresh && legs_stand(limits, in))
        now->must_turn = true;
    if (legs_turn(limits, in))
        now->must_turn = false;
}

/* ---- the rules ---- */

static bool within_ramp(struct oracle *now, const struct oracle *before,
                        const struct limits *limits, uint32_t passed_ms, struct load load)
{
    const int32_t rate = load.kind == LOAD_LEVEL ? limits->ramp_tenths_per_s : limits->ramp_w_per_s;
    const bool same_kind = before->load_kind == (int32_t)load.kind;
    const int64_t from = same_kind ? before->load_value : 0;
    /* A late event must not buy a jump: half a second's worth at most. Less than a watt may have
     * been left over. */
    const int64_t passed = passed_ms < 500 ? passed_ms : 500;
    const int64_t least = load.kind == LOAD_LEVEL ? limits->load_min_tenths : limits->load_min_w;
    int64_t reach = from * 1000 + before->carry_thousandths + rate * passed;
    /* Below what the machine can do the climb goes on unseen. */
    if (before->load_kind == LOAD_RELEASED && reach < least * 1000 + rate * passed)
        reach = least * 1000 + rate * passed;
    const int64_t left = reach - (int64_t)load.value * 1000;

    now->carry_thousandths = left < 0 ? 0 : left > 999 ? 999 : (int32_t)left;
    return !has_load(load) || left >= 0;
}

static bool above_limit(const struct limits *limits, struct load load)
{
    return (load.kind == LOAD_POWER && load.value > limits->load_max_w) ||
           (load.kind == LOAD_LEVEL && load.value > limits->load_max_tenths);
}

static bool below_machine(const struct limits *limits, struct load load)
{
    return (load.kind == LOAD_POWER && load.value < limits->load_min_w) ||
           (load.kind == LOAD_LEVEL && load.value < limits->load_min_tenths) ||
           (has_load(load) && load.value <= 0);
}

static bool is_no_more_than(struct load load, struct load other)
{
    return !has_load(load) || (load.kind == other.kind && load.value <= other.value);
}

static bool lost_strap(const struct limits *limits, const struct safety_inputs *in)
{
    return in->in_work && in->heart_was_known && in->heart_age_ms > limits->heart_stale_ms;
}

static bool holds_are_right(const struct oracle *now, const struct limits *limits,
                            const struct safety_inputs *in, const struct safety_verdict *out)
{
    if (!between_start_and_end(in))
        return out->hold == HOLD_NONE;
    if (in->link_lost)
        return out->hold == HOLD_LINK;
    if (now->must_turn && !in->may_coast)
        return out->hold == HOLD_CADENCE;
    return out->hold == (is_fresh(limits, in) ? HOLD_NONE : HOLD_NO_DATA);
}

const char *oracle_check(struct oracle *oracle, const struct limits *limits, uint32_t passed_ms,
                         uint32_t read_before_ms, const struct safety_inputs *in,
                         struct load wanted, const struct safety_verdict *out)
{
    const struct oracle before = *oracle;
    const bool under_way = between_start_and_end(in);
    const bool loaded = has_load(out->load);
    const bool cut = out->cut_off != CUT_OFF_NONE;

    remember(oracle, &before, limits, passed_ms, read_before_ms, in);
    const bool broken[RULE_COUNT] = {
        [OLD_READINGS] = loaded && !is_fresh(limits, in),
        [NO_CONTROL] = loaded && !in->has_control,
        [ONLY_RIDING] = loaded && (in->phase != PHASE_RIDING || in->link_lost),
        [ABOVE_WANTED] = !is_no_more_than(out->load, wanted) &&
                         !(lost_strap(limits, in) && is_no_more_than(out->load, in->rest_load)),
        [ABOVE_LIMIT] = above_limit(limits, out->load),
        [BELOW_MACHINE] = below_machine(limits, out->load),
        [RAMP] = !within_ramp(oracle, &before, limits, passed_ms, out->load),
        [KINDS] = loaded && before.load_kind != LOAD_RELEASED &&
                  before.load_kind != (int32_t)out->load.kind,
        [CUT_OFF_LASTS] = before.cut_off != CUT_OFF_NONE && before.cut_off != (int32_t)out->cut_off,
        [CUT_OFF_NO_LOAD] = cut && loaded,
        [HEART] = under_way && in->heart_median_bpm > limits->heart_limit_bpm && !cut,
        [POWER] = under_way && stood(oracle->strong_ms, limits->over_for_ms) && !cut,
        [CADENCE] = under_way && stood(oracle->fast_ms, limits->over_for_ms) && !cut,
        [SILENCE] = is_silent(limits, in) && !cut,
        [MACHINE] = machine_says(limits, in) && !cut,
        [TIME] = under_way && in->since_start_ms > limits->total_max_ms && !cut,
        [CAUSE] = before.cut_off == CUT_OFF_NONE && !has_cause(oracle, limits, in, out->cut_off),
        [NO_STRAP] = lost_strap(limits, in) && !is_no_more_than(out->load, in->rest_load),
        [SLOW_LEGS] = loaded && stood(oracle->slow_ms, limits->floor_for_ms),
        [STILL_LEGS] =
            loaded && stood(oracle->still_ms, limits->still_for_ms) && !legs_turn(limits, in),
        [MUST_TURN] = loaded && oracle->must_turn,
        [HOLDS] = !holds_are_right(oracle, limits, in, out),
        [HEART_NEAR] = out->heart_near != (in->heart_age_ms <= limits->heart_stale_ms &&
                                           in->heart_bpm >= limits->heart_caution_bpm),
        [LOWERED] =
            loaded && !lost_strap(limits, in) && out->lowered != above_limit(limits, wanted),
    };

    oracle->load_kind = (int32_t)out->load.kind;
    oracle->load_value = out->load.value;
    oracle->cut_off = (int32_t)out->cut_off;
    for (size_t i = 0; i < RULE_COUNT; i++)
        if (broken[i])
            return rule_names[i];
    return NULL;
}
