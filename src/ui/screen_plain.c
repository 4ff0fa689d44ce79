#include "ui/screens.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plain_say.h"
#include "step_text.h"
#include "ui/verdict.h"
#include "ui/view.h"
#include "ui/wrap.h"

/* A line that is broken goes on so far in, for one to see that it is the same one. */
#define LINE_INDENT 2u

void plain_say(const struct screen *screen, const char *format, ...)
{
    char line[1024];
    va_list arguments;

    va_start(arguments, format);
    const int length = vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    if (length > 0)
        wrap_put(screen->sink, line,
                 (size_t)length < sizeof line ? (size_t)length : sizeof line - 1, LINE_INDENT);
}

struct clock_text plain_clock(uint32_t ms)
{
    struct clock_text clock;
    (void)snprintf(clock.text, sizeof clock.text, "%" PRIu32 ":%02" PRIu32, ms / 60000,
                   ms / 1000 % 60);
    return clock;
}

struct range_text {
    char text[64];
};

static struct range_text range_of(const char *before, const struct target_range *range,
                                  const char *unit)
{
    struct range_text text = {""};
    if (range->set)
        (void)snprintf(text.text, sizeof text.text, "%s%" PRId32 "..%" PRId32 "%s", before,
                       range->low, range->high, unit);
    return text;
}

static void say_source(struct screen *screen, const char *what, const char *name)
{
    if (name != NULL)
        plain_say(screen, "%s: %s.", what, name);
}

static void hello(struct screen *screen, const struct ride *ride, const struct ride_facts *facts)
{
    const struct plan *plan = &ride->setup.plan;

    screen->facts = facts;
    plain_say(screen, "%s: %s of intervals, %s in all.\nBike: %s.", plan->title,
              plain_clock(plan_length_ms(plan)).text, plain_clock(plan_duration_ms(plan)).text,
              facts->bike);
    say_source(screen, " Strap", facts->strap);
    plain_say(screen, "\n");
    say_source(screen, "Power from", facts->power);
    say_source(screen, facts->power != NULL ? " Cadence from" : "Cadence from", facts->cadence);
    plain_say(screen, facts->power != NULL || facts->cadence != NULL ? "\n" : "");
    if (plan_floor_ms(plan) > 0)
        plain_say(screen, "Before it: %s off the bike.\n%s\n",
                  plain_clock(plan_floor_ms(plan)).text, words_to_do(PHASE_FLOOR, false));
    if (facts->fit != NULL)
        plain_say(screen, "Today: %s.\n", facts->fit);
    if (facts->reserve != NULL)
        plain_say(screen, "Reserve: an estimate of what is left of %.1f kJ above %.0f W, %s.\n",
                  facts->reserve->reserve.w_prime_j / 1000,
                  facts->reserve->reserve.critical_power_w, facts->reserve_from);
    plain_say(screen,
              "Heart rate limit %" PRId32 " bpm, load limit %" PRId32 " W, less where the bike has "
              "less.\n%s",
              ride->limits.heart_limit_bpm, ride->limits.load_max_w, words_each_ride);
}

static struct range_text level_of(const char *before, const struct target_range *range)
{
    struct range_text text = {""};
    if (range->set)
        (void)snprintf(text.text, sizeof text.text, "%s%.1f..%.1f", before, range->low / 10.0,
                       range->high / 10.0);
    return text;
}

/* A range, and where it leads. */
static struct range_text ramp_of(const char *before, const struct target_range *range,
                                 const struct target_range *to, const char *unit)
{
    struct range_text text = range_of(before, range, to->set ? "" : unit);
    const size_t length = strlen(text.text);
    (void)snprintf(text.text + length, sizeof text.text - length, "%s",
                   range_of(" to ", to, unit).text);
    return text;
}

