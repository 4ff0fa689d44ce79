#include "ride_one_line.h"

#include "base/text.h"
#include "ui/ride_layout.h"
#include "ui/words.h"

/* The large number and how to stop come first: they are seen at any width. */
static int draw_short_readings(struct canvas *canvas, const struct view *view)
{
    char text[80];
    struct text_writer writer = text_writer(text, sizeof text);

    if (view->large_unit[0] != '\0') {
        if (view->large.known)
            text_put_signed(&writer, view->large.value);
        else
            text_put(&writer, "---");
        text_put_char(&writer, ' ');
        text_put(&writer, view->large_unit);
        text_put_char(&writer, ' ');
    }
    if (view->key_count > 0) {
        text_put(&writer, "s ");
        text_put(&writer, view->keys[0].does);
        text_put(&writer, "  ");
    }
    return canvas_text(canvas, 0, 0, STYLE_STRONG, text);
}

/* What stands between the rider and the load, and how long that lasts. */
static int draw_short_state(struct canvas *canvas, int column, const struct view *view)
{
    char text[2 * VIEW_LINE_MAX];
    struct text_writer writer = text_writer(text, sizeof text);

    if (view->cut_off != CUT_OFF_NONE)
        column = canvas_text(canvas, column, 0, STYLE_URGENT, "CUT OFF") + 2;
    else if (view->phase == PHASE_HELD)
        column = canvas_text(canvas, column, 0, STYLE_URGENT, "HELD") + 2;
    if (view->counts_down) {
        text_put_unsigned(&writer, view->countdown_s);
        text_put(&writer, " s ");
        text_put(&writer, view->countdown_of);
        column = canvas_text(canvas, column, 0, STYLE_STRONG, text) + 2;
    }
    if (view->trouble.text[0] != '\0')
        column = canvas_text(canvas, column, 0, STYLE_URGENT, view->trouble.text) + 2;
    return column;
}

void ride_one_line(const struct view *view, struct canvas *canvas)
{
    const int column = draw_short_state(canvas, draw_short_readings(canvas, view), view);

    canvas_too_small(canvas, column - 2, "", RIDE_COLUMNS_MIN, RIDE_ROWS_MIN);
    if (view->cut_off != CUT_OFF_NONE) {
        const int end = canvas_text(canvas, 0, 1, STYLE_URGENT, "CUT OFF: ");
        (void)canvas_text(canvas, end, 1, STYLE_URGENT, words_cut_off(view->cut_off));
        (void)canvas_text(canvas, 0, 2, STYLE_URGENT,
                          words_caution(CAUTION_KEEP_TURNING, view->by_hand));
        (void)canvas_text(canvas, 0, 3, STYLE_URGENT, words_acknowledge());
    } else {
        for (uint32_t i = 0; i < view->caution_count; i++)
            (void)canvas_text(canvas, 0, 1 + (int)i, STYLE_URGENT,
                              words_caution(view->cautions[i], view->by_hand));
    }
}
