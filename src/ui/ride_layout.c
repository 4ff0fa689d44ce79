#include "ui/ride_layout.h"

#include "base/text.h"
#include "ride_drawings.h"
#include "ride_one_line.h"
#include "ui/words.h"

#define MARGIN 2

/* Which row is for what; worked out from the size alone, so that nothing moves while one rides. */
struct places {
    int left, right; /* columns between which everything stands; `right` is past the last */
    int messages, message_rows;
    int signs, signs_rows;
    int gauge, readings, readings_rows, so_far, strip, strip_rows, keys;
};

/* ---- places ---- */

#define POWER_WIDEST   "000"
#define SECONDS_WIDEST "0:00"

static int arrow_rows(int signs_rows)
{
    const int rows = signs_rows * 2 / 3;
    return rows < CANVAS_SIGN_ROWS_MIN ? CANVAS_SIGN_ROWS_MIN : rows;
}

static int seconds_rows(int signs_rows)
{
    const int rows = signs_rows * 3 / 4;
    return rows < CANVAS_SIGN_ROWS_MIN ? CANVAS_SIGN_ROWS_MIN : rows;
}

static int signs_width(int rows, const char *power, const char *seconds)
{
    return canvas_signs_width(rows, power) + 3 + canvas_signs_width(arrow_rows(rows), "^") + 3 +
           canvas_signs_width(seconds_rows(rows), seconds);
}

/* As large as fits, the power first. */
static int fit_signs(int columns, int rows, const char *power, const char *seconds)
{
    while (rows > CANVAS_SIGN_ROWS_MIN && signs_width(rows, power, seconds) > columns)
        rows--;
    return rows;
}

static struct places places_on(const struct canvas *canvas)
{
    const int rows = canvas->rows, columns = canvas->columns;
    struct places at = {.left = MARGIN, .right = columns - MARGIN, .keys = rows - 1};

    at.message_rows = rows >= 34 ? 4 : 2;
    at.readings_rows = rows >= 34 ? 2 + CANVAS_SIGN_ROWS_MIN + (rows - 34) / 12 : 1;
    at.strip_rows = rows >= 34 ? 4 : 2;
    /* title, heading; a gap below the signs, above readings and strip; so far; mark, keys */
    const int fixed =
        2 + at.message_rows + 1 + GAUGE_ROWS + 1 + at.readings_rows + 1 + 1 + at.strip_rows + 1 + 1;
    const int spare = rows - fixed;
    at.signs_rows = fit_signs(at.right - at.left, spare, POWER_WIDEST, SECONDS_WIDEST);
    const int air = spare - at.signs_rows;

    at.messages = 2;
    at.signs = at.messages + at.message_rows + air / 4;
    at.gauge = at.signs + at.signs_rows + 1 + air / 4;
    at.readings = at.gauge + GAUGE_ROWS + 1 + air / 4;
    at.so_far = at.readings + at.readings_rows;
    at.strip = at.keys - 1 - at.strip_rows;
    return at;
}

/* ---- the top ---- */

static void draw_top(struct canvas *canvas, const struct places *at, const struct view *view)
{
    char text[64];
    struct text_writer writer = text_writer(text, sizeof text);

    (void)canvas_text(canvas, at->left, 0, STYLE_QUIET, view->plan->title);
    text_put(&writer, view->is_muted ? "  muted  " : "  ");
    text_put_time(&writer, view->block_ms);
    if (view->whole_ms > 0) {
        text_put(&writer, " of ");
        text_put_time(&writer, view->whole_ms);
    }
    canvas_text_right(canvas, at->right, 0, STYLE_QUIET, text);

    (void)canvas_text(canvas, at->left, 1, STYLE_STRONG, view->heading.text);
    canvas_text_right(canvas, at->right, 1, STYLE_PLAIN, view->next.text);
}

/* ---- messages ---- */

struct messages {
    struct canvas *canvas;
    const struct places *at;
    int next;
};

static void add_message(struct messages *messages, enum style style, const char *text)
{
    if (text[0] == '\0' || messages->next >= messages->at->message_rows)
        return;
    const int row = messages->at->messages + messages->next++;
    (void)canvas_text(messages->canvas, messages->at->left, row, style, text);
}

static void add_caution(struct messages *messages, const struct view *view, uint32_t i)
{
    char text[VIEW_LINE_MAX];
    struct text_writer writer = text_writer(text, sizeof text);

    text_put(&writer, " ! ");
    text_put(&writer, words_caution(view->cautions[i], view->by_hand));
    text_put_char(&writer, ' ');
    add_message(messages, STYLE_URGENT, text);
}

/* What does not find room stands behind what the rider must know first. */
static void draw_messages(struct canvas *canvas, const struct places *at, const struct view *view)
{
    struct messages messages = {canvas, at, 0};

    if (view->asks_to_skip)
        add_message(&messages, STYLE_STRONG, words_skip_again());
    add_message(&messages, STYLE_STRONG, view->trouble.text);
    if (view->caution_count > 0)
        add_caution(&messages, view, 0);
    add_message(&messages, STYLE_STRONG, view->knob.text);
    add_message(&messages, STYLE_PLAIN, view->advice.text);
    add_message(&messages, STYLE_PLAIN, view->aside.text);
    for (uint32_t i = 1; i < view->caution_count; i++)
        add_caution(&messages, view, i);
}

