#include "ui/view.h"

#include "base/text.h"
#include "ride/mark.h"
#include "step_text.h"
#include "trouble.h"
#include "ui/verdict.h"

/* ---- lines ---- */

static struct text_writer writer_of(struct view_line *line)
{
    return text_writer(line->text, sizeof line->text);
}

struct view_line view_reserve(const struct reserve_run *run)
{
    const struct reserve *reserve = &run->reserve;
    const uint32_t error_points = reserve_error_points(reserve, run->w_prime_error_pct);
    struct view_line line = {""};
    struct text_writer writer = writer_of(&line);

    if (error_points == 0) {
        text_put(&writer, "full");
        return line;
    }
    text_put(&writer, "about ");
    text_put_unsigned(&writer, reserve_percent(reserve));
    text_put(&writer, " % +- ");
    text_put_unsigned(&writer, error_points);
    return line;
}

static void put_upper(struct text_writer *writer, const char *text)
{
    static const char upper[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";

    for (; *text != '\0'; text++) {
        if (*text >= 'a' && *text <= 'z')
            text_put_char(writer, upper[*text - 'a']);
        else
            text_put_char(writer, *text);
    }
}

/* ---- readings ---- */

enum stand stand_of(bool known, int32_t value, const struct target_range *range)
{
    if (!known || !range->set)
        return STAND_UNKNOWN;
    if (value < range->low)
        return STAND_LOW;
    return value > range->high ? STAND_HIGH : STAND_IN_RANGE;
}

static struct view_reading reading_of(bool known, int32_t value, const struct target_range *range)
{
    struct view_reading reading = {.known = known, .value = known ? value : 0};

    if (range != NULL) {
        reading.range = *range;
        reading.stand = stand_of(known, value, range);
    }
    return reading;
}

static void set_readings(const struct ride *ride, struct view *view)
{
    const struct sensors *sensors = &ride->sensors;
    /* While it is held nothing is asked of the legs. */
    const struct plan_step *step = ride->phase == PHASE_RIDING ? ride_current_step(ride) : NULL;
    const struct step_targets now = ride_asked(ride);
    const struct step_targets *targets = step != NULL ? &now : NULL;
    /* Without the strap there is rest load, whatever the plan asks. */
    const struct target_range *power_w =
        step != NULL && !ride->verdict.strap_lost ? &now.power_w : NULL;
    const uint32_t stale_ms = ride->limits.data_stale_ms;
    const bool has_power =
        reading_is_fresh(&sensors->power_w, ride->t_ms, stale_ms) && !ride_is_powerless(ride);
    const struct reading heart =
        sensors_heart_rate(sensors, ride->t_ms, ride->limits.heart_stale_ms);

    view->power_w = reading_of(has_power, sensors->power_w.value, power_w);
    view->cadence_rpm =
        reading_of(reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, stale_ms),
                   sensors->cadence_rpm.value, targets != NULL ? &targets->cadence_rpm : NULL);
    view->heart_bpm =
        reading_of(heart.known, heart.value, targets != NULL ? &targets->heart_bpm : NULL);
    view->heart_limit_bpm = ride->limits.heart_limit_bpm;
}

static void set_large(const struct ride *ride, struct view *view)
{
    const bool by_cadence = ride_is_powerless(ride) && view->cadence_rpm.known;
    const int32_t rep = step_rep(ride);

    view->large = by_cadence ? view->cadence_rpm : view->power_w;
    view->large_unit = by_cadence ? "rpm" : "W";
    if (ride->phase == PHASE_FLOOR) {
        view->large = reading_of(rep > 0, rep, NULL);
        view->large_unit = rep > 0 ? "rep" : "";
    }
}

/* ---- step, next, so far ---- */

/* Where it stands need not be asked then; after the ride it is to be turned all the same. */
static bool is_knob_told(const struct ride *ride)
{
    return ride->phase == PHASE_READY && ride->knob.place.is_known && !ride->knob.is_assumed;
}