/* What comes after it goes on a line of its own where one is too narrow. */
static void say_step(const struct screen *screen, const struct ride *ride, size_t index)
{
    const struct plan_step *step = &ride->setup.plan.steps[index];
    const struct step_targets targets = step_spared(ride, ride_shifted(ride, &step->targets));
    const struct step_targets to = step_spared(ride, ride_shifted(ride, &step->ramp_to));
    const char *load = step_load_word(ride);
    const struct view_line after = view_after(ride, index);
    char line[640];

    (void)snprintf(
        line, sizeof line, "%s %s for %s%s%s%s%s%s%s%s%s", plain_clock(ride->block_ms).text,
        view_step(step).text, view_duration(step).text, load[0] != '\0' ? ", " : "", load,
        ramp_of(", ", &targets.power_w, &to.power_w, " W").text,
        ramp_of(", ", &targets.cadence_rpm, &to.cadence_rpm, " rpm").text,
        ramp_of(", heart ", &targets.heart_bpm, &to.heart_bpm, " bpm").text,
        level_of(", level ", &targets.level_tenths).text, level_of(" to ", &to.level_tenths).text,
        ramp_of(", effort ", &targets.effort, &to.effort, " of 10").text);
    plain_say(screen, "%s;%s%s\n", line,
              strlen(line) + strlen(after.text) + 2 > wrap_columns(screen->sink) ? "\n  " : " ",
              after.text);
    if (step->cue_text[0] != '\0')
        plain_say(screen, "%s\n", step->cue_text);
}

static void say_phase(const struct screen *screen, const struct ride *ride, enum phase phase)
{
    switch (phase) {
    case PHASE_FLOOR:
    case PHASE_READY:
    case PHASE_COUNT_IN:
    case PHASE_EASY: plain_say(screen, "%s\n", words_to_do(phase, ride_turns_knob(ride))); return;
    case PHASE_CONNECTING:
    case PHASE_RIDING:
    case PHASE_HELD:
    case PHASE_LEAVING:
    case PHASE_ENDED:
    case PHASE_COUNT: return;
    }
}

void plain_mark(const struct screen *screen, const struct ride *ride, bool has_ended)
{
    const struct mark_point now = mark_point_of(ride);
    const struct mark_state state = mark_state(screen->facts->mark, &now);
    char line[VERDICT_LINE_MAX];

    verdict_mark(screen->facts->mark, &state, has_ended, line, sizeof line);
    plain_say(screen, "%s%s.\n", has_ended ? "" : "Mark: ", line);
}

static void effect(struct screen *screen, const struct ride *ride, const struct effect *effect)
{
    switch (effect->kind) {
    case EFFECT_PHASE: say_phase(screen, ride, effect->phase.phase); return;
    case EFFECT_STEP: say_step(screen, ride, (size_t)effect->step.index); return;
    case EFFECT_HOLD:
        plain_say(screen, "%s\n", words_hold(effect->hold.hold, ride_turns_knob(ride)));
        return;
    case EFFECT_SHIFT:
        plain_say(screen, "Your shift of the load: %+" PRId32 " %%.\n", effect->shift.shift_pct);
        return;
    case EFFECT_CAUTION:
        plain_say(screen, "Caution: %s\n",
                  words_caution(effect->caution.caution, ride_turns_knob(ride)));
        return;
    case EFFECT_CUT_OFF:
        plain_say(screen, "CUT OFF: %s.\n%s\n", words_cut_off(effect->cut_off.cut_off),
                  words_load_at(effect->cut_off.cut_off, ride_turns_knob(ride)));
        return;
    case EFFECT_KNOB: plain_say(screen, "%s\n", view_knob(ride).text); return;
    case EFFECT_SUMMARY: plain_summary(screen, ride, &effect->summary); return;
    case EFFECT_COMMAND:
    case EFFECT_SAMPLE:
    case EFFECT_KIND_COUNT: return;
    }
}

struct value_text {
    char text[20];
};

static struct value_text value_of(const struct view_reading *reading)
{
    struct value_text text = {"no"};
    if (reading->known)
        (void)snprintf(text.text, sizeof text.text, "%" PRId32, reading->value);
    return text;
}

