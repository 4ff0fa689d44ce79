#include "ui/verdict.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

struct parts_text {
    char text[200];
};

/* "the mean of rides 4 (63.439), 5 (63.727) and 6 (62.010)" */
static struct parts_text parts_of(const struct comparison *comparison)
{
    const uint32_t count = comparison->against;
    struct parts_text parts = {""};
    size_t length = 0;

    if (count == 1)
        (void)snprintf(parts.text, sizeof parts.text, "ride %" PRId64, comparison->parts[0].id);
    for (uint32_t i = 0; count > 1 && i < count && length < sizeof parts.text; i++)
        length += (size_t)snprintf(parts.text + length, sizeof parts.text - length,
                                   "%s%" PRId64 " (%.3f)",
                                   i == 0           ? "the mean of rides "
                                   : i + 1 == count ? " and "
                                                    : ", ",
                                   comparison->parts[i].id, comparison->parts[i].work_j / 1000);
    return parts;
}

void verdict_reckoning(const struct comparison *comparison, double work_j, char *ret, size_t size)
{
    char lengths[64] = "", sources[64] = "", error[96];

    ret[0] = '\0';
    if (comparison->against == 0)
        return;
    if (comparison->adjusted > 0)
        (void)snprintf(lengths, sizeof lengths, ", %" PRIu32 " taken to this length at %.0f W",
                       comparison->adjusted, comparison->slope_w);
    if (comparison->converted > 0)
        (void)snprintf(sources, sizeof sources, ", %" PRIu32 " taken to this source of power",
                       comparison->converted);
    if (comparison->is_own_error)
        (void)snprintf(error, sizeof error,
                       "yours, from %" PRIu32 " blocks since ride %" PRId64 " (t, %" PRIu32 " df)",
                       comparison->error_blocks, comparison->error_from_id, comparison->freedom);
    else
        (void)snprintf(error, sizeof error, "the usual one (normal)");
    (void)snprintf(ret, size,
                   "Reckoned from %.3f kJ against %.3f kJ, %s%s%s; typical error %.2f %%, %s; "
                   "error of the change %.2f %%",
                   work_j / 1000, comparison->mean_j / 1000, parts_of(comparison).text, lengths,
                   sources, comparison->typical_error_pct, error, comparison->error_pct);
}

static const char *reason_of(enum progress_reason reason)
{
    switch (reason) {
    case PROGRESS_FIRST_FULL: return "one more that goes as well, and it goes up";
    case PROGRESS_NOT_FULL: return "the last did not go quite well enough";
    case PROGRESS_UNMEASURED: return "nothing told the power of the last";
    case PROGRESS_SHIFTED_UP: return "you shifted the last up, out of the plan's range";
    case PROGRESS_ONE_MISSED: return "the last was missed, and one bad day changes nothing";
    case PROGRESS_WAS_CUT_OFF: return "the last was cut off, and after that nothing goes up";
    case PROGRESS_HAS_WARNED:
        return "the heart gave a caution in the last, and after that nothing goes up";
    case PROGRESS_WAS_EASED: return "the last was eased for the legs, so it does not count";
    case PROGRESS_TWO_FULL: return "the last two went well enough";
    case PROGRESS_TWO_FULL_NO_ROOM:
        return "the last two went well enough, but it cannot be harder or longer";
    case PROGRESS_TWO_FULL_COARSE:
        return "the last two went well enough, but the brake has no step as small as the next rise";
    case PROGRESS_TWO_FULL_BY_LEGS:
        return "the last two went well enough; the brake has no step so small, so by faster legs";
    case PROGRESS_TWO_MISSED: return "the last two were missed";
    case PROGRESS_NO_BLOCKS:
    case PROGRESS_REASON_COUNT: break;
    }
    return "";
}

struct target_text verdict_target(uint32_t asked, enum verdict_unit unit)
{
    struct target_text text = {""};
    if (asked > 0 && unit == VERDICT_WATTS)
        (void)snprintf(text.text, sizeof text.text, "%" PRIu32 " W", asked);
    else if (asked > 0)
        (void)snprintf(text.text, sizeof text.text, "level %.1f", asked / 10.0);
    return text;
}

struct choice_text {
    char text[120];
};

/* "; for the last you chose 250 W over the 258 W proposed" */
static struct choice_text choice_of(const struct progress_block *last, enum verdict_unit unit)
{
    const uint32_t chosen_s = last->length_s, proposed_s = last->proposed_length_s;
    struct choice_text text = {""};

    if (last->proposed > 0)
        (void)snprintf(
            text.text, sizeof text.text, "; for the last you chose %s over the %s proposed",
            verdict_target(last->asked, unit).text, verdict_target(last->proposed, unit).text);
    else if (proposed_s > 0)
        (void)snprintf(text.text, sizeof text.text,
                       "; for the last you chose %" PRIu32 ":%02" PRIu32 " over the %" PRIu32
                       ":%02" PRIu32 " proposed",
                       chosen_s / 60, chosen_s % 60, proposed_s / 60, proposed_s % 60);
    return text;
}