static void set_heading(const struct ride *ride, struct view *view)
{
    const struct plan_step *step = ride_current_step(ride);
    const bool is_held = ride->hold != HOLD_NONE && ride->phase <= PHASE_HELD;
    struct text_writer writer = writer_of(&view->heading);

    if ((ride->phase == PHASE_RIDING || ride->phase == PHASE_FLOOR) && step != NULL && !is_held) {
        const struct view_line text = view_step(step);
        put_upper(&writer, text.text);
    } else {
        put_upper(&writer, words_phase(is_held ? PHASE_HELD : ride->phase));
        if (step != NULL) {
            text_put(&writer, " in ");
            step_put(&writer, step);
        }
    }
    writer = writer_of(&view->advice);
    if (is_held)
        text_put(&writer, words_hold(ride->hold, view->by_hand));
    else if (step != NULL && step->cue_text[0] != '\0')
        text_put(&writer, step->cue_text);
    else
        text_put(&writer, words_to_do(ride->phase, view->by_hand && !is_knob_told(ride)));
}

/* What is asked of the legs is a cadence, and no power that anything measures. */
static bool is_by_cadence(const struct ride *ride)
{
    const struct step_targets targets = ride_targets(ride);

    return ride->phase == PHASE_RIDING && ride_current_step(ride) != NULL &&
           (!targets.power_w.set || ride_is_powerless(ride)) && targets.cadence_rpm.set;
}

static void set_target(const struct ride *ride, struct view *view)
{
    const struct plan_step *step = ride_current_step(ride);
    const struct step_targets targets = step_spared(ride, ride_asked(ride));
    const struct view_line left = view_left(ride);
    struct text_writer writer = writer_of(&view->target);

    view->by_cadence = is_by_cadence(ride);
    text_put(&writer, view_repetition(ride).text);
    text_put(&writer, step_load_word(ride));
    if (step != NULL) {
        const struct step_targets to = step_spared(ride, ride_shifted(ride, &step->ramp_to));

        step_put_ramp(&writer, "target ", &targets.power_w, &to.power_w, 0, " W");
        step_put_ramp(&writer, writer.length > 0 ? ", level " : "level ", &targets.level_tenths,
                      &to.level_tenths, 1, "");
        step_put_ramp(&writer, writer.length > 0 ? ", effort " : "effort ", &targets.effort,
                      &to.effort, 0, " of 10");
    }
    if (view->by_cadence)
        step_put_ramp(&writer, writer.length > 0 ? ", cadence " : "cadence ", &targets.cadence_rpm,
                      &step->ramp_to.cadence_rpm, 0, " rpm");
    view_put_brake(&writer, ride);
    text_put(&writer, left.text[0] != '\0' && writer.length > 0 ? ", " : "");
    text_put(&writer, left.text);
    if (ride->shift_pct == 0 || ride->phase > PHASE_HELD)
        return;
    text_put(&writer, step != NULL && writer.length > 0 ? ", load " : "load ");
    if (ride->shift_pct > 0)
        text_put_char(&writer, '+');
    text_put_signed(&writer, ride->shift_pct);
    text_put(&writer, " %");
}

static void set_next(const struct ride *ride, struct view *view)
{
    const struct plan *plan = &ride->setup.plan;
    struct text_writer writer = writer_of(&view->next);

    if (ride->phase < PHASE_RIDING && ride_current_step(ride) == NULL)
        step_put_ahead(&writer, "first ", ride, &plan->steps[ride->step]);
    else if (ride->phase <= PHASE_HELD)
        view->next = view_after(ride, ride->step);
}

static void put_source(struct text_writer *writer, const char *what, const char *name)
{
    if (name == NULL)
        return;
    text_put(writer, what);
    text_put(writer, name);
}

