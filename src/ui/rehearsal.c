#include "ui/rehearsal.h"

#include "body/energy.h"
#include "ui/words.h"

int32_t rehearsal_percent(const struct rehearsal *rehearsal, const struct rehearsal_low *low)
{
    if (!(rehearsal->w_prime_j > 0))
        return 0;
    const double percent = 100 * low->left_j / rehearsal->w_prime_j;
    return (int32_t)(percent < 0 ? percent - 0.5 : percent + 0.5);
}

void rehearsal_put_place(struct text_writer *writer, const struct rehearsal *rehearsal,
                         struct rehearsal_place place)
{
    const struct plan_step *step = &rehearsal->plan->steps[place.step];

    text_put(writer, step_kind_text(step->kind));
    if (step->rounds > 0) {
        text_put_char(writer, ' ');
        text_put_unsigned(writer, step->round);
        text_put(writer, " of ");
        text_put_unsigned(writer, step->rounds);
    }
    text_put(writer, ", ");
    text_put_time(writer, place.at_ms);
}

static const char *what_happens(const struct rehearsal *rehearsal)
{
    switch (rehearsal->trouble) {
    case REHEARSAL_EMPTY: return "the plan has asked for all of the reserve";
    case REHEARSAL_MISSED: return "the power stays below the target";
    case REHEARSAL_LOWERED: return "a load limit keeps the power below the target";
    case REHEARSAL_LEGS: return "the legs cannot turn the load any more";
    case REHEARSAL_CUT_OFF: return words_cut_off(rehearsal->summary.cut_off);
    case REHEARSAL_FINE: break;
    }
    return "";
}

void rehearsal_put_verdict(struct text_writer *writer, const struct rehearsal *rehearsal)
{
    if (rehearsal->trouble != REHEARSAL_FINE) {
        text_put(writer, "Too hard: ");
        rehearsal_put_place(writer, rehearsal, rehearsal->trouble_at);
        text_put(writer, ": ");
        text_put(writer, what_happens(rehearsal));
    } else if (rehearsal_percent(rehearsal, &rehearsal->asked) < 100) {
        text_put(writer, "Can be ridden; least is left in ");
        rehearsal_put_place(writer, rehearsal, rehearsal->asked.place);
    } else {
        text_put(writer, "Can be ridden; the reserve is not touched");
    }
}

/* ---- the figures ---- */

static void put_work(struct text_writer *writer, const struct summary *summary)
{
    text_put(writer, "Work      ");
    text_put_fixed(writer, (summary->work_j + 50) / 100, 1);
    text_put(writer, " kJ in ");
    text_put_time(writer, summary->duration_ms);
    text_put(writer, ", ");
    text_put_signed(writer, summary->average_power_w);
    text_put(writer, " W on average, ");
    text_put_signed(writer, summary->work_power_w);
    text_put(writer, " W in the work\n");
}

static void put_whole(struct text_writer *writer, double value)
{
    text_put_signed(writer, (int64_t)(value + 0.5));
}

static void put_burnt(struct text_writer *writer, const struct summary *summary)
{
    const struct energy_range energy = energy_range((double)summary->work_j / 1000);

    text_put(writer, "Burnt     about ");
    put_whole(writer, energy.mid_kcal);
    text_put(writer, " kcal (between ");
    put_whole(writer, energy.low_kcal);
    text_put(writer, " and ");
    put_whole(writer, energy.high_kcal);
    text_put(writer, ")\n");
}

static void put_percent(struct text_writer *writer, int32_t percent, const char *after)
{
    text_put_signed(writer, percent);
    text_put(writer, " %");
    text_put(writer, after);
}

static void put_reserve(struct text_writer *writer, const struct rehearsal *rehearsal)
{
    const int32_t asked = rehearsal_percent(rehearsal, &rehearsal->asked);
    const int32_t slow = rehearsal_percent(rehearsal, &rehearsal->slow);
    const int32_t ridden = rehearsal_percent(rehearsal, &rehearsal->ridden);

    text_put(writer, "Reserve   ");
    if (asked >= 100 && slow >= 100 && ridden >= 100) {
        text_put(writer, "not touched\n");
    } else if (asked >= 100 && slow >= 100) {
        text_put(writer, "not touched as asked, down to ");
        put_percent(writer, ridden, " as ridden\n");
    } else {
        text_put(writer, "down to ");
        put_percent(writer, asked, " as asked (");
        put_percent(writer, slow, " by a slower model), ");
        put_percent(writer, ridden, " as ridden\n");
    }
}

/* ---- the brake ---- */

static void put_in_range(struct text_writer *writer, const struct summary *summary)
{
    if (summary->work_s == 0)
        return;
    text_put(writer, "In range  ");
    put_percent(writer, (100 * summary->in_range_s + summary->work_s / 2) / summary->work_s,
                " of the work\n");
}

static void put_turns(struct text_writer *writer, const struct rehearsal_turns *turns)
{
    text_put(writer, "Knob      to be turned ");
    text_put_unsigned(writer, turns->count);
    text_put(writer, turns->count == 1 ? " time" : " times");
    if (turns->count > 1) {
        text_put(writer, ", down to ");
        text_put_unsigned(writer, (turns->least_apart_ms + 500) / 1000);
        text_put(writer, " s apart");
    }
    if (turns->number_w > 0) {
        text_put(writer, "; a number is some ");
        text_put_signed(writer, turns->number_w);
        text_put(writer, " W");
    }
    text_put_char(writer, '\n');
}

static void put_short(struct text_writer *writer, const struct rehearsal *rehearsal)
{
    const struct rehearsal_turns *turns = &rehearsal->turns;

    text_put(writer, "Too short ");
    text_put_unsigned(writer, turns->short_count);
    text_put(writer, " of ");
    text_put_unsigned(writer, turns->step_count);
    text_put(writer, turns->step_count == 1 ? " step" : " steps");
    text_put(writer, " to get there, the first ");
    rehearsal_put_place(writer, rehearsal, turns->short_at);
    text_put_char(writer, '\n');
}

static void put_brake(struct text_writer *writer, const struct rehearsal *rehearsal)
{
    if (rehearsal->brake == REHEARSAL_WATTS)
        return;
    put_in_range(writer, &rehearsal->summary);
    if (rehearsal->brake == REHEARSAL_BY_HAND)
        put_turns(writer, &rehearsal->turns);
    if (rehearsal->turns.short_count > 0)
        put_short(writer, rehearsal);
}

void rehearsal_put(struct text_writer *writer, const struct rehearsal *rehearsal)
{
    put_work(writer, &rehearsal->summary);
    put_burnt(writer, &rehearsal->summary);
    put_reserve(writer, rehearsal);
    text_put(writer, "Heart     up to ");
    text_put_signed(writer, rehearsal->summary.max_heart_bpm);
    text_put(writer, " bpm, limit ");
    text_put_signed(writer, rehearsal->heart_limit_bpm);
    text_put(writer, " bpm\n");
    put_brake(writer, rehearsal);
}
