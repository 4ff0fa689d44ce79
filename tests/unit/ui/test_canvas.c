/* The grid that screens are drawn on: clipping, widths, hostile text, large signs. */
#include <limits.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

#include <cmocka.h>

#include "ui/canvas.h"
#include "ui/canvas_characters.h"

static struct canvas *canvas_of(int columns, int rows, bool ascii)
{
    static struct canvas canvas;
    /* What a canvas of this size must not touch is marked. */
    memset(&canvas, 0x5A, sizeof canvas);
    canvas_clear(&canvas, columns, rows, ascii);
    return &canvas;
}

static void assert_untouched(const struct canvas *canvas)
{
    struct cell marked;
    memset(&marked, 0x5A, sizeof marked);
    for (int i = canvas->columns * canvas->rows; i < CANVAS_COLUMNS_MAX * CANVAS_ROWS_MAX; i++)
        assert_memory_equal(&canvas->cells[i], &marked, sizeof marked);
}

static void assert_row(const struct canvas *canvas, int row, const char *expected)
{
    char text[CANVAS_ROW_TEXT_MAX];
    canvas_row_text(canvas, row, text, sizeof text);
    assert_string_equal(text, expected);
}

/* ---- size ---- */

static void test_size_is_kept_within_limits(void **state)
{
    static const struct {
        int columns, rows, expected_columns, expected_rows;
    } table[] = {{80, 24, 80, 24},
                 {0, 0, 1, 1},
                 {-5, INT_MIN, 1, 1},
                 {1000, 1000, CANVAS_COLUMNS_MAX, CANVAS_ROWS_MAX},
                 {INT_MAX, INT_MAX, CANVAS_COLUMNS_MAX, CANVAS_ROWS_MAX}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        const struct canvas *canvas = canvas_of(table[i].columns, table[i].rows, false);
        assert_int_equal(canvas->columns, table[i].expected_columns);
        assert_int_equal(canvas->rows, table[i].expected_rows);
    }
}

/* ---- text ---- */

static void test_text(void **state)
{
    /* Ten columns; what comes out, and the column after it where it is not clipped. */
    static const struct {
        int column;
        const char *text, *expected;
        int end;
    } table[] = {
        {0, "", "", 0},
        {2, "abc", "  abc", 5},
        {7, "abcdef", "       abc", 13},
        {-2, "abcdef", "cdef", 4},
        {10, "x", "", 11},
        {0, "T\xC3\xAAte", "T\xC3\xAAte", 4},
        /* two columns each; one that would be cut in half is left out */
        {0, "\xE6\xBC\xA2\xE5\xAD\x97!", "\xE6\xBC\xA2\xE5\xAD\x97!", 5},
        {7, "\xE6\xBC\xA2\xE5\xAD\x97", "       \xE6\xBC\xA2", 11},
        {9, "\xE6\xBC\xA2", "", 11},
        /* controls, escape sequences, broken and overlong UTF-8 (RFC 3629), surrogates */
        {0, "a\x1B[2Jb", "a?[2Jb", 6},
        {0, "a\tb\nc", "a?b?c", 5},
        {0,
         "\xC2\x9B"
         "31m",
         "??31m", 5},
        {0, "\xFF\xC0\xAF", "???", 3},
        {0, "\xED\xA0\x80", "???", 3},
        {0, "\xE6\xBC", "??", 2},
        /* combining marks, zero width, direction (Unicode Standard Annex 9), Hebrew */
        {0, "e\xCC\x81", "e?", 2},
        {0,
         "a\xE2\x80\x8B"
         "b",
         "a?b", 3},
        {0,
         "\xE2\x80\xAE"
         "123",
         "?123", 4},
        {0,
         "\xD7\x90"
         "12",
         "?12", 3},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct canvas *canvas = canvas_of(10, 1, false);
        const int end = canvas_text(canvas, table[i].column, 0, STYLE_PLAIN, table[i].text);
        assert_row(canvas, 0, table[i].expected);
        assert_int_equal(end, table[i].end);
        assert_untouched(canvas);
    }
}

