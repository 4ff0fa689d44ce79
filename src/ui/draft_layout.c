/* Where a draft stands on the canvas: the list, the drawing beside it, the fields of the line under
 * the hand, what it comes to, the keys. */
#include <stdio.h>
#include <string.h>

#include "body/energy.h"
#include "draft_hand.h"
#include "ride/unwise.h"
#include "typing.h"

#define LINE_MAX_OCTETS 400u

#define LIST_AT        2
#define MARK_AT        1
#define TOP_ROWS       2  /* above the list */
#define BELOW_ROWS     10 /* under it */
#define FIELD_ROWS     4
#define LABEL_AT       2
#define VALUE_AT       10
#define INDENT_COLUMNS 2

/* As much of the text as is between these columns. */
static void draw_cut(struct canvas *canvas, int column, int end, int row, enum style style,
                     const char *text)
{
    char cut[LINE_MAX_OCTETS];
    struct text_writer writer = text_writer(cut, sizeof cut);

    text_put_part(&writer, text, strnlen(text, sizeof cut - 1));
    while (cut[0] != '\0' && canvas_text_width(cut) > end - column)
        cut[strlen(cut) - 1] = '\0';
    (void)canvas_text(canvas, column, row, style, cut);
}

/* ---- the head ---- */

static void draw_head(const struct draft *draft, struct canvas *canvas)
{
    const char *state = draft_is_changed(draft) ? "not saved" : draft->is_new ? "new" : "saved";
    const int state_at = canvas->columns - 1 - canvas_text_width(state);
    const int middle = canvas->columns / 2;

    draw_cut(canvas, LIST_AT, middle, 0, STYLE_STRONG, draft->profile.title);
    canvas_text_right(canvas, canvas->columns - 1, 0, STYLE_QUIET, state);
    /* Of a long path its end, which tells files apart. */
    canvas_text_right(canvas, state_at - 2, 0, STYLE_QUIET,
                      typing_tail(draft->name, state_at - 2 - middle));
}

/* ---- the list ---- */

static void put_step(struct text_writer *writer, const struct profile_item *item)
{
    for (enum profile_field i = PROFILE_FIELD_TIME; i < PROFILE_FIELD_COUNT; i++) {
        char text[LINE_MAX_OCTETS];
        struct text_writer field = text_writer(text, sizeof text);
        profile_field_put(&field, item, i);
        if (text[0] == '\0')
            continue;
        if (i != PROFILE_FIELD_TIME)
            text_put(writer, "  ");
        text_put(writer, text);
    }
}

static const char *kind_of(const struct draft *draft, size_t row)
{
    const struct profile_item *item = draft_item(draft, row);

    if (item == NULL)
        return row == DRAFT_ROW_TITLE ? "title" : "length";
    if (item->kind == PROFILE_STEP)
        return step_kind_text(item->step);
    return item->kind == PROFILE_ROUNDS ? "rounds" : "end";
}

static void put_row(struct text_writer *writer, const struct draft *draft, size_t row)
{
    const struct profile_item *item = draft_item(draft, row);

    if (item != NULL && item->kind == PROFILE_STEP) {
        put_step(writer, item);
        return;
    }
    hand_put(writer, draft, row, draft->field);
    if (item == NULL || item->kind != PROFILE_ROUNDS || !item->fits)
        return;
    text_put(writer, ", now ");
    text_put_unsigned(writer, item->rounds);
}

/* How deep in rounds; an end stands where its rounds do. */
static int depth_of(const struct draft *draft, size_t row)
{
    int depth = 0;

    for (size_t i = DRAFT_ROW_ITEMS; i <= row; i++) {
        const enum profile_item_kind kind = draft_item(draft, i)->kind;
        if (kind == PROFILE_END)
            depth--;
        else if (kind == PROFILE_ROUNDS && i < row)
            depth++;
    }
    return depth;
}

static void draw_list_row(const struct draft *draft, struct canvas *canvas, int at, size_t row)
{
    const bool is_here = row == draft->row;
    const bool is_fault = draft->has_fault && row == draft->fault_row;
    const enum style style = is_here ? STYLE_STRONG : STYLE_PLAIN;
    const int end = canvas->columns / 2 - 1;
    const int column = LIST_AT + 1 + INDENT_COLUMNS * depth_of(draft, row);
    char text[LINE_MAX_OCTETS];
    struct text_writer writer = text_writer(text, sizeof text);

    if (is_here)
        (void)canvas_text(canvas, MARK_AT, at, STYLE_STRONG, ">");
    if (is_fault)
        (void)canvas_text(canvas, MARK_AT - 1, at, STYLE_URGENT, "!");
    (void)canvas_text(canvas, column, at, style, kind_of(draft, row));
    put_row(&writer, draft, row);
    draw_cut(canvas, column + 10, end, at, style, text);
}

