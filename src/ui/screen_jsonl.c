#include "ui/screens.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "body/energy.h"
#include "ride/names.h"
#include "ui/view.h"

/* Puts the object on a line of its own and drops it. Reals have five digits: more than any sensor.
 */
static void put(const struct screen *screen, json_t *object)
{
    char *line = json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(7));

    json_decref(object);
    if (line == NULL)
        return;
    screen->sink.put(screen->sink.user, line, strlen(line));
    screen->sink.put(screen->sink.user, "\n", 1);
    free(line);
}

static json_t *object_of(const char *event, const struct ride *ride)
{
    json_t *object = json_object();
    json_object_set_new(object, "event", json_string(event));
    json_object_set_new(object, "t_ms", json_integer((json_int_t)ride->t_ms));
    return object;
}

static void set_integer(json_t *object, const char *key, int64_t value)
{
    json_object_set_new(object, key, json_integer(value));
}

static void set_text(json_t *object, const char *key, const char *text)
{
    json_object_set_new(object, key, text != NULL ? json_string(text) : json_null());
}

static void set_known(json_t *object, const char *key, bool known, int64_t value)
{
    json_object_set_new(object, key, known ? json_integer(value) : json_null());
}

static double rounded(double value, double unit)
{
    return (double)(int64_t)(value / unit + 0.5) * unit;
}

static void set_reserve(json_t *object, const struct ride_facts *facts)
{
    static const struct reserve nothing;
    const struct reserve *reserve = facts->reserve != NULL ? &facts->reserve->reserve : &nothing;

    set_known(object, "reserve_of_j", facts->reserve != NULL, (int64_t)reserve->w_prime_j);
    set_known(object, "reserve_above_w", facts->reserve != NULL,
              (int64_t)reserve->critical_power_w);
    set_text(object, "reserve_from", facts->reserve_from);
}

static void hello(struct screen *screen, const struct ride *ride, const struct ride_facts *facts)
{
    const struct plan *plan = &ride->setup.plan;
    json_t *object = object_of("hello", ride);

    screen->facts = facts;
    set_text(object, "program", "afterset");
    set_text(object, "version", facts->version);
    set_known(object, "ride_id", facts->ride_id != 0, facts->ride_id);
    set_text(object, "profile", plan->title);
    set_text(object, "bike", facts->bike);
    set_text(object, "strap", facts->strap);
    set_text(object, "power_sensor", facts->power);
    set_text(object, "cadence_sensor", facts->cadence);
    set_text(object, "fit", facts->fit);
    set_integer(object, "steps", (int64_t)plan->step_count);
    set_integer(object, "length_s", plan_length_ms(plan) / 1000);
    set_integer(object, "planned_s", plan_duration_ms(plan) / 1000);
    set_integer(object, "heart_limit_bpm", ride->limits.heart_limit_bpm);
    set_integer(object, "load_limit_w", ride->limits.load_max_w);
    set_reserve(object, facts);
    put(screen, object);
}

static void set_range(json_t *object, const char *low, const char *high,
                      const struct target_range *range)
{
    set_known(object, low, range->set, range->low);
    set_known(object, high, range->set, range->high);
}

static void set_level(json_t *object, const char *key, const struct target_range *range,
                      int32_t tenths)
{
    json_object_set_new(object, key, range->set ? json_real(tenths / 10.0) : json_null());
}

static void put_step(const struct screen *screen, const struct ride *ride, size_t index)
{
    const struct plan_step *step = &ride->setup.plan.steps[index];
    json_t *object = object_of("step", ride);

    set_integer(object, "index", (int64_t)index);
    set_text(object, "kind", step_kind_text(step->kind));
    set_integer(object, "duration_s", step->duration_ms / 1000);
    set_known(object, "round", step->rounds > 0, step->round);
    set_known(object, "rounds", step->rounds > 0, step->rounds);
    set_range(object, "power_low_w", "power_high_w", &step->targets.power_w);
    set_range(object, "cadence_low_rpm", "cadence_high_rpm", &step->targets.cadence_rpm);
    set_range(object, "heart_low_bpm", "heart_high_bpm", &step->targets.heart_bpm);
    set_level(object, "level_low", &step->targets.level_tenths, step->targets.level_tenths.low);
    set_level(object, "level_high", &step->targets.level_tenths, step->targets.level_tenths.high);
    set_range(object, "effort_low", "effort_high", &step->targets.effort);
    set_range(object, "to_power_low_w", "to_power_high_w", &step->ramp_to.power_w);
    set_level(object, "to_level_low", &step->ramp_to.level_tenths, step->ramp_to.level_tenths.low);
    set_level(object, "to_level_high", &step->ramp_to.level_tenths,
              step->ramp_to.level_tenths.high);
    set_text(object, "until", name_of(&until_names, step->end.until));
    set_known(object, "until_value", step->end.until != UNTIL_TIME, step->end.value);
    set_known(object, "reps", step->reps.reps > 0, step->reps.reps);
    set_known(object, "tempo", step->reps.reps > 0, step->reps.tempo);
    set_text(object, "cue", step->cue_text);
    put(screen, object);
}