static void test_aligned_text(void **state)
{
    (void)state;
    struct canvas *canvas = canvas_of(10, 2, false);
    canvas_text_right(canvas, 10, 0, STYLE_PLAIN, "abc");
    canvas_text_right(canvas, 3, 1, STYLE_PLAIN, "abcdef");
    assert_row(canvas, 0, "       abc");
    assert_row(canvas, 1, "abcdef");
}

static void test_half_of_a_wide_character_does_not_stay(void **state)
{
    (void)state;
    struct canvas *canvas = canvas_of(6, 1, false);
    (void)canvas_text(canvas, 0, 0, STYLE_PLAIN, "\xE6\xBC\xA2\xE5\xAD\x97");
    (void)canvas_text(canvas, 1, 0, STYLE_PLAIN, "x");
    assert_row(canvas, 0, " x\xE5\xAD\x97");
    (void)canvas_text(canvas, 1, 0, STYLE_PLAIN, "\xE6\xBC\xA2");
    assert_row(canvas, 0, " \xE6\xBC\xA2");
}

/* Whatever is shown as it is, the C library's terminals count alike. */
static void test_widths_are_those_of_the_system(void **state)
{
    (void)state;
    if (setlocale(LC_CTYPE, "C.UTF-8") == NULL)
        skip();
    for (uint32_t character = 0; character <= 0x10FFFF; character++) {
        const int width = character_width(character);
        if (width != 0 && wcwidth((wchar_t)character) != width)
            fail_msg("U+%04X: %d columns here, %d there", character, width,
                     wcwidth((wchar_t)character));
    }
}

static void test_ascii(void **state)
{
    (void)state;
    struct canvas *canvas = canvas_of(40, 2, true);
    (void)canvas_text(canvas, 0, 0, STYLE_PLAIN,
                      "T\xC3\xAAte \xE6\xBC\xA2 \xE2\x96\x88\xE2\x96\xB2");
    assert_row(canvas, 0, "T?te ?  #^");
    for (uint32_t character = 0; character <= 0x2FFFF; character++) {
        canvas_put(canvas, 0, 1, STYLE_PLAIN, character);
        const uint32_t shown = canvas_cell(canvas, 0, 1).character;
        if (shown < ' ' || shown > '~')
            fail_msg("U+%04X comes out as U+%04X", character, shown);
    }
}

static void test_row_text_that_does_not_fit(void **state)
{
    char text[4];

    (void)state;
    struct canvas *canvas = canvas_of(10, 1, false);
    (void)canvas_text(canvas, 0, 0, STYLE_PLAIN, "a\xC3\xAA\xC3\xAA");
    canvas_row_text(canvas, 0, text, sizeof text);
    assert_string_equal(text, "a\xC3\xAA");
}

/* ---- drawing ---- */

static void test_nothing_is_drawn_outside(void **state)
{
    static const int numbers[] = {INT_MIN, -301, -1, 0, 1, 4, 5, 299, 301, INT_MAX};
    const size_t count = sizeof numbers / sizeof numbers[0];

    (void)state;
    struct canvas *canvas = canvas_of(5, 4, false);
    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j < count; j++) {
            const int a = numbers[i], b = numbers[j];
            canvas_fill(canvas, a, b, b, a, STYLE_STRONG, '#');
            canvas_fill(canvas, a, a, b, b, STYLE_STRONG, 0x6F22);
            canvas_put(canvas, a, b, STYLE_STRONG, '#');
            (void)canvas_text(canvas, a, b, STYLE_STRONG, "text");
            canvas_text_right(canvas, a, b, STYLE_STRONG, "text");
            assert_int_equal(canvas_cell(canvas, a, 4).character, 0);
        }
    assert_untouched(canvas);
}

