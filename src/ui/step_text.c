#include "step_text.h"

static struct text_writer writer_of(struct view_line *line)
{
    return text_writer(line->text, sizeof line->text);
}

static void put_range(struct text_writer *writer, const char *before,
                      const struct target_range *range, unsigned decimals, const char *unit)
{
    if (!range->set)
        return;
    text_put(writer, before);
    text_put_fixed(writer, range->low, decimals);
    text_put(writer, "..");
    text_put_fixed(writer, range->high, decimals);
    text_put(writer, unit);
}

void step_put_ramp(struct text_writer *writer, const char *before, const struct target_range *range,
                   const struct target_range *to, unsigned decimals, const char *unit)
{
    put_range(writer, before, range, decimals, to->set ? "" : unit);
    put_range(writer, " to ", to, decimals, unit);
}

static bool is_spared(const struct ride *ride)
{
    return ride->phase == PHASE_RIDING && ride->verdict.strap_lost;
}

struct step_targets step_spared(const struct ride *ride, struct step_targets targets)
{
    if (is_spared(ride))
        targets.power_w = targets.level_tenths = targets.effort = (struct target_range){0};
    return targets;
}

const char *step_load_word(const struct ride *ride)
{
    const struct step_targets targets = ride_targets(ride);
    const bool has_load = targets.power_w.set || targets.level_tenths.set;

    if (is_spared(ride) && has_load && !ride_turns_knob(ride))
        return "rest load";
    return ride->phase == PHASE_RIDING && ride_goes_by_feel(ride) ? "by feel" : "";
}

void step_put(struct text_writer *writer, const struct plan_step *step)
{
    text_put(writer, step_kind_text(step->kind));
    if (step->rounds == 0)
        return;
    text_put_char(writer, ' ');
    text_put_unsigned(writer, step->round);
    text_put(writer, " of ");
    text_put_unsigned(writer, step->rounds);
}

struct view_line view_step(const struct plan_step *step)
{
    struct view_line line = {""};
    struct text_writer writer = writer_of(&line);

    step_put(&writer, step);
    return line;
}

static bool does_reps(const struct ride *ride)
{
    const struct plan_step *step = ride_current_step(ride);

    return step != NULL && step->reps.reps > 0 && ride->step_ms < step->duration_ms;
}

int32_t step_rep(const struct ride *ride)
{
    return does_reps(ride) ? (int32_t)reps_place(ride_current_step(ride)->reps, ride->step_ms).rep
                           : 0;
}

struct view_line view_repetition(const struct ride *ride)
{
    static const char *const parts[REP_PART_COUNT] = {"lower", "hold below", "lift", "hold above"};
    struct view_line line = {""};
    struct text_writer writer = writer_of(&line);

    if (!does_reps(ride))
        return line;
    const struct plan_step *step = ride_current_step(ride);
    const struct rep_place place = reps_place(step->reps, ride->step_ms);
    text_put(&writer, "repetition ");
    text_put_unsigned(&writer, place.rep);
    text_put(&writer, " of ");
    text_put_unsigned(&writer, step->reps.reps);
    text_put(&writer, ": ");
    text_put(&writer, parts[place.part]);
    text_put_char(&writer, ' ');
    text_put_unsigned(&writer, place.second);
    text_put(&writer, " of ");
    text_put_unsigned(&writer, place.seconds);
    text_put(&writer, " s");
    return line;
}

static void put_amount(struct text_writer *writer, enum step_until until, int32_t value)
{
    static const char *const units[] = {
        [UNTIL_TIME] = "", [UNTIL_WORK] = " kJ", [UNTIL_DISTANCE] = " m", [UNTIL_HEART] = " bpm"};

    if (until == UNTIL_WORK)
        text_put_fixed(writer, value / 100, 1);
    else
        text_put_signed(writer, value);
    text_put(writer, units[until]);
}

struct view_line view_left(const struct ride *ride)
{
    const struct plan_step *step = ride_current_step(ride);
    struct view_line line = {""};
    struct text_writer writer = writer_of(&line);

    if (step == NULL || step->end.until == UNTIL_TIME)
        return line;
    if (step->end.until == UNTIL_HEART) {
        text_put(&writer, "until ");
        put_amount(&writer, UNTIL_HEART, step->end.value);
    } else {
        /* Rounded up: none is left only when it is over. */
        const int32_t unit = step->end.until == UNTIL_WORK ? 99 : 0;
        put_amount(&writer, step->end.until, ride_left_to_end(ride) + unit);
        text_put(&writer, " left");
    }
    return line;
}

/* "0:20", or "1:00 at most, until 12.0 kJ". */
static void put_duration(struct text_writer *writer, const struct plan_step *step)
{
    text_put_time(writer, step->duration_ms);
    if (step->reps.reps > 0) {
        text_put(writer, ", ");
        text_put_unsigned(writer, step->reps.reps);
        text_put(writer, " x ");
        text_put_padded(writer, step->reps.tempo, 4);
    }
    if (step->end.until == UNTIL_TIME)
        return;
    text_put(writer, " at most, until ");
    put_amount(writer, step->end.until, step->end.value);
}

struct view_line view_duration(const struct plan_step *step)
{
    struct view_line line = {""};
    struct text_writer writer = writer_of(&line);

    put_duration(&writer, step);
    return line;
}

void step_put_ahead(struct text_writer *writer, const char *when, const struct ride *ride,
                    const struct plan_step *step)
{
    const struct step_targets targets = ride_shifted(ride, &step->targets);
    const struct step_targets to = ride_shifted(ride, &step->ramp_to);

    text_put(writer, when);
    step_put(writer, step);
    text_put_char(writer, ' ');
    put_duration(writer, step);
    step_put_ramp(writer, ", ", &targets.power_w, &to.power_w, 0, " W");
    step_put_ramp(writer, ", level ", &targets.level_tenths, &to.level_tenths, 1, "");
}

struct view_line view_after(const struct ride *ride, size_t step)
{
    const struct plan *plan = &ride->setup.plan;
    int32_t position;
    struct view_line line = {""};
    struct text_writer writer = writer_of(&line);

    if (step + 1 >= plan->step_count) {
        text_put(&writer, "then the end");
        return line;
    }
    step_put_ahead(&writer, "then ", ride, &plan->steps[step + 1]);
    if (ride_knob_for(ride, step + 1, &position)) {
        text_put(&writer, ", knob to ");
        text_put_signed(&writer, position);
    }
    return line;
}
