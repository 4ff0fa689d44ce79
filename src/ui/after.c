#include "ui/after.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "body/energy.h"
#include "typing.h"
#include "ui/words.h"

/* ---- the note ---- */

static enum after_act press_in_note(struct after *after, struct press press)
{
    switch (press.kind) {
    case PRESS_CHARACTER:
        return typing_add(after->draft, AFTER_NOTE_MAX, press.character) ? AFTER_DRAW
                                                                         : AFTER_NOTHING;
    case PRESS_BACKSPACE: return typing_take_back(after->draft) ? AFTER_DRAW : AFTER_NOTHING;
    case PRESS_ENTER:
        after->is_writing = false;
        memcpy(after->note, after->draft, sizeof after->note);
        return AFTER_SAVE_NOTE;
    case PRESS_ESCAPE: after->is_writing = false; return AFTER_DRAW;
    case PRESS_UP:
    case PRESS_DOWN:
    case PRESS_LEFT:
    case PRESS_RIGHT:
    case PRESS_OTHER: return AFTER_NOTHING;
    }
    return AFTER_NOTHING;
}

/* ---- keys ---- */

static enum after_act set_effort(struct after *after, int32_t effort)
{
    after->has_effort = true;
    after->effort = effort;
    return AFTER_SAVE_EFFORT;
}

static enum after_act on_character(struct after *after, uint32_t character)
{
    if (character == 'q')
        return AFTER_LEAVE;
    if (after->ride_id == 0)
        return AFTER_NOTHING;
    if (character >= '0' && character <= '9')
        return set_effort(after, (int32_t)(character - '0'));
    if (character == 'x')
        return set_effort(after, AFTER_EFFORT_MAX);
    if (character != 'n')
        return AFTER_NOTHING;
    after->is_writing = true;
    memcpy(after->draft, after->note, sizeof after->draft);
    return AFTER_DRAW;
}

enum after_act after_press(struct after *after, struct press press)
{
    if (after->is_writing)
        return press_in_note(after, press);
    if (press.kind == PRESS_CHARACTER)
        return on_character(after, press.character);
    return press.kind == PRESS_ENTER || press.kind == PRESS_ESCAPE ? AFTER_LEAVE : AFTER_NOTHING;
}

/* ---- as a picture ---- */

#define LABEL_AT        2
#define VALUE_AT        13
#define LINE_MAX_OCTETS 320
#define COMPARISON_ROW  10
/* A blank row, two for the effort, the note, a blank one, what is saved, the keys, a blank one. */
#define ROWS_BELOW_COMPARISON 8

static void draw_field(struct canvas *canvas, int row, const char *label, const char *value)
{
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, label);
    (void)canvas_text(canvas, VALUE_AT, row, STYLE_PLAIN, value);
}

static void draw_end(const struct summary *summary, struct canvas *canvas, int row)
{
    char line[LINE_MAX_OCTETS], skipped[WORDS_SKIPPED_SIZE] = "";
    const char *what = summary->end == END_CUT_OFF ? "Cut off"
                       : summary->end == END_DONE  ? "Done"
                                                   : "Stopped";
    const char *why = summary->end == END_CUT_OFF ? words_cut_off(summary->cut_off)
                                                  : words_reason(summary->reason);

    if (summary->skipped > 0)
        (void)words_skipped(summary->skipped, skipped);
    (void)snprintf(line, sizeof line, "%s: %s%s%s.", what, why, skipped[0] != '\0' ? "; " : "",
                   skipped);
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_STRONG, line);
}

static void draw_in_range(const struct summary *summary, struct canvas *canvas, int row)
{
    char line[LINE_MAX_OCTETS];

    (void)snprintf(line, sizeof line, "%" PRId32 " of %" PRId32 " s of work", summary->in_range_s,
                   summary->work_s);
    draw_field(canvas, row, "In range", line);
}

static void draw_work(const struct summary *summary, struct canvas *canvas, int row)
{
    const double work_kj = (double)summary->work_j / 1000.0;
    const struct energy_range energy = energy_range(work_kj);
    const bool has_power = words_no_power(summary)[0] == '\0';
    char line[LINE_MAX_OCTETS], clock[16];
    struct text_writer writer = text_writer(clock, sizeof clock);

    text_put_time(&writer, summary->duration_ms);
    if (has_power)
        (void)snprintf(line, sizeof line, "%.1f kJ in %s, about %.0f kcal (between %.0f and %.0f)",
                       work_kj, clock, energy.mid_kcal, energy.low_kcal, energy.high_kcal);
    else
        (void)snprintf(line, sizeof line, "%s ridden; %s", clock, words_no_power(summary));
    draw_field(canvas, row, "Work", line);
    if (summary->work_s > 0 && (has_power || summary->in_range_s > 0)) /* by the cadence */
        draw_in_range(summary, canvas, row + 2);
    if (!has_power)
        return;
    if (summary->work_s > 0)
        (void)snprintf(line, sizeof line,
                       "%" PRId32 " W on average, %" PRId32 " W in the work steps",
                       summary->average_power_w, summary->work_power_w);
    else
        (void)snprintf(line, sizeof line, "%" PRId32 " W on average", summary->average_power_w);
    draw_field(canvas, row + 1, "Power", line);
}