static void draw_list(const struct draft *draft, struct canvas *canvas, int rows)
{
    const size_t count = draft_rows(draft), room = (size_t)rows;
    const size_t last = count > room ? count - room : 0;
    const size_t wanted = draft->row > room / 2 ? draft->row - room / 2 : 0;
    const size_t first = wanted < last ? wanted : last;

    for (size_t i = 0; i < room && first + i < count; i++)
        draw_list_row(draft, canvas, TOP_ROWS + (int)i, first + i);
    if (draft->profile.item_count == 0)
        (void)canvas_text(canvas, LIST_AT + 1, TOP_ROWS + 3, STYLE_QUIET,
                          "Press a to add the first step.");
}

/* ---- the line under the hand ---- */

static void draw_value(const struct draft *draft, struct canvas *canvas, int column, int end,
                       int row, enum profile_field field)
{
    const bool is_here = draft_item(draft, draft->row) == NULL ||
                         draft_item(draft, draft->row)->kind != PROFILE_STEP ||
                         field == draft->field;
    const bool is_typed = is_here && draft->mode == DRAFT_TYPES;
    char text[LINE_MAX_OCTETS];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put_char(&writer, is_here ? '[' : ' ');
    if (is_typed)
        text_put(&writer, typing_tail(draft->typed, end - column - 3));
    else
        hand_put(&writer, draft, draft->row, field);
    if (writer.length == 1 && !is_typed)
        text_put_char(&writer, '-');
    if (is_here)
        text_put_char(&writer, is_typed ? '_' : ']');
    draw_cut(canvas, column, end, row, is_here ? STYLE_STRONG : STYLE_PLAIN, text);
}

static void draw_step_fields(const struct draft *draft, struct canvas *canvas, int row)
{
    const struct profile_item *item = draft_item(draft, draft->row);
    const int half = canvas->columns / 2;

    for (enum profile_field i = PROFILE_FIELD_TIME; i < PROFILE_FIELD_COUNT; i++) {
        const int left = i < FIELD_ROWS ? 0 : half;
        const int at = row + (int)i % FIELD_ROWS;
        if (!profile_field_is_for(i, item->step))
            continue;
        (void)canvas_text(canvas, left + LABEL_AT, at, STYLE_QUIET, profile_field_name(i));
        draw_value(draft, canvas, left + VALUE_AT, left + half, at, i);
    }
}

static void draw_fields(const struct draft *draft, struct canvas *canvas, int row)
{
    const struct profile_item *item = draft_item(draft, draft->row);

    if (item != NULL && item->kind == PROFILE_STEP) {
        draw_step_fields(draft, canvas, row);
        return;
    }
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, kind_of(draft, draft->row));
    if (item != NULL && item->kind == PROFILE_END)
        (void)canvas_text(canvas, VALUE_AT, row, STYLE_QUIET, "of these rounds; j, k move it");
    else
        draw_value(draft, canvas, VALUE_AT, canvas->columns - 1, row, draft->field);
}

/* What may be typed there. */
static const char *example(const struct draft *draft)
{
    static const char *const examples[PROFILE_FIELD_COUNT] = {
        [PROFILE_FIELD_TIME] = "such as 0:20",
        [PROFILE_FIELD_POWER] = ("such as 115..125 %cp, 180..200 W, 95..105 %mark, or "
                                 "40..55 to 70..80 %cp"),
        [PROFILE_FIELD_CADENCE] = "such as 85..110 rpm",
        [PROFILE_FIELD_HEART] = "such as 120..140 bpm",
        [PROFILE_FIELD_LEVEL] = "such as 6..8",
        [PROFILE_FIELD_EFFORT] = "easy, steady, hard, very-hard, all-out, or such as 6..8",
        [PROFILE_FIELD_UNTIL] = "ends it sooner: such as 12 kJ, 400 m, 120 bpm",
        [PROFILE_FIELD_CUE] = "words that are shown to the rider",
    };
    const struct profile_item *item = draft_item(draft, draft->row);

    if (item == NULL)
        return draft->row == DRAFT_ROW_LENGTH ? "what the intervals may come to: 3:00..7:00" : "";
    if (item->kind != PROFILE_STEP)
        return "1 to 99, or fit: as many as the length of the day asks for";
    if (item->step == STEP_FLOOR && draft->field == PROFILE_FIELD_TIME)
        return "a hold such as 0:40, or 8 x 3010: seconds down, below, up, above";
    return examples[draft->field];
}

static void draw_message(const struct draft *draft, struct canvas *canvas, int row)
{
    char text[LINE_MAX_OCTETS];

    if (draft->message[0] != '\0')
        draw_cut(canvas, LABEL_AT, canvas->columns - 1, row, STYLE_URGENT, draft->message);
    else if (draft->mode == DRAFT_TYPES)
        draw_cut(canvas, LABEL_AT, canvas->columns - 1, row, STYLE_QUIET, example(draft));
    if (draft->mode != DRAFT_NAMES)
        return;
    (void)snprintf(text, sizeof text, "Save as %s_",
                   typing_tail(draft->typed, canvas->columns - LABEL_AT - 12));
    draw_cut(canvas, LABEL_AT, canvas->columns - 1, row + 1, STYLE_STRONG, text);
}