static void put_sample(const struct screen *screen, const struct ride *ride,
                       const struct telemetry *sample)
{
    json_t *object = object_of("telemetry", ride);

    set_known(object, "power_w", sample->has & HAS_POWER, sample->power_w);
    set_known(object, "cadence_rpm", sample->has & HAS_CADENCE, sample->cadence_rpm);
    set_known(object, "heart_bpm", sample->has & HAS_HEART, sample->heart_bpm);
    set_known(object, "distance_m", sample->has & HAS_DISTANCE, sample->distance_m);
    put(screen, object);
}

static void put_load(const struct screen *screen, const struct ride *ride, struct load load)
{
    json_t *object = object_of("load", ride);

    set_text(object, "kind", name_of(&load_names, load.kind));
    set_known(object, "power_w", load.kind == LOAD_POWER, load.value);
    json_object_set_new(object, "level",
                        load.kind == LOAD_LEVEL ? json_real(load.value / 10.0) : json_null());
    put(screen, object);
}

static void put_reason(const struct screen *screen, const struct ride *ride, const char *event,
                       const char *key, const char *name, const char *text)
{
    json_t *object = object_of(event, ride);

    set_text(object, key, name);
    set_text(object, "text", text);
    put(screen, object);
}

static void put_hold(const struct screen *screen, const struct ride *ride, enum hold hold)
{
    json_t *object = object_of("hold", ride);

    json_object_set_new(object, "on", json_boolean(hold != HOLD_NONE));
    set_text(object, "reason", hold != HOLD_NONE ? name_of(&hold_names, hold) : NULL);
    set_text(object, "text", words_hold(hold, ride_turns_knob(ride)));
    put(screen, object);
}

static void set_energy(json_t *object, int64_t work_j)
{
    const struct energy_range energy = energy_range((double)work_j / 1000.0);

    set_integer(object, "work_j", work_j);
    json_object_set_new(object, "calories_kcal", json_real(rounded(energy.mid_kcal, 0.1)));
    json_object_set_new(object, "calories_low_kcal", json_real(rounded(energy.low_kcal, 0.1)));
    json_object_set_new(object, "calories_high_kcal", json_real(rounded(energy.high_kcal, 0.1)));
}

/* The steady-state equation beside our own estimate: a check on it, no better. */
static void set_acsm(json_t *object, const struct ride *ride, const struct summary *summary)
{
    const struct oxygen_cost cost =
        oxygen_cost(summary->average_power_w, ride->setup.rider.mass_kg);
    const bool known = ride->setup.rider.mass_kg > 0.0 && summary->duration_ms > 0;

    json_object_set_new(
        object, "acsm_kcal",
        known ? json_real(rounded(cost.kcal_min * summary->duration_ms / 60000.0, 0.1))
              : json_null());
    json_object_set_new(object, "acsm_extrapolated",
                        known ? json_boolean(cost.extrapolated) : json_null());
}

/* As the store has them. */
static void set_sources(json_t *object, const struct ride *ride)
{
    struct summary so_far = {0};

    totals_summary(&ride->totals, &so_far);
    const bool known = so_far.difference_error_tenths > 0;
    set_integer(object, "sensor_pct", so_far.sensor_pct);
    set_known(object, "difference_tenths", known, so_far.difference_tenths);
    set_known(object, "difference_error_tenths", known, so_far.difference_error_tenths);
}

static void put_sources(const struct screen *screen, const struct ride *ride)
{
    json_t *object = object_of("sources", ride);

    set_sources(object, ride);
    put(screen, object);
}

static void put_summary(const struct screen *screen, const struct ride *ride,
                        const struct summary *summary)
{
    json_t *object = object_of("summary", ride);
    const bool cut = summary->end == END_CUT_OFF;
    const bool has_heart = summary->max_heart_bpm > 0;

    set_known(object, "ride_id", screen->facts->ride_id != 0, screen->facts->ride_id);
    set_text(object, "profile", ride->setup.plan.title);
    set_integer(object, "skipped_steps", summary->skipped);
    json_object_set_new(object, "released", json_boolean(!summary->unreleased));
    json_object_set_new(object, "duration_s",
                        json_real(rounded(summary->duration_ms / 1000.0, 0.001)));
    set_energy(object, summary->work_j);
    set_acsm(object, ride, summary);
    set_integer(object, "average_power_w", summary->average_power_w);
    set_known(object, "work_power_w", summary->work_s > 0, summary->work_power_w);
    set_integer(object, "max_power_w", summary->max_power_w);
    set_integer(object, "distance_m", summary->distance_m);
    json_object_set_new(object, "in_range_pct",
                        summary->work_s > 0
                            ? json_real(rounded(100.0 * summary->in_range_s / summary->work_s, 0.1))
                            : json_null());
    set_known(object, "average_heart_bpm", has_heart, summary->average_heart_bpm);
    set_known(object, "max_heart_bpm", has_heart, summary->max_heart_bpm);
    set_known(object, "heart_fall_bpm", summary->heart_fall_bpm != 0, summary->heart_fall_bpm);
    set_known(object, "best_5s_w", summary->best_5s_w > 0, summary->best_5s_w);
    set_known(object, "best_30s_w", summary->best_30s_w > 0, summary->best_30s_w);
    set_known(object, "best_60s_w", summary->best_60s_w > 0, summary->best_60s_w);
    set_known(object, "best_180s_w", summary->best_180s_w > 0, summary->best_180s_w);
    set_sources(object, ride);
    set_text(object, "end", name_of(&end_names, summary->end));
    set_text(object, "reason",
             cut ? name_of(&cut_off_names, summary->cut_off)
                 : name_of(&reason_names, summary->reason));
    put(screen, object);
}

