#include "acts.h"
#include "effects.h"

bool ride_turns_knob(const struct ride *ride)
{
    return ride->setup.tells_knob && ride->machine_known && !ride->control.is_used;
}

/* ---- its numbers ---- */

int32_t ride_knob_level(int32_t position)
{
    return (position + 1) * 10;
}

/* Of a machine that has levels of its own, though it does not tell them, the knob is none. */
static bool has_numbers(const struct ride *ride)
{
    return ride_turns_knob(ride) && !ride->control.machine.takes_level;
}

static void learn_on_scale(struct ride *ride, int32_t top, const struct brake_curve *curve)
{
    const struct hold_levels levels = {ride_knob_level(0), ride_knob_level(top), 10};

    if (!power_hold_has_levels(&ride->power_hold, &levels))
        power_hold_init(&ride->power_hold, &levels, curve);
    ride->power_hold.most_w = ride->limits.load_max_w;
}

void ride_recall_knob(struct ride *ride)
{
    const struct knob_place *place = &ride->setup.knob;

    if (!has_numbers(ride) || !place->is_known || ride->knob.place.is_known)
        return;
    ride->knob.place = *place;
    ride->knob.is_assumed = true;
    ride->knob.place.top = knob_top_for(place->position, place->top);
    learn_on_scale(ride, ride->knob.place.top, &ride->setup.brake);
}

static bool knows_curve(const struct ride *ride)
{
    const struct ride_setup *setup = &ride->setup;

    return ride->power_hold.learned_t_ms > 0 ||
           (brake_curve_is_known(&setup->brake) && ride->knob.place.top == setup->knob.top);
}

/* On another scale what was learned is worth nothing. A number typed by mistake is no other scale,
 * if one on the former scale follows soon. */
void ride_put_knob(struct ride *ride, int32_t position)
{
    struct knob_place *place = &ride->knob.place;
    struct knob_scale *former = &ride->knob_scale;

    if (!has_numbers(ride) || position < 0 || position > KNOB_TOP_MAX)
        return;
    const bool was_slip =
        former->top > 0 && position <= former->top && ride->t_ms - former->t_ms <= KNOB_SLIP_MS;
    if (was_slip)
        place->top = former->top;
    else if (place->is_known && position > place->top && knows_curve(ride))
        *former = (struct knob_scale){place->top, ride->t_ms, ride->power_hold.brake};
    knob_put(&ride->knob, ride->t_ms, position);
    learn_on_scale(ride, place->top, &(struct brake_curve){0});
    if (was_slip) {
        ride->power_hold.brake = former->brake;
        *former = (struct knob_scale){0};
    }
}

static double usual_cadence_rpm(const struct step_targets *targets)
{
    const struct target_range *rpm = &targets->cadence_rpm;

    return rpm->set ? (rpm->low + rpm->high) / 2.0 : BRAKE_USUAL_RPM;
}

/* At which the brake gives the middle of that power, if that is known well enough. */
static bool number_for(const struct ride *ride, const struct step_targets *targets, int32_t *ret)
{
    const struct power_hold *hold = &ride->power_hold;
    const struct target_range *rpm = &targets->cadence_rpm;
    const struct knob_place *place = &ride->knob.place;

    if (!ride_turns_knob(ride) || !place->is_known || place->top <= 0 || !targets->power_w.set)
        return false;
    const struct target_range range = ride_held_range(ride, &targets->power_w);
    const int32_t position = power_hold_level_for(hold, ride->t_ms, (range.low + range.high) / 2,
                                                  rpm->set ? rpm->low : 0) /
                                 10 -
                             1;
    const double share = (double)position / place->top;
    const double cadence_rpm = usual_cadence_rpm(targets);
    const double doubt_w = brake_model_power_w(&hold->brake, share, cadence_rpm) / BRAKE_DOUBT_PART;

    if (brake_model_variance_w2(&hold->brake, share, cadence_rpm) > doubt_w * doubt_w)
        return false;
    *ret = position;
    return true;
}

