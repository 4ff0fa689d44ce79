#include "ui/today.h"

#include <inttypes.h>
#include <stdio.h>

#define LINE_MAX_OCTETS 200

static const struct today_profile *chosen(const struct today *today)
{
    return &today->profiles[today->profile];
}

/* ---- keys ---- */

static uint16_t rounds_of(const struct today *today)
{
    const struct today_profile *profile = chosen(today);

    if (today->is_first && profile->bends)
        return fit_first_rounds(&profile->span);
    if (!profile->bends || today->length_ms == 0)
        return profile->span.rounds;
    return fit_rounds(&profile->span, today->length_ms);
}

uint32_t today_length_ms(const struct today *today)
{
    const struct today_profile *profile = chosen(today);

    return profile->bends ? fit_length_ms(&profile->span, rounds_of(today)) : profile->length_ms;
}

/* A first block is as short as it is, and as easy. */
static enum today_act change_length(struct today *today, int by)
{
    const struct fit_span *span = &chosen(today)->span;
    const int rounds = rounds_of(today) + by;

    if (today->is_first || !chosen(today)->bends || rounds < span->low || rounds > span->high)
        return TODAY_NOTHING;
    today->length_ms = fit_length_ms(span, (uint16_t)rounds);
    return TODAY_DRAW;
}

bool today_has_proposal(const struct today *today)
{
    return today->next != NULL && today->next[0] != '\0' && !today->is_first;
}

void today_follow(struct today *today)
{
    if (!today_has_proposal(today))
        return;
    today->load_pct = today->proposed_pct;
    if (today->proposed_length_ms > 0)
        today->length_ms = today->proposed_length_ms;
}

static enum today_act change_load(struct today *today, int32_t by_pct)
{
    const int32_t load_pct = today->load_pct + by_pct;

    if (today->is_first || load_pct > FIT_LOAD_MAX_PCT || load_pct < -FIT_LOAD_MAX_PCT)
        return TODAY_NOTHING;
    today->load_pct = load_pct;
    return TODAY_DRAW;
}

static enum today_act change_profile(struct today *today, size_t by)
{
    if (today->profile_count < 2)
        return TODAY_NOTHING;
    today->profile = (today->profile + by) % today->profile_count;
    return TODAY_LOOK_UP;
}

static enum today_act on_character(struct today *today, uint32_t character)
{
    switch (character) {
    case 'q': return TODAY_LEAVE;
    case 'p': return change_profile(today, 1);
    case '+': return change_load(today, 1);
    case '-': return change_load(today, -1);
    case 'n': today_follow(today); return TODAY_DRAW;
    case 'a': today->is_fresh = !today->is_fresh; return TODAY_LOOK_UP;
    default: break;
    }
    if (character < '1' || character > '0' + FEEL_MAX)
        return TODAY_NOTHING;
    today->feel = character - '0';
    return TODAY_DRAW;
}

enum today_act today_press(struct today *today, struct press press)
{
    switch (press.kind) {
    case PRESS_ENTER: return TODAY_RIDE;
    case PRESS_UP: return change_length(today, 1);
    case PRESS_DOWN: return change_length(today, -1);
    case PRESS_LEFT: return change_profile(today, today->profile_count - 1);
    case PRESS_RIGHT: return change_profile(today, 1);
    case PRESS_CHARACTER: return on_character(today, press.character);
    case PRESS_BACKSPACE:
    case PRESS_ESCAPE: /* also what is left of a key that is not understood */
    case PRESS_OTHER: return TODAY_NOTHING;
    }
    return TODAY_NOTHING;
}

/* ---- words ---- */

const char *today_feel_text(uint32_t feel)
{
    static const char *const texts[FEEL_MAX + 1] = {"not said", "bad",  "poor",
                                                    "as usual", "good", "very good"};
    return feel <= FEEL_MAX ? texts[feel] : texts[0];
}

static void put_clock(char *ret, size_t size, uint32_t ms)
{
    struct text_writer writer = text_writer(ret, size);
    text_put_time(&writer, ms);
}

/* How the rounds make the length, and how far it bends. */
static void length_line(const struct today *today, char *ret, size_t size)
{
    const struct today_profile *profile = chosen(today);
    char low[16], high[16];

    if (!profile->bends) {
        (void)snprintf(ret, size, "as it is written; it does not bend");
        return;
    }
    put_clock(low, sizeof low, fit_length_ms(&profile->span, profile->span.low));
    put_clock(high, sizeof high, fit_length_ms(&profile->span, profile->span.high));
    (void)snprintf(ret, size, "%u %s, from %s to %s", rounds_of(today),
                   rounds_of(today) == 1 ? "round" : "rounds", low, high);
}

static uint32_t asked_at(const struct today *today, int32_t load_pct, int32_t legs_pct)
{
    const int64_t share = (int64_t)(100 + load_pct) * (100 - legs_pct);
    return (uint32_t)((today->written * share + 5000) / 10000);
}