void verdict_next(const struct progress *next, const struct progress_block *last,
                  enum verdict_unit unit, char *ret, size_t size)
{
    const struct target_text then = verdict_target(next->asked, unit);
    const struct target_text now = verdict_target(last->asked, unit);
    const struct choice_text choice = choice_of(last, unit);
    const char *reason = reason_of(next->reason);

    ret[0] = '\0';
    switch (next->ask) {
    case PROGRESS_REPEAT:
        (void)snprintf(ret, size, "Next time the same again%s%s: %s%s", then.text[0] ? ", " : "",
                       then.text, reason, choice.text);
        return;
    case PROGRESS_RAISE:
    case PROGRESS_STEP_BACK:
        (void)snprintf(ret, size, "Next time %s in the work instead of %s (%+" PRId32 " %%): %s%s",
                       then.text, now.text, next->change_pct, reason, choice.text);
        return;
    case PROGRESS_LENGTHEN:
        (void)snprintf(ret, size,
                       "Next time %" PRIu32 ":%02" PRIu32 " instead of %" PRIu32 ":%02" PRIu32
                       ", as hard: %s%s",
                       next->length_s / 60, next->length_s % 60, last->length_s / 60,
                       last->length_s % 60, reason, choice.text);
        return;
    case PROGRESS_AS_WRITTEN:
    case PROGRESS_ASK_COUNT: return;
    }
}

struct block_text {
    char text[200];
};

static const char *end_of(const struct progress_block *block)
{
    if (block->is_done)
        return "";
    return block->is_cut_off ? ", cut off" : ", not to its end";
}

/* "ride 8, 85 % in range at 250 W, effort 7" */
static struct block_text block_of(const struct progress_block *block, int64_t id,
                                  enum verdict_unit unit)
{
    char range[24] = "", effort[24] = ", no effort said";
    struct block_text text;

    if (block->unjudged == PROGRESS_UNMEASURED)
        (void)snprintf(range, sizeof range, ", no power told");
    else if (block->has_in_range)
        (void)snprintf(range, sizeof range, ", %" PRIu32 " %% in range", block->in_range_pct);
    if (block->has_effort)
        (void)snprintf(effort, sizeof effort, ", effort %" PRIu32, block->effort);
    const struct target_text asked = verdict_target(block->asked, unit);
    (void)snprintf(
        text.text, sizeof text.text, "ride %" PRId64 "%s%s%s%s%s, %" PRIu32 ":%02" PRIu32 "%s%s%s",
        id, range, asked.text[0] ? " at " : "", asked.text,
        block->unjudged == PROGRESS_SHIFTED_UP ? ", shifted up" : "", end_of(block),
        block->length_s / 60, block->length_s % 60, block->is_eased ? ", eased for the legs" : "",
        effort, block->has_warned ? ", heart caution" : "");
    return text;
}

void verdict_blocks(const struct progress_block *blocks, const int64_t *ids, size_t count,
                    enum verdict_unit unit, char *ret, size_t size)
{
    ret[0] = '\0';
    if (count == 0)
        return;
    const struct block_text last = block_of(&blocks[count - 1], ids[count - 1], unit);
    if (count == 1)
        (void)snprintf(ret, size, "Reckoned from %s", last.text);
    else
        (void)snprintf(ret, size, "Reckoned from %s; and %s", last.text,
                       block_of(&blocks[0], ids[0], unit).text);
}

struct amount_text {
    char text[32];
};

static struct amount_text number_of(enum mark_measure measure, int64_t value)
{
    struct amount_text text;
    (void)snprintf(text.text, sizeof text.text, "%.*f", measure == MARK_DISTANCE ? 0 : 1,
                   (double)value / (measure == MARK_DISTANCE ? 1 : 1000));
    return text;
}

static const char *unit_of(enum mark_measure measure)
{
    static const char *const units[MARK_MEASURE_COUNT] = {
        [MARK_WORK] = "kJ", [MARK_POWER] = "W",       [MARK_DISTANCE] = "m",
        [MARK_TIME] = "s",  [MARK_CALORIES] = "kcal",
    };
    return units[measure];
}

void verdict_mark(const struct mark *mark, const struct mark_state *state, bool has_ended,
                  char *ret, size_t size)
{
    const enum mark_measure measure = mark->measure;
    char finish[96] = "";

    if (!has_ended)
        (void)snprintf(finish, sizeof finish, ", %s %s +- %s %s",
                       number_of(measure, state->finish).text, unit_of(measure),
                       number_of(measure, state->finish_error).text,
                       measure == MARK_TIME ? "to do what it did" : "at the end");
    (void)snprintf(ret, size, "%s %s %s the mark%s%s", number_of(measure, llabs(state->ahead)).text,
                   unit_of(measure), state->ahead < 0 ? "behind" : "ahead of",
                   state->is_beaten && !has_ended ? ", which is beaten" : "", finish);
}