/* Numbers in the units of ride/mark.h: J, mW, m, ms, cal. */
static void put_mark(const struct screen *screen, const struct ride *ride)
{
    const struct mark *mark = screen->facts->mark;
    const struct mark_point now = mark_point_of(ride);
    const struct mark_state state = mark_state(mark, &now);
    json_t *object = object_of("mark", ride);

    set_text(object, "measure", mark_measure_text(mark->measure));
    set_integer(object, "block_ms", now.block_ms);
    set_integer(object, "ahead", state.ahead);
    set_integer(object, "finish", state.finish);
    set_integer(object, "finish_error", state.finish_error);
    json_object_set_new(object, "beaten", json_boolean(state.is_beaten));
    put(screen, object);
}

static void put_knob(const struct screen *screen, const struct ride *ride,
                     const struct effect *effect)
{
    json_t *object = object_of("knob", ride);

    set_text(object, "turn", name_of(&turn_names, effect->knob.turn));
    set_known(object, "by_w", effect->knob.turn != KNOB_LEAVE, effect->knob.by_w);
    set_integer(object, "in_ms", effect->knob.in_ms);
    set_known(object, "to", effect->knob.has_to, effect->knob.to);
    set_text(object, "text", view_knob(ride).text);
    put(screen, object);
}

/* Both models, held to 0 to 100; the first is what riders are shown. */
static void put_reserve(const struct screen *screen, const struct ride *ride)
{
    const struct reserve_run *run = screen->facts->reserve;
    json_t *object = object_of("reserve", ride);

    set_integer(object, "block_ms", ride->block_ms);
    set_integer(object, "differential_pct", reserve_percent(&run->reserve));
    set_integer(object, "integral_pct", reserve_integral_percent(&run->reserve));
    set_integer(object, "error_points",
                reserve_error_points(&run->reserve, run->w_prime_error_pct));
    put(screen, object);
}

static void effect(struct screen *screen, const struct ride *ride, const struct effect *effect)
{
    switch (effect->kind) {
    case EFFECT_COMMAND:
        if (effect->command.command == COMMAND_LOAD)
            put_load(screen, ride, effect->command.load);
        return;
    case EFFECT_PHASE: {
        json_t *object = object_of("phase", ride);
        set_text(object, "phase", name_of(&phase_names, effect->phase.phase));
        put(screen, object);
        return;
    }
    case EFFECT_STEP: put_step(screen, ride, (size_t)effect->step.index); return;
    case EFFECT_SAMPLE: put_sample(screen, ride, &effect->sample); return;
    case EFFECT_HOLD: put_hold(screen, ride, effect->hold.hold); return;
    case EFFECT_SHIFT: {
        json_t *object = object_of("shift", ride);
        set_integer(object, "shift_pct", effect->shift.shift_pct);
        put(screen, object);
        return;
    }
    case EFFECT_CAUTION:
        put_reason(screen, ride, "caution", "caution",
                   name_of(&caution_names, effect->caution.caution),
                   words_caution(effect->caution.caution, ride_turns_knob(ride)));
        return;
    case EFFECT_KNOB: put_knob(screen, ride, effect); return;
    case EFFECT_CUT_OFF:
        put_reason(screen, ride, "cut_off", "reason",
                   name_of(&cut_off_names, effect->cut_off.cut_off),
                   words_cut_off(effect->cut_off.cut_off));
        return;
    case EFFECT_SUMMARY:
        if (screen->facts->mark != NULL)
            put_mark(screen, ride);
        put_summary(screen, ride, &effect->summary);
        return;
    case EFFECT_KIND_COUNT: return;
    }
}

/* All else is in the effects already. */
static void second(struct screen *screen, const struct ride *ride)
{
    const bool is_due = ride->block_ms >= 1000 && ride->block_ms / 1000 % ASIDE_EVERY_S == 0;

    if (ride->phase != PHASE_RIDING || !is_due)
        return;
    if (screen->facts->mark != NULL)
        put_mark(screen, ride);
    if (screen->facts->reserve != NULL)
        put_reserve(screen, ride);
    if (screen->facts->power != NULL)
        put_sources(screen, ride);
}

/* A program has no hands. */
static void moment(struct screen *screen, const struct ride *ride, const struct screen_hands *hands)
{
    (void)screen;
    (void)ride;
    (void)hands;
}

void screen_jsonl(struct screen *screen, struct sink sink)
{
    static const struct screen_operations operations = {hello, effect, second, moment};
    *screen = (struct screen){.operations = &operations, .sink = sink};
}