static void draw_heart(const struct summary *summary, struct canvas *canvas, int row)
{
    char line[LINE_MAX_OCTETS];

    if (summary->max_heart_bpm == 0)
        return;
    (void)snprintf(line, sizeof line, "%" PRId32 " bpm on average, %" PRId32 " at most",
                   summary->average_heart_bpm, summary->max_heart_bpm);
    draw_field(canvas, row, "Heart", line);
    if (summary->heart_fall_bpm == 0) {
        draw_field(canvas, row + 1, "Recovery", "not known: it takes a minute after the work");
        return;
    }
    (void)snprintf(line, sizeof line, "%" PRId32 " bpm %s a minute after the work",
                   abs(summary->heart_fall_bpm), words_heart_way(summary->heart_fall_bpm));
    draw_field(canvas, row + 1, "Recovery", line);
    (void)canvas_text(canvas, VALUE_AT, row + 2, STYLE_QUIET,
                      words_heart_fall(summary->heart_fall_bpm));
}

static void draw_effort(const struct after *after, struct canvas *canvas, int row)
{
    int column = VALUE_AT - 1;

    (void)canvas_text(canvas, LABEL_AT, row, STYLE_STRONG, "How hard?");
    for (int32_t effort = 0; effort <= AFTER_EFFORT_MAX; effort++) {
        const bool is_chosen = after->has_effort && after->effort == effort;
        char text[8];
        (void)snprintf(text, sizeof text, is_chosen ? "[%" PRId32 "]" : " %" PRId32 " ", effort);
        column = canvas_text(canvas, column, row, is_chosen ? STYLE_STRONG : STYLE_PLAIN, text);
    }
    (void)canvas_text(canvas, VALUE_AT, row + 1, STYLE_QUIET,
                      "0 no effort, 10 all there was; its key, and x for 10");
}

/* The end of a note that is longer than the row. */
static void draw_note(const struct after *after, struct canvas *canvas, int row)
{
    const char *text =
        typing_tail(after->is_writing ? after->draft : after->note, canvas->columns - VALUE_AT - 2);
    int column;

    (void)canvas_text(canvas, LABEL_AT, row, STYLE_STRONG, "Note");
    if (!after->is_writing && text[0] == '\0') {
        (void)canvas_text(canvas, VALUE_AT, row, STYLE_QUIET, "n to write one");
        return;
    }
    column = canvas_text(canvas, VALUE_AT, row, STYLE_PLAIN, text);
    if (after->is_writing)
        canvas_put(canvas, column, row, STYLE_STRONG, '_');
}

/* Broken at blanks, from `row` to before `end`; gives the row behind it. */
static int draw_wrapped(struct canvas *canvas, int row, int end, const char *text)
{
    const size_t room = (size_t)(canvas->columns - 2 * LABEL_AT);
    char line[LINE_MAX_OCTETS];

    for (; text != NULL && text[0] != '\0' && row < end; row++) {
        const size_t taken = text_line_octets(text, room);
        (void)snprintf(line, sizeof line, "%.*s", (int)taken, text);
        (void)canvas_text(canvas, LABEL_AT, row, STYLE_PLAIN, line);
        text += taken;
        text += text[0] == ' ';
    }
    return row;
}

/* What two sources made of it, what it is against those before and what to ask next time; gives the
 * row behind it. */
static int draw_comparison(const struct after *after, struct canvas *canvas, int row)
{
    const struct summary *summary = &after->summary;
    const int end = canvas->rows - ROWS_BELOW_COMPARISON;
    const int32_t tenths = summary->difference_tenths;
    const int32_t error_tenths = summary->difference_error_tenths;
    char text[WORDS_SENSOR_SIZE], sensor[2 * WORDS_SENSOR_SIZE + 24];

    (void)snprintf(sensor, sizeof sensor, "The power sensor reads %s. %s",
                   words_difference(tenths, error_tenths, text),
                   words_far_off(tenths, error_tenths));

    if (error_tenths > 0)
        row = draw_wrapped(canvas, row, end, sensor);
    row = draw_wrapped(canvas, row, end, after->facts);
    row = draw_wrapped(canvas, row, end, after->verdict);
    return draw_wrapped(canvas, row, end, after->next);
}

static void draw_keys(const struct after *after, struct canvas *canvas)
{
    const int row = canvas->rows - 2;

    if (after->is_writing)
        (void)canvas_text(canvas, LABEL_AT, row, STYLE_PLAIN,
                          "Enter  keep the note   Esc  drop it");
    else if (after->ride_id != 0)
        (void)canvas_text(canvas, LABEL_AT, row, STYLE_PLAIN,
                          "Enter, q  leave   0-9, x  how hard   n  note");
    else
        (void)canvas_text(canvas, LABEL_AT, row, STYLE_PLAIN, "Enter, q  leave");
}

void after_draw(const struct after *after, struct canvas *canvas)
{
    char saved[64];

    if (canvas->columns < AFTER_COLUMNS_MIN || canvas->rows < AFTER_ROWS_MIN) {
        canvas_too_small(canvas, 0, "q leave", AFTER_COLUMNS_MIN, AFTER_ROWS_MIN);
        return;
    }
    draw_end(&after->summary, canvas, 1);
    draw_work(&after->summary, canvas, 3);
    draw_heart(&after->summary, canvas, 6);
    const int compared = draw_comparison(after, canvas, COMPARISON_ROW) + 1;
    /* Where it mostly is, also when there is less to say. */
    const int below = compared > COMPARISON_ROW + 3 ? compared : COMPARISON_ROW + 3;
    if (after->ride_id != 0) {
        draw_effort(after, canvas, below);
        draw_note(after, canvas, below + 2);
        (void)snprintf(saved, sizeof saved, "Saved as ride %" PRId64, after->ride_id);
    } else {
        (void)snprintf(saved, sizeof saved, "Not saved");
    }
    const bool is_well = after->trouble == NULL || after->trouble[0] == '\0';
    (void)canvas_text(canvas, LABEL_AT, canvas->rows - 3, is_well ? STYLE_QUIET : STYLE_URGENT,
                      is_well ? saved : after->trouble);
    draw_keys(after, canvas);
}