static void test_fill(void **state)
{
    (void)state;
    struct canvas *canvas = canvas_of(6, 3, false);
    canvas_fill(canvas, 1, 1, 3, 5, STYLE_URGENT, '#');
    assert_row(canvas, 0, "");
    assert_row(canvas, 1, " ###");
    assert_row(canvas, 2, " ###");
    assert_int_equal(canvas_cell(canvas, 3, 2).style, STYLE_URGENT);
    assert_int_equal(canvas_cell(canvas, 4, 2).style, STYLE_PLAIN);
}

/* ---- large signs ---- */

static void test_signs(void **state)
{
    static const struct {
        const char *signs, *rows[5];
    } table[] = {
        {"0", {"######", "##  ##", "##  ##", "##  ##", "######"}},
        {"1", {"    ##", "    ##", "    ##", "    ##", "    ##"}},
        {"2", {"######", "    ##", "######", "##", "######"}},
        {"3", {"######", "    ##", "######", "    ##", "######"}},
        {"4", {"##  ##", "##  ##", "######", "    ##", "    ##"}},
        {"5", {"######", "##", "######", "    ##", "######"}},
        {"6", {"######", "##", "######", "##  ##", "######"}},
        {"7", {"######", "    ##", "    ##", "    ##", "    ##"}},
        {"8", {"######", "##  ##", "######", "##  ##", "######"}},
        {"9", {"######", "##  ##", "######", "    ##", "######"}},
        {"-", {"", "", "######", "", ""}},
        {"^", {"  ##", " ####", "######", "  ##", "  ##"}},
        {"v", {"  ##", "  ##", "######", " ####", "  ##"}},
        {"x", {"", "", "", "", ""}},
        {"1:1",
         {"    ##          ##", "    ##  ##      ##", "    ##          ##", "    ##  ##      ##",
          "    ##          ##"}},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct canvas *canvas = canvas_of(30, 5, true);
        canvas_signs(canvas, 0, 0, 5, STYLE_PLAIN, table[i].signs);
        for (int row = 0; row < 5; row++)
            assert_row(canvas, row, table[i].rows[row]);
    }
}

/* At any height every digit differs from every other one, and stays within what was promised. */
static void test_signs_of_every_size(void **state)
{
    static char drawn[10][CANVAS_ROWS_MAX][CANVAS_COLUMNS_MAX + 1];

    (void)state;
    for (int rows = CANVAS_SIGN_ROWS_MIN; rows <= 60; rows++) {
        for (int digit = 0; digit < 10; digit++) {
            const char sign[] = {(char)('0' + digit), '\0'};
            struct canvas *canvas = canvas_of(rows + 3, rows + 2, true);
            memset(drawn[digit], 0, sizeof drawn[digit]);
            assert_int_equal(canvas_signs_width(rows, sign), rows + 1);
            canvas_signs(canvas, 1, 1, rows, STYLE_PLAIN, sign);
            for (int row = 0; row < rows + 2; row++)
                canvas_row_text(canvas, row, drawn[digit][row], CANVAS_COLUMNS_MAX + 1);
            assert_row(canvas, 0, "");
            assert_row(canvas, rows + 1, "");
            for (int row = 0; row < rows + 2; row++)
                assert_int_equal(canvas_cell(canvas, rows + 2, row).character, 0);
            for (int other = 0; other < digit; other++)
                assert_memory_not_equal(drawn[digit], drawn[other], sizeof drawn[0]);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_size_is_kept_within_limits),
        cmocka_unit_test(test_text),
        cmocka_unit_test(test_aligned_text),
        cmocka_unit_test(test_half_of_a_wide_character_does_not_stay),
        cmocka_unit_test(test_widths_are_those_of_the_system),
        cmocka_unit_test(test_ascii),
        cmocka_unit_test(test_row_text_that_does_not_fit),
        cmocka_unit_test(test_nothing_is_drawn_outside),
        cmocka_unit_test(test_fill),
        cmocka_unit_test(test_signs),
        cmocka_unit_test(test_signs_of_every_size),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