/* ---- the large signs ---- */

#define NUMBER_MAX 9999 /* four signs fit everywhere */
#define NUMBER_MIN (-999)

/* Right-aligned in `width` signs. */
static void put_number(struct text_writer *writer, int32_t value, int width)
{
    char text[16];
    struct text_writer digits = text_writer(text, sizeof text);

    text_put_signed(&digits, value > NUMBER_MAX   ? NUMBER_MAX
                             : value < NUMBER_MIN ? NUMBER_MIN
                                                  : value);
    for (int i = (int)digits.length; i < width; i++)
        text_put_char(writer, ' ');
    text_put(writer, text);
}

static void put_reading(struct text_writer *writer, const struct view_reading *reading)
{
    if (reading->known)
        put_number(writer, reading->value, 3);
    else
        text_put(writer, "---");
}

/* Up to 99 s in seconds, then in minutes and seconds. */
static void put_countdown(struct text_writer *writer, uint32_t seconds)
{
    if (seconds < 100)
        put_number(writer, (int32_t)seconds, 2);
    else
        text_put_time(writer, seconds < 6000 ? seconds * 1000u : 5999000u);
}

static void draw_countdown(struct canvas *canvas, const struct places *at, const struct view *view,
                           int rows)
{
    char text[16];
    struct text_writer writer = text_writer(text, sizeof text);
    char label[64];
    struct text_writer words = text_writer(label, sizeof label);

    if (!view->counts_down)
        return;
    put_countdown(&writer, view->countdown_s);
    text_put(&words, view->countdown_s < 100 ? "seconds " : "minutes ");
    text_put(&words, view->countdown_of);
    canvas_signs(canvas, at->right - canvas_signs_width(rows, text), at->signs, rows, STYLE_STRONG,
                 text);
    canvas_text_right(canvas, at->right, at->signs + rows + 1, STYLE_QUIET, label);
}

/* Which way the number should go, as a shape beside it. */
static void draw_arrow(struct canvas *canvas, int column, const struct places *at, int rows,
                       enum stand stand)
{
    if (stand == STAND_LOW || stand == STAND_HIGH)
        canvas_signs(canvas, column, at->signs + (rows - arrow_rows(rows)) / 2, arrow_rows(rows),
                     style_of_stand(stand), stand == STAND_LOW ? "^" : "v");
}

static void draw_signs(struct canvas *canvas, const struct places *at, const struct view *view)
{
    char text[16];
    struct text_writer writer = text_writer(text, sizeof text);
    const int columns = at->right - at->left;
    const enum stand stand = view->large.stand;

    put_reading(&writer, &view->large);
    /* More digits than expected are smaller, never cut. */
    const int rows = fit_signs(columns, at->signs_rows, text, SECONDS_WIDEST);
    const int after = at->left + canvas_signs_width(rows, text) + 1;

    draw_countdown(canvas, at, view, seconds_rows(rows));
    if (view->large_unit[0] == '\0')
        return;
    canvas_signs(canvas, at->left, at->signs, rows, style_of_stand(stand), text);
    const int end =
        canvas_text(canvas, after, at->signs + rows - 1, STYLE_STRONG, view->large_unit);
    draw_arrow(canvas, end + 1, at, rows, stand);
}

/* ---- readings ---- */

static void put_asked(struct text_writer *writer, const struct view_reading *reading)
{
    if (!reading->range.set)
        return;
    text_put_char(writer, ' ');
    text_put_signed(writer, reading->range.low);
    text_put(writer, "..");
    text_put_signed(writer, reading->range.high);
}

/* One row: the number, in words where it stands, what is asked. */
static int draw_reading_line(struct canvas *canvas, int column, int row, const char *name,
                             const struct view_reading *reading, const char *unit)
{
    char value[64];
    struct text_writer writer = text_writer(value, sizeof value);
    const struct view_line stand = words_of_stand(reading, "");

    column = canvas_text(canvas, column, row, STYLE_QUIET, name) + 1;
    put_reading(&writer, reading);
    text_put(&writer, unit);
    if (stand.text[0] != '\0')
        text_put_char(&writer, ' ');
    text_put(&writer, stand.text);
    column = canvas_text(canvas, column, row, style_of_stand(reading->stand), value);
    writer = text_writer(value, sizeof value);
    put_asked(&writer, reading);
    return canvas_text(canvas, column, row, STYLE_QUIET, value);
}

