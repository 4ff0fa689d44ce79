#include "ui/verdict.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

void verdict_reckoning(const struct comparison *comparison, double work_j, char *ret, size_t size)
{
    char blocks[48] = "the block before", lengths[56] = "", error[64];

    ret[0] = '\0';
    if (comparison->against == 0)
        return;
    if (comparison->against > 1)
        (void)snprintf(blocks, sizeof blocks, "the mean of %" PRIu32 " blocks",
                       comparison->against);
    if (comparison->adjusted > 0)
        (void)snprintf(lengths, sizeof lengths, ", %" PRIu32 " taken to this length",
                       comparison->adjusted);
    if (comparison->is_own_error)
        (void)snprintf(error, sizeof error, "yours, from %" PRIu32 " blocks (t, %" PRIu32 " df)",
                       comparison->error_blocks, comparison->freedom);
    else
        (void)snprintf(error, sizeof error, "the usual one (normal)");
    (void)snprintf(ret, size,
                   "Reckoned from %.3f kJ against %.3f kJ, %s%s; typical error %.2f %%, %s; "
                   "error of the change %.2f %%",
                   work_j / 1000, comparison->mean_j / 1000, blocks, lengths,
                   comparison->typical_error_pct, error, comparison->error_pct);
}

static const char *reason_of(enum progress_reason reason)
{
    switch (reason) {
    case PROGRESS_FIRST_FULL: return "one more that goes as well, and it goes up";
    case PROGRESS_NOT_FULL: return "the last did not go quite well enough";
    case PROGRESS_ONE_MISSED: return "the last was missed, and one bad day changes nothing";
    case PROGRESS_TWO_FULL: return "the last two went well enough";
    case PROGRESS_TWO_FULL_NO_ROOM:
        return "the last two went well enough, but it cannot be harder or longer";
    case PROGRESS_TWO_MISSED: return "the last two were missed";
    case PROGRESS_NO_BLOCKS:
    case PROGRESS_REASON_COUNT: break;
    }
    return "";
}

struct target_text {
    char text[24];
};

static struct target_text target_of(uint32_t asked, enum verdict_unit unit)
{
    struct target_text text = {""};
    if (asked > 0 && unit == VERDICT_WATTS)
        (void)snprintf(text.text, sizeof text.text, "%" PRIu32 " W", asked);
    else if (asked > 0)
        (void)snprintf(text.text, sizeof text.text, "level %.1f", asked / 10.0);
    return text;
}

void verdict_next(const struct progress *next, const struct progress_block *last,
                  enum verdict_unit unit, char *ret, size_t size)
{
    const struct target_text then = target_of(next->asked, unit);
    const struct target_text now = target_of(last->asked, unit);
    const char *reason = reason_of(next->reason);

    ret[0] = '\0';
    switch (next->ask) {
    case PROGRESS_REPEAT:
        (void)snprintf(ret, size, "Next time the same again%s%s: %s", then.text[0] ? ", " : "",
                       then.text, reason);
        return;
    case PROGRESS_RAISE:
    case PROGRESS_STEP_BACK:
        (void)snprintf(ret, size, "Next time %s in the work instead of %s (%+" PRId32 " %%): %s",
                       then.text, now.text, next->change_pct, reason);
        return;
    case PROGRESS_LENGTHEN:
        (void)snprintf(ret, size,
                       "Next time %" PRIu32 ":%02" PRIu32 " instead of %" PRIu32 ":%02" PRIu32
                       ", as hard: %s",
                       next->length_s / 60, next->length_s % 60, last->length_s / 60,
                       last->length_s % 60, reason);
        return;
    case PROGRESS_AS_WRITTEN:
    case PROGRESS_ASK_COUNT: return;
    }
}

struct amount_text {
    char text[32];
};

static struct amount_text amount_of(enum mark_measure measure, int64_t value)
{
    static const char *const units[MARK_MEASURE_COUNT] = {
        [MARK_WORK] = "kJ", [MARK_POWER] = "W",       [MARK_DISTANCE] = "m",
        [MARK_TIME] = "s",  [MARK_CALORIES] = "kcal",
    };
    struct amount_text text;
    (void)snprintf(text.text, sizeof text.text, "%.*f %s", measure == MARK_DISTANCE ? 0 : 1,
                   (double)value / (measure == MARK_DISTANCE ? 1 : 1000), units[measure]);
    return text;
}

void verdict_mark(const struct mark *mark, const struct mark_state *state, bool has_ended,
                  char *ret, size_t size)
{
    const enum mark_measure measure = mark->measure;
    char finish[96] = "";

    if (!has_ended)
        (void)snprintf(finish, sizeof finish, ", %s +- %s %s",
                       amount_of(measure, state->finish).text,
                       amount_of(measure, state->finish_error).text,
                       measure == MARK_TIME ? "to do what it did" : "at the end");
    (void)snprintf(ret, size, "%s %s the mark%s", amount_of(measure, llabs(state->ahead)).text,
                   state->ahead < 0 ? "behind" : "ahead of", finish);
}