static int32_t number_w(const struct ride *ride, const struct step_targets *targets)
{
    const struct brake_model *brake = &ride->power_hold.brake;
    const struct knob_place *place = &ride->knob.place;
    int32_t to;

    if (!number_for(ride, targets, &to))
        return 0;
    const double cadence_rpm = usual_cadence_rpm(targets);
    const double share = 1.0 / place->top;
    const double one_w = brake_model_power_w(brake, (place->position + 1) * share, cadence_rpm) -
                         brake_model_power_w(brake, place->position * share, cadence_rpm);

    return one_w > 0 && one_w < INT16_MAX ? (int32_t)one_w : 0;
}

/* ---- what is asked ---- */

/* Of the next rest or cool-down, as for loads. */
static struct target_range rest_range(const struct plan *plan, size_t from)
{
    for (size_t i = from; i < plan->step_count; i++)
        if (plan->steps[i].kind == STEP_REST || plan->steps[i].kind == STEP_COOL_DOWN)
            return plan->steps[i].targets.power_w;
    return (struct target_range){0};
}

/* The strap that was heard is not any more. */
static bool is_unwatched(const struct ride *ride)
{
    return ride->heart_was_known &&
           !sensors_heart_rate(&ride->sensors, ride->t_ms, ride->limits.heart_stale_ms).known;
}

/* Where nobody watches the heart work is no more than a rest, as where loads are commanded: this
 * step and the next, so that nobody turns a brake up for what is not to be ridden. */
static struct step_targets asked_of(const struct ride *ride, size_t at, struct step_targets targets)
{
    const struct plan *plan = &ride->setup.plan;
    const struct target_range rest_w = rest_range(plan, at);

    if (plan->steps[at].kind == STEP_WORK && targets.power_w.set && is_unwatched(ride) &&
        rest_w.set && rest_w.high < targets.power_w.high)
        targets.power_w = rest_w;
    return targets;
}

/* Nothing after the last. */
static struct step_targets asked_next(const struct ride *ride)
{
    const struct plan *plan = &ride->setup.plan;
    const size_t next = ride->step + 1;

    return next < plan->step_count ? asked_of(ride, next, plan->steps[next].targets)
                                   : (struct step_targets){0};
}

static struct step_targets asked_here(const struct ride *ride)
{
    return asked_of(ride, ride->step, ride_targets(ride));
}

bool ride_knob_for(const struct ride *ride, size_t step, int32_t *ret)
{
    const struct step_targets targets = asked_of(ride, step, ride->setup.plan.steps[step].targets);

    return number_for(ride, &targets, ret);
}

#define LEGS_LOW_RPM  60
#define LEGS_HIGH_RPM 110

bool ride_cadence_for(const struct ride *ride, int32_t *ret)
{
    const struct step_targets targets = asked_here(ride);
    const struct target_range power_w = ride_held_range(ride, &targets.power_w);
    const struct target_range *rpm = &targets.cadence_rpm;
    const int32_t high_rpm = rpm->set ? rpm->high : LEGS_HIGH_RPM;
    const double wanted_w = (power_w.low + power_w.high) / 2.0;
    int32_t to;

    if (!number_for(ride, &targets, &to))
        return false;
    const double share = (double)ride->knob.place.position / ride->knob.place.top;
    /*@ loop variant high_rpm - cadence_rpm; */
    for (int32_t cadence_rpm = rpm->set ? rpm->low : LEGS_LOW_RPM; cadence_rpm <= high_rpm;
         cadence_rpm++) {
        const double at_w = brake_model_power_w(&ride->power_hold.brake, share, cadence_rpm);
        if (at_w < wanted_w && cadence_rpm < high_rpm)
            continue;
        *ret = cadence_rpm;
        return at_w >= power_w.low && at_w <= power_w.high;
    }
    return false;
}

/* ---- what is told ---- */

static uint32_t left_ms(const struct ride *ride)
{
    return ride->step_end_ms > ride->step_ms ? ride->step_end_ms - ride->step_ms : 0;
}