/* Before the start it is who rides with whom. */
static void set_so_far(const struct ride *ride, const struct ride_facts *facts, struct view *view)
{
    struct text_writer writer = writer_of(&view->so_far);
    const bool is_powerless = ride_is_powerless(ride);
    struct summary so_far = {0};

    if (ride->phase < PHASE_RIDING) {
        text_put(&writer, "bike ");
        text_put(&writer, facts->bike);
        put_source(&writer, "   strap ", facts->strap);
        put_source(&writer, "   power ", facts->power);
        put_source(&writer, "   cadence ", facts->cadence);
        text_put(&writer, "   load limit ");
        text_put_signed(&writer, ride->limits.load_max_w);
        text_put(&writer, ride->machine_known ? " W" : " W at most");
        return;
    }
    totals_summary(&ride->totals, &so_far);
    text_put(&writer, is_powerless ? "no power is told   work " : "work ");
    text_put_fixed(&writer, so_far.work_j / 100, 1);
    text_put(&writer, " kJ");
    if (so_far.work_s > 0 && !is_powerless) {
        /* What is counted goes by the plan, what the needle shows by the shift. */
        text_put(&writer, ride->shift_pct != 0 ? "   plan's range " : "   in range ");
        text_put_signed(&writer, so_far.in_range_s);
        text_put(&writer, " of ");
        text_put_signed(&writer, so_far.work_s);
        text_put(&writer, " s");
    }
    text_put(&writer, "   ");
    text_put_signed(&writer, so_far.distance_m);
    text_put(&writer, " m");
    if (facts->reserve != NULL && !is_powerless) {
        text_put(&writer, "   reserve ");
        text_put(&writer, view_reserve(facts->reserve).text);
    }
}

/* The recovery only once no more work comes: in a rest the next step counts for more. What two
 * sources make of the power only where nothing else is to be said. */
static void set_aside(const struct ride *ride, const struct ride_facts *facts, struct view *view)
{
    const struct plan_step *step = ride_current_step(ride);
    const struct recovery *recovery = &ride->totals.recovery;
    const uint32_t left_ms = recovery_left_ms(recovery, ride->t_ms);
    const struct power_difference difference = two_powers_difference(&ride->totals.powers);
    struct text_writer writer = writer_of(&view->aside);
    char reads[WORDS_SENSOR_SIZE];

    if (left_ms > 0 && view->heart_bpm.known && (step == NULL || step->kind == STEP_COOL_DOWN)) {
        const int32_t fall_bpm = recovery->from_bpm - view->heart_bpm.value;

        text_put(&writer, "Heart ");
        text_put(&writer, words_heart_way(fall_bpm));
        text_put(&writer, " by ");
        text_put_signed(&writer, fall_bpm < 0 ? -fall_bpm : fall_bpm);
        text_put(&writer, " bpm since the work, ");
        text_put_unsigned(&writer, (left_ms + 999) / 1000);
        text_put(&writer, " s to count.");
    } else if (facts->mark != NULL && (ride->phase == PHASE_RIDING || ride->phase == PHASE_HELD)) {
        const struct mark_point now = mark_point_of(ride);
        const struct mark_state state = mark_state(facts->mark, &now);
        verdict_mark(facts->mark, &state, false, view->aside.text, sizeof view->aside.text);
    } else if (ride->phase == PHASE_RIDING && power_difference_matters(&difference)) {
        text_put(&writer, "The power sensor reads ");
        text_put(&writer, words_difference(difference.tenths, difference.error_tenths, reads));
        text_put(&writer, ".");
    }
}

static void set_plan(const struct ride *ride, struct view *view)
{
    const struct plan *plan = &ride->setup.plan;

    view->plan = plan;
    view->plan_ms = plan_duration_ms(plan);
    view->block_ms = ride->block_ms;
    for (size_t i = plan_floor_steps(plan); i < ride->step && i < plan->step_count; i++)
        view->plan_at_ms += plan->steps[i].duration_ms;
    if (ride->phase > PHASE_FLOOR)
        view->plan_at_ms += ride->step_ms;
    if (ride->phase < PHASE_EASY)
        view->whole_ms = view->block_ms + (view->plan_ms - view->plan_at_ms);
}

static uint32_t left_of(uint64_t of_ms, uint64_t passed_ms)
{
    return passed_ms < of_ms ? (uint32_t)((of_ms - passed_ms + 999) / 1000) : 0;
}