/* ---- what it comes to ---- */

static void draw_figures(const struct draft *draft, struct canvas *canvas, int row)
{
    const struct rehearsal *rehearsal = draft->rehearsal;
    char text[LINE_MAX_OCTETS];

    if (rehearsal == NULL || draft->mode == DRAFT_NAMES)
        return;
    const double work_kj = (double)rehearsal->summary.work_j / 1000.0;
    (void)snprintf(text, sizeof text,
                   "%.1f kJ, about %.0f kcal, %d W on average, heart to %d bpm, reserve to %d %%",
                   work_kj, energy_range(work_kj).mid_kcal, rehearsal->summary.average_power_w,
                   rehearsal->summary.max_heart_bpm,
                   rehearsal_percent(rehearsal, &rehearsal->asked));
    draw_cut(canvas, LABEL_AT, canvas->columns - 1, row, STYLE_PLAIN, text);
}

/* What there is to say of a block that can be ridden; empty where all is well. */
static const char *unwise_of(const struct profile *profile)
{
    uint32_t line;

    for (enum unwise what = UNWISE_NO_WARM_UP; what < UNWISE_FIRST_BLOCKS; what++)
        if (profile_is_unwise(profile, what, &line))
            return unwise_text(what);
    return "";
}

static void draw_verdict(const struct draft *draft, struct canvas *canvas, int row)
{
    char text[LINE_MAX_OCTETS];
    struct text_writer writer = text_writer(text, sizeof text);
    enum style style = STYLE_URGENT;

    if (draft->has_fault) {
        text_put(&writer, "! Not a block yet: ");
        text_put(&writer, draft->fault.message);
    } else if (draft->rehearsal != NULL) {
        const bool is_fine = draft->rehearsal->trouble == REHEARSAL_FINE;
        const char *unwise = is_fine ? unwise_of(&draft->profile) : "";
        text_put(&writer, unwise[0] != '\0' ? "Can be ridden, yet unwise: " : "");
        text_put(&writer, unwise);
        if (unwise[0] == '\0')
            rehearsal_put_verdict(&writer, draft->rehearsal);
        style = is_fine && unwise[0] == '\0' ? STYLE_IN_RANGE : STYLE_ABOVE;
    }
    draw_cut(canvas, LABEL_AT - 2 * draft->has_fault, canvas->columns - 1, row, style, text);
}

/* ---- keys ---- */

struct keys {
    const char *first, *second;
};

static void draw_keys(const struct draft *draft, struct canvas *canvas, int row)
{
    static const struct keys keys[] = {
        [DRAFT_WALKS] = {"up down  line   left right  field   Enter  type   + -  nudge   "
                         "u r  undo, redo",
                         "a  add   c  copy   d  delete   j k  move   o  rounds   s  save   "
                         "q  leave"},
        [DRAFT_TYPES] = {"Enter  keep it   Esc  as it was", ""},
        [DRAFT_ADDS] = {"Add   u  warm-up   w  work   r  rest   c  cool-down   f  floor work",
                        "      Esc  nothing"},
        [DRAFT_NAMES] = {"Enter  save   Esc  not now", ""},
        [DRAFT_LEAVES] = {"It is not saved.   s  save   q  leave without   Esc  stay", ""},
    };

    (void)canvas_text(canvas, LABEL_AT, row,
                      draft->mode == DRAFT_WALKS ? STYLE_QUIET : STYLE_STRONG,
                      keys[draft->mode].first);
    (void)canvas_text(canvas, LABEL_AT, row + 1, STYLE_QUIET, keys[draft->mode].second);
}

void draft_draw(const struct draft *draft, struct canvas *canvas)
{
    const int half = canvas->columns / 2;
    const int rows = canvas->rows - TOP_ROWS - BELOW_ROWS;
    const int below = TOP_ROWS + rows + 1;

    if (canvas->columns < DRAFT_COLUMNS_MIN || canvas->rows < DRAFT_ROWS_MIN) {
        (void)canvas_text(canvas, 0, 0, STYLE_STRONG, "Too small: 80x24.");
        (void)canvas_text(canvas, 0, 1, STYLE_PLAIN, "Nothing is lost; s saves.");
        return;
    }
    draw_head(draft, canvas);
    draw_list(draft, canvas, rows);
    if (draft->rehearsal != NULL)
        rehearsal_draw(canvas, half, TOP_ROWS, canvas->columns - half - 1, rows, draft->rehearsal);
    draw_fields(draft, canvas, below);
    draw_message(draft, canvas, below + FIELD_ROWS);
    draw_figures(draft, canvas, below + FIELD_ROWS + 1);
    draw_verdict(draft, canvas, below + FIELD_ROWS + 2);
    draw_keys(draft, canvas, canvas->rows - 2);
}