/* Where it stands to what is asked, in a word. */
static struct value_text stand_text(const struct view_reading *reading, const char *more)
{
    struct value_text text = {""};
    if (reading->stand != STAND_UNKNOWN)
        (void)snprintf(text.text, sizeof text.text, " (%s%s)", words_stand(reading->stand), more);
    return text;
}

/* Where a knob has no nearer number, in two. Of work that is not to be ridden nothing: a knob that
 * is to be eased is told of by itself. */
static struct value_text judge_power(const struct ride *ride, const struct view_reading *power_w)
{
    const char *rest_load = step_load_word(ride);
    const bool is_nearest =
        power_w->stand != STAND_IN_RANGE && ride_turns_knob(ride) && ride->knob.is_nearest;
    struct value_text text = stand_text(power_w, is_nearest ? ", nearest" : "");

    if (power_w->known && rest_load[0] != '\0')
        (void)snprintf(text.text, sizeof text.text, " (%s)", rest_load);
    return text;
}

/* Beside a power that is judged only where it is not as asked. */
static struct value_text judge_cadence(const struct view *view)
{
    struct view_reading cadence_rpm = view->cadence_rpm;

    if (cadence_rpm.stand == STAND_IN_RANGE && !view->by_cadence)
        cadence_rpm.stand = STAND_UNKNOWN;
    return stand_text(&cadence_rpm, "");
}

/* ", level 7.5", once it is another. */
static struct value_text new_level(struct screen *screen, const struct ride *ride)
{
    const int32_t level_tenths = ride_level_set(ride);
    struct value_text text = {""};

    if (level_tenths > 0 && level_tenths != screen->level_told_tenths)
        (void)snprintf(text.text, sizeof text.text, ", level %.1f", level_tenths / 10.0);
    screen->level_told_tenths = level_tenths;
    return text;
}

/* " (bike's)", where that stands in for the sensor that was named. */
static struct range_text of_source(const char *source)
{
    struct range_text text = {""};

    if (source != NULL)
        (void)snprintf(text.text, sizeof text.text, " (%s's)", source);
    return text;
}

/* Only once no more work comes: in a rest the next step counts for more. */
static struct range_text recovery_of(const struct ride *ride, const struct view_reading *heart_bpm)
{
    const struct plan_step *step = ride_current_step(ride);
    const struct recovery *recovery = &ride->totals.recovery;
    const uint32_t left_ms = recovery_left_ms(recovery, ride->t_ms);
    const int32_t fall_bpm = recovery->from_bpm - heart_bpm->value;
    struct range_text text = {""};

    if (left_ms > 0 && heart_bpm->known && (step == NULL || step->kind == STEP_COOL_DOWN))
        (void)snprintf(text.text, sizeof text.text, " (%s %" PRId32 ", %" PRIu32 " s to count)",
                       words_heart_way(fall_bpm), abs(fall_bpm), (left_ms + 999) / 1000);
    return text;
}

static uint32_t easy_left_ms(const struct ride *ride)
{
    const uint64_t passed_ms = ride->t_ms - ride->phase_t_ms;

    return passed_ms < ride->limits.easy_max_ms ? ride->limits.easy_max_ms - (uint32_t)passed_ms
                                                : 0;
}

static void say_repetition(const struct screen *screen, const struct ride *ride)
{
    const struct view_line text = view_repetition(ride);

    if (text.text[0] != '\0')
        plain_say(screen, "%s\n", text.text);
}

struct left_text {
    char text[256];
};

static struct left_text left_of(const struct ride *ride, const struct plan_step *step)
{
    const struct view_line to_end = view_left(ride);
    struct left_text left;

    if (step != NULL)
        (void)snprintf(left.text, sizeof left.text, "%" PRIu32 " s left of %s%s%s",
                       (ride->step_end_ms - ride->step_ms + 999) / 1000, view_step(step).text,
                       to_end.text[0] != '\0' ? ", " : "", to_end.text);
    else
        (void)snprintf(left.text, sizeof left.text, "%s left of riding out",
                       plain_clock(easy_left_ms(ride)).text);
    return left;
}