static void set_countdown(const struct ride *ride, struct view *view)
{
    const uint64_t in_phase_ms = ride->t_ms - ride->phase_t_ms;

    view->countdown_of = words_countdown(ride->phase);
    view->counts_down = view->countdown_of[0] != '\0';
    switch (ride->phase) {
    case PHASE_COUNT_IN: view->countdown_s = left_of(COUNT_IN_MS, in_phase_ms); return;
    case PHASE_FLOOR:
        if (ride->floor_lead_ms > 0) {
            view->countdown_s = left_of(ride->floor_lead_ms, 0);
            return;
        }
        view->countdown_s = left_of(ride->step_end_ms, ride->step_ms);
        return;
    case PHASE_RIDING: view->countdown_s = left_of(ride->step_end_ms, ride->step_ms); return;
    case PHASE_HELD: view->countdown_s = left_of(ride->limits.hold_max_ms, in_phase_ms); return;
    case PHASE_EASY: view->countdown_s = left_of(ride->limits.easy_max_ms, in_phase_ms); return;
    case PHASE_CONNECTING:
    case PHASE_READY:
    case PHASE_LEAVING:
    case PHASE_ENDED:
    case PHASE_COUNT: return;
    }
}

/* ---- what must be seen ---- */

/* In the order of the enum: the heart comes first, hints last. A cut-off has the floor alone. */
static void set_cautions(const struct ride *ride, const struct screen_hands *hands,
                         struct view *view)
{
    if (view->cut_off != CUT_OFF_NONE)
        return;
    for (unsigned i = 0; i < CAUTION_COUNT && view->caution_count < VIEW_CAUTIONS_MAX; i++) {
        const uint64_t given_t_ms = ride->caution_t_ms[i];
        if (given_t_ms != 0 && given_t_ms >= hands->woken_t_ms &&
            ride->t_ms - given_t_ms < VIEW_CAUTION_MS)
            view->cautions[view->caution_count++] = (enum caution)i;
    }
}

static void add_key(struct view *view, const char *key, const char *does)
{
    view->keys[view->key_count++] = (struct view_key){key, does};
}

static void set_keys(const struct ride *ride, struct view *view)
{
    const bool is_under_way = ride->phase == PHASE_RIDING || ride->phase == PHASE_HELD;

    if (ride->phase >= PHASE_LEAVING)
        return;
    add_key(view, "s", is_under_way ? "stop" : "leave");
    if (view->cut_off != CUT_OFF_NONE)
        add_key(view, "Enter", "seen");
    if (ride_waits_for_key(ride))
        add_key(view, "space", "go on");
    else if (ride->phase == PHASE_RIDING || ride->phase == PHASE_FLOOR)
        add_key(view, "space", "hold");
    if (ride->phase <= PHASE_HELD)
        add_key(view, view->by_hand ? "0..9 + -" : "+ -",
                view->by_hand             ? "knob"
                : ride_goes_by_feel(ride) ? "level"
                                          : "load");
    if (ride->phase == PHASE_RIDING || ride->phase == PHASE_FLOOR)
        add_key(view, "n n", "next step");
    add_key(view, "m", view->is_muted ? "sound" : "mute");
}

void view_set(const struct ride *ride, const struct ride_facts *facts,
              const struct screen_hands *hands, struct view *ret)
{
    *ret = (struct view){.phase = ride->phase,
                         .by_hand = ride_turns_knob(ride),
                         .knob = view_knob(ride),
                         .asks_to_skip = hands->asks_to_skip && (ride->phase == PHASE_RIDING ||
                                                                 ride->phase == PHASE_FLOOR),
                         .is_muted = hands->is_muted};
    if (!hands->saw_cut_off)
        ret->cut_off = ride->safety.cut_off;
    set_plan(ride, ret);
    set_heading(ride, ret);
    set_readings(ride, ret);
    set_large(ride, ret);
    set_target(ride, ret);
    set_next(ride, ret);
    set_countdown(ride, ret);
    const struct view_sources sources = view_sources(ride, facts);
    ret->sources = view_sources_line(&sources);
    set_so_far(ride, facts, ret);
    set_aside(ride, facts, ret);
    set_cautions(ride, hands, ret);
    ret->trouble = trouble_line(ride, ret);
    set_keys(ride, ret);
}