/* Whether the choice is what is proposed, and else what that is. */
static void put_proposal(const struct today *today, struct text_writer *writer)
{
    const bool is_as_long =
        today->proposed_length_ms == 0 || today->proposed_length_ms == today_length_ms(today);

    if (!today_has_proposal(today))
        return;
    if (today->load_pct != today->proposed_pct) {
        text_put(writer, "; proposed ");
        text_put(writer,
                 today->written > 0
                     ? verdict_target(asked_at(today, today->proposed_pct, 0), today->unit).text
                     : "otherwise");
    } else if (!is_as_long) {
        text_put(writer, "; proposed ");
        text_put_time(writer, today->proposed_length_ms);
    } else {
        text_put(writer, ", as proposed");
    }
}

/* "+3 %, legs -3 %: 250 W in the work, as proposed" */
static void load_line(const struct today *today, char *ret, size_t size)
{
    const int32_t legs_pct = fit_legs_pct(today->feel);
    struct text_writer writer = text_writer(ret, size);

    if (today->is_first) {
        text_put(&writer, "a first block: as short as it can be, targets 20 % down");
        return;
    }
    if (today->load_pct == 0) {
        text_put(&writer, "as written");
    } else {
        text_put(&writer, today->load_pct > 0 ? "+" : "");
        text_put_signed(&writer, today->load_pct);
        text_put(&writer, " %");
    }
    if (legs_pct > 0) {
        text_put(&writer, ", legs ");
        text_put_signed(&writer, -legs_pct);
        text_put(&writer, " %");
    }
    if (today->written > 0) {
        text_put(&writer, ": ");
        text_put(&writer,
                 verdict_target(asked_at(today, today->load_pct, legs_pct), today->unit).text);
        text_put(&writer, " in the work");
    }
    put_proposal(today, &writer);
}

static const char *or_none(const char *text, const char *none)
{
    return text != NULL && text[0] != '\0' ? text : none;
}

/* NULL where none is kept. */
static const char *kept(const char *text)
{
    return or_none(text, NULL);
}

/* ---- as lines ---- */

static void put_field(struct text_writer *writer, const char *label, const char *value)
{
    text_put(writer, label);
    text_put(writer, value);
    text_put_char(writer, '\n');
}

void today_put(const struct today *today, struct text_writer *writer)
{
    char length[LINE_MAX_OCTETS];

    length_line(today, length, sizeof length);
    put_field(writer, "Ride    ", chosen(today)->title);
    put_field(writer, "        ", chosen(today)->path);
    text_put(writer, "Length  ");
    text_put_time(writer, today_length_ms(today));
    put_field(writer, ": ", length);
    load_line(today, length, sizeof length);
    put_field(writer, "Load    ", length);
    put_field(writer, "After   ", today->is_fresh ? "nothing, fresh" : "leg work");
    put_field(writer, "Bike    ", or_none(today->bike, "none"));
    put_field(writer, "Strap   ", or_none(today->strap, "none"));
    if (kept(today->power) != NULL)
        put_field(writer, "Power   ", today->power);
    if (kept(today->cadence) != NULL)
        put_field(writer, "Cadence ", today->cadence);
    put_field(writer, "Last    ", or_none(today->last, "none like it yet"));
    if (!today_has_proposal(today))
        return;
    put_field(writer, "Advice  ", today->next);
}

/* ---- as a picture ---- */

#define LABEL_AT      2
#define VALUE_AT      11
#define SIGN_ROWS     5
#define SLIDER_AT     40
#define SLIDER_SIZE   20
#define KEYS_FROM_END 3

static void draw_field(struct canvas *canvas, int row, const char *label, const char *value)
{
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, label);
    (void)canvas_text(canvas, VALUE_AT, row, STYLE_PLAIN, value);
}

static void draw_profile(const struct today *today, struct canvas *canvas, int row)
{
    char place[32];

    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, "Ride");
    (void)canvas_text(canvas, VALUE_AT, row, STYLE_STRONG, chosen(today)->title);
    (void)snprintf(place, sizeof place, "%zu of %zu", today->profile + 1, today->profile_count);
    canvas_text_right(canvas, canvas->columns - LABEL_AT, row, STYLE_QUIET, place);
    (void)canvas_text(canvas, VALUE_AT, row + 1, STYLE_QUIET, chosen(today)->path);
}

/* A line from the shortest to the longest with a mark on it. */
static void draw_slider(const struct today *today, struct canvas *canvas, int row)
{
    const struct fit_span *span = &chosen(today)->span;
    const int steps = span->high - span->low;
    const int at = steps > 0 ? (rounds_of(today) - span->low) * (SLIDER_SIZE - 1) / steps : 0;

    if (!chosen(today)->bends)
        return;
    canvas_fill(canvas, SLIDER_AT, row, SLIDER_SIZE, 1, STYLE_QUIET, '-');
    canvas_put(canvas, SLIDER_AT + at, row, STYLE_STRONG, 'O');
}