/* The same with a large number below its name. */
static void draw_reading_signs(struct canvas *canvas, int column, int row, int rows,
                               const char *name, const struct view_reading *reading,
                               const char *unit)
{
    char text[64];
    struct text_writer writer = text_writer(text, sizeof text);
    const struct view_line stand = words_of_stand(reading, "");

    text_put(&writer, name);
    put_asked(&writer, reading);
    text_put(&writer, unit);
    (void)canvas_text(canvas, column, row, STYLE_QUIET, text);
    writer = text_writer(text, sizeof text);
    put_reading(&writer, reading);
    canvas_signs(canvas, column, row + 1, rows, style_of_stand(reading->stand), text);
    (void)canvas_text(canvas, column + canvas_signs_width(rows, text) + 1, row + rows,
                      style_of_stand(reading->stand), stand.text);
}

static void draw_readings(struct canvas *canvas, const struct places *at, const struct view *view)
{
    const int second = (at->left + at->right) / 2;
    char limit[32];
    struct text_writer writer = text_writer(limit, sizeof limit);

    text_put(&writer, ", limit ");
    text_put_signed(&writer, view->heart_limit_bpm);
    if (at->readings_rows == 1) {
        (void)draw_reading_line(canvas, at->left, at->readings, "cadence", &view->cadence_rpm,
                                " rpm");
        const int end =
            draw_reading_line(canvas, second, at->readings, "heart", &view->heart_bpm, " bpm");
        (void)canvas_text(canvas, end, at->readings, STYLE_QUIET, limit);
        return;
    }
    const int rows = at->readings_rows - 2;
    draw_reading_signs(canvas, at->left, at->readings, rows, "cadence", &view->cadence_rpm, " rpm");
    char unit[48];
    writer = text_writer(unit, sizeof unit);
    text_put(&writer, " bpm");
    text_put(&writer, limit);
    draw_reading_signs(canvas, second, at->readings, rows, "heart", &view->heart_bpm, unit);
}

/* ---- below ---- */

static void draw_keys(struct canvas *canvas, const struct places *at, const struct view *view)
{
    int column = at->left;

    for (uint32_t i = 0; i < view->key_count && i < VIEW_KEYS_MAX; i++) {
        column = canvas_text(canvas, column, at->keys, STYLE_STRONG, view->keys[i].key) + 1;
        column = canvas_text(canvas, column, at->keys, STYLE_QUIET, view->keys[i].does) + 4;
    }
}

/* In the place of the gauge, before there is one. */
static void draw_each_ride(struct canvas *canvas, const struct places *at)
{
    const char *text = words_each_ride;

    for (int row = at->gauge; *text != '\0' && row < at->gauge + GAUGE_ROWS; row++) {
        char line[VIEW_LINE_MAX];
        struct text_writer writer = text_writer(line, sizeof line);
        for (; *text != '\0' && *text != '\n'; text++)
            text_put_char(&writer, *text);
        if (*text == '\n')
            text++;
        (void)canvas_text(canvas, at->left, row, STYLE_PLAIN, line);
    }
}

/* In the place of the gauge, since nothing is asked any more. */
static void draw_cut_off(struct canvas *canvas, const struct places *at, const struct view *view)
{
    const enum cut_off cut_off = view->cut_off;
    const int column = at->left + 2, row = at->gauge;
    int end;

    canvas_fill(canvas, at->left, row - 1, at->right - at->left, GAUGE_ROWS + 2, STYLE_URGENT, ' ');
    end = canvas_text(canvas, column, row, STYLE_URGENT, "CUT OFF: ");
    (void)canvas_text(canvas, end, row, STYLE_URGENT, words_cut_off(cut_off));
    (void)canvas_text(canvas, column, row + 1, STYLE_URGENT, words_load_at(cut_off, view->by_hand));
    (void)canvas_text(canvas, column, row + 2, STYLE_URGENT,
                      words_caution(CAUTION_KEEP_TURNING, view->by_hand));
    (void)canvas_text(canvas, column, row + 3, STYLE_URGENT, words_acknowledge());
}

/* ---- all of it ---- */

void ride_layout(const struct view *view, struct canvas *canvas)
{
    if (canvas->columns < RIDE_COLUMNS_MIN || canvas->rows < RIDE_ROWS_MIN) {
        ride_one_line(view, canvas);
        return;
    }
    const struct places at = places_on(canvas);

    draw_top(canvas, &at, view);
    draw_messages(canvas, &at, view);
    draw_signs(canvas, &at, view);
    (void)canvas_text(canvas, at.left, at.gauge - 1, STYLE_PLAIN, view->target.text);
    draw_gauge(canvas, at.left, at.gauge, at.right - at.left,
               view->by_cadence ? &view->cadence_rpm : &view->power_w,
               view->by_cadence ? " rpm" : " W");
    draw_readings(canvas, &at, view);
    (void)canvas_text(canvas, at.left, at.so_far, STYLE_QUIET, view->so_far.text);
    (void)canvas_text(canvas, at.left, at.so_far + 1, STYLE_STRONG, view->sources.text);
    draw_strip(canvas, at.left, at.strip, at.right - at.left, at.strip_rows, view);
    if (view->phase <= PHASE_READY)
        draw_each_ride(canvas, &at);
    if (view->cut_off != CUT_OFF_NONE)
        draw_cut_off(canvas, &at, view);
    draw_keys(canvas, &at, view);
}