/* In a rest nobody has to work, nor in work where nobody watches the heart. */
static struct knob_asked asked_now(const struct ride *ride)
{
    const struct step_targets targets = asked_here(ride);
    const enum step_kind kind = ride->setup.plan.steps[ride->step].kind;
    struct knob_asked asked = {
        .cadence_rpm = targets.cadence_rpm,
        .wants_more = (kind == STEP_WORK && !ride->verdict.strap_lost) || kind == STEP_WARM_UP,
        .may_rise = !ride->verdict.heart_near,
        .step_ms = ride->step_ms,
        .left_ms = left_ms(ride),
    };

    asked.number_w = number_w(ride, &targets);
    if (targets.power_w.set && !ride_is_powerless(ride))
        asked.power_w = ride_held_range(ride, &targets.power_w);
    return asked;
}

/* A number only where the turn leads away from the present one. Until the rider says that it was
 * done nobody knows where the knob stands, and nothing is learned. */
static void set_to(struct ride *ride, enum knob_turn turn, const struct step_targets *targets)
{
    struct knob *knob = &ride->knob;
    const int32_t position = knob->place.position;

    if (turn != KNOB_UP && turn != KNOB_DOWN)
        return;
    knob->has_to = number_for(ride, targets, &knob->to) &&
                   (turn == KNOB_UP ? knob->to > position : knob->to < position);
    knob->is_told = false;
}

static void tell(const struct ride *ride, enum knob_turn turn, int32_t by_w, uint32_t in_ms,
                 struct effects *effects)
{
    const bool has_to = turn != KNOB_LEAVE && ride->knob.has_to;
    const struct effect effect = {
        .kind = EFFECT_KNOB,
        .knob = {turn, by_w, in_ms, has_to, has_to ? ride->knob.to : 0},
    };

    effects_add(effects, &effect);
}

/* In the range after a turn to a number that was asked for: it is there, to all appearances. */
static void assume_place(struct knob *knob)
{
    if (!knob->is_met || !knob->has_to)
        return;
    knob->place.position = knob->to;
    knob->is_assumed = true;
    knob->has_to = false;
}

static int32_t middle_w(const struct target_range *range)
{
    return (range->low + range->high) / 2;
}

/* Nothing else is said then. */
static void announce(struct ride *ride, enum knob_turn turn, struct effects *effects)
{
    const struct step_targets now = asked_here(ride), next = asked_next(ride);

    if (ride->knob.announced != KNOB_LEAVE)
        return;
    knob_begin(&ride->knob);
    ride->knob.announced = turn;
    set_to(ride, turn, &next);
    tell(ride, turn, middle_w(&next.power_w) - middle_w(&now.power_w), left_ms(ride), effects);
}

void ride_tell_knob(struct ride *ride, struct effects *effects)
{
    struct knob *knob = &ride->knob;

    if (ride->phase != PHASE_RIDING || !ride_turns_knob(ride)) {
        knob_begin(knob);
        return;
    }
    const enum knob_turn ahead = ride_turn_ahead(ride);
    const struct knob_asked asked = asked_now(ride);

    if (ahead != KNOB_LEAVE)
        announce(ride, ahead, effects);
    else if (knob_step(knob, ride->t_ms, &asked)) {
        const struct step_targets targets = asked_here(ride);

        set_to(ride, knob->turn, &targets);
        tell(ride, knob->turn, knob->turn == KNOB_LEAVE ? 0 : knob->off_w, 0, effects);
    }
    assume_place(knob);
}

enum knob_turn ride_turn_at_edge(const struct ride *ride)
{
    if (ride->phase != PHASE_RIDING || !ride_turns_knob(ride))
        return KNOB_LEAVE;

    const struct step_targets now = asked_here(ride), next = asked_next(ride);
    const enum knob_turn turn = knob_between(&now.power_w, &next.power_w);
    int32_t to;

    if (number_for(ride, &next, &to) && to == ride->knob.place.position)
        return KNOB_LEAVE;
    return turn == KNOB_UP && ride->verdict.heart_near ? KNOB_LEAVE : turn;
}

enum knob_turn ride_turn_ahead(const struct ride *ride)
{
    return left_ms(ride) > knob_ahead_ms(ride->step_end_ms) ? KNOB_LEAVE : ride_turn_at_edge(ride);
}