static void draw_length(const struct today *today, struct canvas *canvas, int row)
{
    char clock[16], line[LINE_MAX_OCTETS];

    put_clock(clock, sizeof clock, today_length_ms(today));
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, "Length");
    canvas_signs(canvas, VALUE_AT, row, SIGN_ROWS, STYLE_STRONG, clock);
    length_line(today, line, sizeof line);
    (void)canvas_text(canvas, SLIDER_AT, row + 1, STYLE_PLAIN, line);
    draw_slider(today, canvas, row + 3);
}

/* The chosen one stands in brackets, so that it does not hang on a colour. */
static int draw_choice(struct canvas *canvas, int column, int row, bool is_chosen, const char *text)
{
    if (is_chosen)
        (void)canvas_text(canvas, column, row, STYLE_STRONG, "[");
    column = canvas_text(canvas, column + 1, row, is_chosen ? STYLE_STRONG : STYLE_QUIET, text);
    if (is_chosen)
        (void)canvas_text(canvas, column, row, STYLE_STRONG, "]");
    return column + 2;
}

static void draw_legs(const struct today *today, struct canvas *canvas, int row)
{
    int column = VALUE_AT - 1;
    char line[LINE_MAX_OCTETS];

    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, "Legs");
    for (uint32_t feel = 1; feel <= FEEL_MAX; feel++) {
        char text[24];
        (void)snprintf(text, sizeof text, "%" PRIu32 " %s", feel, today_feel_text(feel));
        column = draw_choice(canvas, column, row, today->feel == feel, text);
    }
    load_line(today, line, sizeof line);
    draw_field(canvas, row + 1, "Load", line);
    (void)canvas_text(canvas, LABEL_AT, row + 2, STYLE_QUIET, "After");
    column = draw_choice(canvas, VALUE_AT - 1, row + 2, !today->is_fresh, "leg work");
    (void)draw_choice(canvas, column, row + 2, today->is_fresh, "nothing, fresh");
}

/* In as many rows as are left above the keys. */
static void draw_next(const struct today *today, struct canvas *canvas, int row)
{
    const size_t room = (size_t)(canvas->columns - VALUE_AT - LABEL_AT);
    const char *text = today->next;
    char line[LINE_MAX_OCTETS];

    if (!today_has_proposal(today) || row >= canvas->rows - KEYS_FROM_END)
        return;
    (void)canvas_text(canvas, LABEL_AT, row, STYLE_QUIET, "Advice");
    for (; text[0] != '\0' && row < canvas->rows - KEYS_FROM_END; row++) {
        const size_t taken = text_line_octets(text, room);
        (void)snprintf(line, sizeof line, "%.*s", (int)taken, text);
        (void)canvas_text(canvas, VALUE_AT, row, STYLE_PLAIN, line);
        text += taken;
        text += text[0] == ' ';
    }
}

static void draw_keys(struct canvas *canvas)
{
    const int row = canvas->rows - KEYS_FROM_END;
    const int column = canvas_text(canvas, LABEL_AT, row, STYLE_STRONG, "Enter  ride");

    (void)canvas_text(canvas, column + 4, row, STYLE_PLAIN, "q  leave");
    (void)canvas_text(canvas, LABEL_AT, row + 1, STYLE_QUIET,
                      "left, right  profile   up, down  length   + -  load   n  next");
    (void)canvas_text(canvas, LABEL_AT, row + 2, STYLE_QUIET, "1-5  legs   a  after");
}

/* Gives the row behind them. The last block gives way where there are few rows. */
static int draw_kept_and_last(const struct today *today, struct canvas *canvas, int row)
{
    if (kept(today->power) != NULL)
        draw_field(canvas, row++, "Power", today->power);
    if (kept(today->cadence) != NULL)
        draw_field(canvas, row++, "Cadence", today->cadence);
    if (row < canvas->rows - KEYS_FROM_END)
        draw_field(canvas, row++, "Last", or_none(today->last, "none like it yet"));
    return row;
}

void today_draw(const struct today *today, struct canvas *canvas)
{
    if (canvas->columns < TODAY_COLUMNS_MIN || canvas->rows < TODAY_ROWS_MIN) {
        canvas_too_small(canvas, 0, "Enter ride  q leave", TODAY_COLUMNS_MIN, TODAY_ROWS_MIN);
        return;
    }
    draw_profile(today, canvas, 1);
    draw_length(today, canvas, 4);
    draw_legs(today, canvas, 10);
    draw_field(canvas, 13, "Bike", or_none(today->bike, "none"));
    draw_field(canvas, 14, "Strap", or_none(today->strap, "none"));
    draw_next(today, canvas, draw_kept_and_last(today, canvas, 15));
    draw_keys(canvas);
}