/* What matters most first: how long still, and whether it is enough. */
static void second(struct screen *screen, const struct ride *ride)
{
    const struct view_sources sources = view_sources(ride, screen->facts);
    struct summary so_far = {0};
    struct view view;

    if (ride->phase == PHASE_FLOOR)
        say_repetition(screen, ride);
    if (ride->phase != PHASE_RIDING && ride->phase != PHASE_EASY)
        return;
    totals_summary(&ride->totals, &so_far);
    view_set(ride, screen->facts, &screen->hands, &view);
    plain_say(screen, "%s %s: %s W%s%s%s, %s rpm%s%s, heart %s bpm%s%s%s, %.1f kJ\n",
              plain_clock(ride->block_ms).text, left_of(ride, ride_current_step(ride)).text,
              value_of(&view.power_w).text, of_source(sources.power).text,
              judge_power(ride, &view.power_w).text, new_level(screen, ride).text,
              value_of(&view.cadence_rpm).text, of_source(sources.cadence).text,
              judge_cadence(&view).text, value_of(&view.heart_bpm).text,
              of_source(sources.heart).text, stand_text(&view.heart_bpm, "").text,
              recovery_of(ride, &view.heart_bpm).text, (double)so_far.work_j / 1000.0);
}

static void tell_of_silence(struct screen *screen, const struct ride *ride)
{
    const struct view_line text = view_silence(ride);

    if (screen->silence_is_told || text.text[0] == '\0')
        return;
    screen->silence_is_told = true;
    plain_say(screen, "%s\n", text.text);
}

static void tell_of_mark(struct screen *screen, const struct ride *ride, bool is_due)
{
    const struct mark_point now = mark_point_of(ride);

    if (is_due)
        plain_mark(screen, ride, false);
    if (!screen->mark_is_beaten && mark_state(screen->facts->mark, &now).is_beaten) {
        screen->mark_is_beaten = true;
        plain_say(screen, "The mark is beaten.\n");
    }
}

static void tell_of_difference(struct screen *screen, const struct ride *ride)
{
    const struct power_difference difference = two_powers_difference(&ride->totals.powers);
    char text[WORDS_SENSOR_SIZE];

    if (screen->difference_is_told || !power_difference_matters(&difference))
        return;
    screen->difference_is_told = true;
    const char *far_off = words_far_off(difference.tenths, difference.error_tenths);
    plain_say(screen, "The power sensor reads %s.%s%s\n",
              words_difference(difference.tenths, difference.error_tenths, text),
              far_off[0] != '\0' ? " " : "", far_off);
}

static void second_and_asides(struct screen *screen, const struct ride *ride)
{
    const struct ride_facts *facts = screen->facts;
    const bool is_due = ride->block_ms >= 1000 && ride->block_ms / 1000 % ASIDE_EVERY_S == 0;

    second(screen, ride);
    tell_of_silence(screen, ride);
    if (ride->phase != PHASE_RIDING)
        return;
    if (facts->mark != NULL)
        tell_of_mark(screen, ride, is_due);
    if (facts->reserve != NULL && is_due && !ride_is_powerless(ride))
        plain_say(screen, "Reserve: %s.\n", view_reserve(facts->reserve).text);
    if (facts->power != NULL && is_due)
        tell_of_difference(screen, ride);
}

/* The hands' own doings, which the ride does not know of. */
static void moment(struct screen *screen, const struct ride *ride, const struct screen_hands *hands)
{
    (void)ride;
    if (hands->asks_to_skip && !screen->hands.asks_to_skip)
        plain_say(screen, "%s\n", words_skip_again());
    if (hands->is_muted != screen->hands.is_muted)
        plain_say(screen, "%s\n", words_sound(hands->is_muted));
    screen->hands = *hands;
}

void screen_plain(struct screen *screen, struct sink sink)
{
    static const struct screen_operations operations = {hello, effect, second_and_asides, moment};
    *screen = (struct screen){.operations = &operations, .sink = sink};
}
