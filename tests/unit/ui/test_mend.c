/* A file that is no profile yet: what keys make of its lines, and how it is shown. */
#include "ui/mend.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static const char faulty[] = "title A\n"
                             "length 3:00..7:00\n"
                             "work 3:00 power up W\n"
                             "# the end";

static struct mend mend;
static struct canvas canvas;

static int begin(void **state)
{
    (void)state;
    memset(&mend, 0, sizeof mend);
    mend_begin(&mend, "a.profile", faulty, strlen(faulty));
    return 0;
}

static void type(const char *keys)
{
    for (; *keys != '\0'; keys++)
        (void)mend_press(&mend, (struct press){PRESS_CHARACTER, (unsigned char)*keys});
}

static void push(enum press_kind kind, int times)
{
    while (times-- > 0)
        (void)mend_press(&mend, (struct press){kind, 0});
}

static void assert_text(const char *expected)
{
    assert_int_equal(mend.length, strlen(expected));
    assert_memory_equal(mend.text, expected, mend.length);
}

static void a_line_is_typed_anew(void **state)
{
    (void)state;
    assert_false(mend.is_sound);
    assert_int_equal(mend.fault.line, 3);
    push(PRESS_ENTER, 1);
    assert_string_equal(mend.typed, "work 3:00 power up W");
    push(PRESS_BACKSPACE, 4);
    type("10..20 W");
    assert_false(mend.is_sound);
    push(PRESS_ENTER, 1);
    assert_true(mend.is_sound);
    assert_int_equal(mend.profile.item_count, 1);
    assert_text("title A\nlength 3:00..7:00\nwork 3:00 power 10..20 W\n# the end");
}

static void lines_come_and_go(void **state)
{
    (void)state;
    type("d"); /* then a work step is wanted, at the end of the file */
    assert_text("title A\nlength 3:00..7:00\n# the end");
    assert_non_null(strstr(mend.fault.message, "expected a work step"));
    type("a");
    type("work 4:00");
    push(PRESS_ENTER, 1);
    assert_true(mend.is_sound);
    assert_text("title A\nlength 3:00..7:00\nwork 4:00\n# the end");
    type("u");
    assert_false(mend.is_sound);
    assert_text(faulty);
    push(PRESS_ENTER, 1);
    type("x");
    push(PRESS_ESCAPE, 1);
    assert_text(faulty);
    assert_int_equal(mend_press(&mend, (struct press){PRESS_CHARACTER, 'q'}), MEND_LEAVE);
}

/* A file of an editor elsewhere: its breaks stay. */
static void other_breaks_stay(void **state)
{
    static const char text[] = "title A\r\nlength up\r\nwork 3:00\r\n";

    (void)state;
    mend_begin(&mend, "a.profile", text, strlen(text));
    push(PRESS_ENTER, 1);
    assert_string_equal(mend.typed, "length up");
    push(PRESS_BACKSPACE, 2);
    type("3:00..7:00");
    push(PRESS_ENTER, 1);
    assert_text("title A\r\nlength 3:00..7:00\r\nwork 3:00\r\n");
}

/* Octets that are no text, and none at all. */
static void hostile_files(void **state)
{
    static char large[PROFILE_FILE_MAX];
    static const char odd[] = "title A\nlength\0\t\x80\xff\n\x1b[2J\n";

    (void)state;
    mend_begin(&mend, "a.profile", odd, sizeof odd - 1);
    canvas_clear(&canvas, 80, 24, false);
    mend_draw(&mend, &canvas);
    push(PRESS_ENTER, 1);
    push(PRESS_ENTER, 1);
    type("ddddd");
    assert_true(mend.length < sizeof odd - 1);
    type("a");
    push(PRESS_ENTER, 1);
    memset(large, 'x', sizeof large);
    mend_begin(&mend, "a.profile", large, sizeof large);
    type("a"); /* there is no room for it */
    assert_int_equal(mend.length, sizeof large);
    push(PRESS_ENTER, 1);
    assert_string_equal(mend.typed, ""); /* more than can be typed */
    canvas_clear(&canvas, 80, 24, false);
    mend_draw(&mend, &canvas);
}

static void as_it_is_shown(void **state)
{
    static const char *const expected[] = {
        " a.profile",
        "",
        "    1 title A",
        "    2 length 3:00..7:00",
        ">   3 work 3:00 power up W",
        "                      ^",
        "    4 # the end",
        "",
        "",
        "",
        "",
        "",
        "",
        "",
        "",
        " Line 3, column 17:",
        " expected a range such as 80..100, found 'up'",
        "",
        " Enter  type it anew   a  add a line before it   d  delete it",
        " u  all as it was read   q  leave   Nothing is saved before you say so.",
    };
    char row[CANVAS_ROW_TEXT_MAX];

    (void)state;
    canvas_clear(&canvas, 80, 20, true);
    mend_draw(&mend, &canvas);
    for (int i = 0; i < 20; i++) {
        canvas_row_text(&canvas, i, row, sizeof row);
        assert_string_equal(row, expected[i]);
    }
    canvas_clear(&canvas, 39, 20, true);
    mend_draw(&mend, &canvas);
    canvas_row_text(&canvas, 0, row, sizeof row);
    assert_string_equal(row, "Too small: 40x12.");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(a_line_is_typed_anew, begin),
        cmocka_unit_test_setup(lines_come_and_go, begin),
        cmocka_unit_test_setup(other_breaks_stay, begin),
        cmocka_unit_test_setup(hostile_files, begin),
        cmocka_unit_test_setup(as_it_is_shown, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
