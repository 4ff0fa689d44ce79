/* What to ride today: keys, and where it stands on the canvas. All names and numbers are invented.
 */
#include "ui/today.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static const struct today_profile profiles[] = {
    {.path = "profiles/a.profile",
     .title = "20/10",
     .length_ms = 240000,
     .bends = true,
     .span = {.item = 1, .round_ms = 30000, .rounds = 8, .low = 6, .high = 14}},
    {.path = "profiles/b.profile",
     .title = "Minutes",
     .length_ms = 300000,
     .bends = true,
     .span = {.item = 1, .round_ms = 60000, .rounds = 5, .low = 3, .high = 7}},
    {.path = "profiles/c.profile", .title = "Stiff", .length_ms = 200000},
};

static struct today today;
static struct canvas canvas;

static int set_up(void **state)
{
    (void)state;
    today = (struct today){.profiles = profiles,
                           .profile_count = 3,
                           .bike = "virtual, inside the program",
                           .strap = "",
                           .last = "Tue 17 Nov: 4:00, 61.2 kJ, 243 W in the work"};
    return 0;
}

static enum today_act type(char character)
{
    return today_press(&today, (struct press){PRESS_CHARACTER, (uint32_t)character});
}

static enum today_act push(enum press_kind kind)
{
    return today_press(&today, (struct press){kind, 0});
}

static void arrows_walk_through_the_lengths(void **state)
{
    (void)state;
    assert_int_equal(today_length_ms(&today), 240000);
    assert_int_equal(push(PRESS_UP), TODAY_DRAW);
    assert_int_equal(today_length_ms(&today), 270000);
    for (int i = 0; i < 5; i++)
        assert_int_equal(push(PRESS_UP), TODAY_DRAW);
    assert_int_equal(today_length_ms(&today), 420000);
    assert_int_equal(push(PRESS_UP), TODAY_NOTHING);
    for (int i = 0; i < 8; i++)
        assert_int_equal(push(PRESS_DOWN), TODAY_DRAW);
    assert_int_equal(today_length_ms(&today), 180000);
    assert_int_equal(push(PRESS_DOWN), TODAY_NOTHING);
}

static void another_profile_keeps_the_wanted_length(void **state)
{
    (void)state;
    assert_int_equal(push(PRESS_UP), TODAY_DRAW); /* 4:30 */
    assert_int_equal(push(PRESS_RIGHT), TODAY_LOOK_UP);
    assert_int_equal(today_length_ms(&today), 240000); /* as close as 5:00, and less */
    assert_int_equal(type('p'), TODAY_LOOK_UP);
    assert_int_equal(today_length_ms(&today), 200000);
    assert_int_equal(push(PRESS_UP), TODAY_NOTHING);
    assert_int_equal(push(PRESS_RIGHT), TODAY_LOOK_UP);
    assert_int_equal(today_length_ms(&today), 270000);
    assert_int_equal(push(PRESS_LEFT), TODAY_LOOK_UP);
    assert_int_equal(today.profile, 2);
    today.profile_count = 1;
    today.profile = 0;
    assert_int_equal(push(PRESS_LEFT), TODAY_NOTHING);
}

static void keys_do_what_they_say(void **state)
{
    (void)state;
    assert_int_equal(type('0'), TODAY_NOTHING);
    assert_int_equal(type('6'), TODAY_NOTHING);
    assert_int_equal(today.feel, 0);
    assert_int_equal(type('5'), TODAY_DRAW);
    assert_int_equal(type('1'), TODAY_DRAW);
    assert_int_equal(today.feel, 1);
    assert_int_equal(type('a'), TODAY_LOOK_UP);
    assert_true(today.is_fresh);
    assert_int_equal(type('a'), TODAY_LOOK_UP);
    assert_false(today.is_fresh);
    assert_int_equal(push(PRESS_ESCAPE), TODAY_NOTHING);
    assert_int_equal(push(PRESS_ENTER), TODAY_RIDE);
    assert_int_equal(type('q'), TODAY_LEAVE);
}

static void assert_rows(int columns, int rows, const char *const *expected, int count)
{
    char text[CANVAS_ROW_TEXT_MAX];

    canvas_clear(&canvas, columns, rows, true);
    today_draw(&today, &canvas);
    for (int row = 0; row < rows; row++) {
        canvas_row_text(&canvas, row, text, sizeof text);
        assert_string_equal(text, row < count ? expected[row] : "");
    }
}

static void at_80_by_24(void **state)
{
    static const char *const expected[] = {
        "",
        "  Ride     20/10                                                        1 of 3",
        "           profiles/a.profile",
        "",
        "  Length   ##  ##      ######  ######",
        "           ##  ##  ##  ##  ##  ##  ##   8 rounds, from 3:00 to 7:00",
        "           ######      ##  ##  ##  ##",
        "               ##  ##  ##  ##  ##  ##   ----O---------------",
        "               ##      ######  ######",
        "",
        "  Legs     1 bad  [2 poor]  3 as usual   4 good   5 very good",
        "  Load     as written, legs -3 %",
        "  After   [leg work]  nothing, fresh",
        "  Bike     virtual, inside the program",
        "  Strap    none",
        "  Last     Tue 17 Nov: 4:00, 61.2 kJ, 243 W in the work",
        "",
        "",
        "",
        "",
        "",
        "  Enter  ride    q  leave",
        "  left, right  profile   up, down  length   + -  load   n  next",
        "  1-5  legs   a  after",
    };
    (void)state;
    (void)type('2');
    assert_rows(80, 24, expected, 24);
}

static void at_100_by_30_a_stiff_one(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    today.profile = 2;
    today.last = NULL;
    canvas_clear(&canvas, 100, 30, true);
    today_draw(&today, &canvas);
    canvas_row_text(&canvas, 5, text, sizeof text);
    assert_non_null(strstr(text, "as it is written; it does not bend"));
    canvas_row_text(&canvas, 7, text, sizeof text);
    assert_null(strchr(text, 'O'));
    canvas_row_text(&canvas, 15, text, sizeof text);
    assert_string_equal(text, "  Last     none like it yet");
    canvas_row_text(&canvas, 27, text, sizeof text);
    assert_string_equal(text, "  Enter  ride    q  leave");
}

#define ADVICE "Next time 258 W in the work instead of 250 W (+3 %): the last two went well enough"

static void propose(int32_t pct, uint32_t length_ms)
{
    today.next = ADVICE;
    today.written = 250;
    today.proposed_pct = pct;
    today.proposed_length_ms = length_ms;
}

static void assert_line(const char *expected)
{
    char text[1024];
    struct text_writer writer = text_writer(text, sizeof text);

    today_put(&today, &writer);
    assert_false(writer.failed);
    const char *at = strstr(text, "Load    ");
    assert_non_null(at);
    assert_int_equal(strcspn(at, "\n"), strlen(expected));
    assert_memory_equal(at, expected, strlen(expected));
}

/* 250 W and 3 % of them: 257.5, 258 rounded. */
static void a_proposal_is_followed_or_overruled(void **state)
{
    (void)state;
    assert_false(today_has_proposal(&today));
    today_follow(&today);
    assert_int_equal(today.load_pct, 0);
    propose(3, 270000);
    assert_true(today_has_proposal(&today));
    assert_line("Load    as written: 250 W in the work; proposed 258 W");
    today_follow(&today);
    assert_int_equal(today.load_pct, 3);
    assert_int_equal(today_length_ms(&today), 270000);
    assert_line("Load    +3 %: 258 W in the work, as proposed");
    assert_int_equal(push(PRESS_UP), TODAY_DRAW);
    assert_line("Load    +3 %: 258 W in the work; proposed 4:30");
    assert_int_equal(type('+'), TODAY_DRAW);
    assert_line("Load    +4 %: 260 W in the work; proposed 258 W");
    assert_int_equal(type('n'), TODAY_DRAW);
    assert_int_equal(today.load_pct, 3);
    assert_int_equal(today_length_ms(&today), 270000);
    for (int i = 0; i < 8; i++)
        assert_int_equal(type('-'), TODAY_DRAW);
    (void)type('1');
    assert_line("Load    -5 %, legs -6 %: 223 W in the work; proposed 258 W");
    today.unit = VERDICT_LEVEL_TENTHS;
    (void)type('n');
    (void)type('3');
    assert_line("Load    +3 %: level 25.8 in the work, as proposed");
}

static void a_load_has_its_ends_and_a_first_block_none(void **state)
{
    (void)state;
    today.load_pct = 49;
    assert_int_equal(type('+'), TODAY_DRAW);
    assert_int_equal(type('+'), TODAY_NOTHING);
    today.load_pct = -50;
    assert_int_equal(type('-'), TODAY_NOTHING);
    today.load_pct = 0;
    propose(3, 0);
    today.is_first = true;
    assert_false(today_has_proposal(&today));
    assert_int_equal(type('+'), TODAY_NOTHING);
    assert_line("Load    a first block: as short as it can be, targets 20 % down");
    today.length_ms = 420000;
    assert_int_equal(today_length_ms(&today), 180000);
    assert_int_equal(today_press(&today, (struct press){.kind = PRESS_UP}), TODAY_NOTHING);
}

static void the_advice_takes_what_room_there_is(void **state)
{
    char text[CANVAS_ROW_TEXT_MAX];

    (void)state;
    propose(3, 0);
    canvas_clear(&canvas, 80, 24, true);
    today_draw(&today, &canvas);
    canvas_row_text(&canvas, 16, text, sizeof text);
    assert_string_equal(
        text, "  Advice   Next time 258 W in the work instead of 250 W (+3 %): the last two");
    canvas_row_text(&canvas, 17, text, sizeof text);
    assert_string_equal(text, "           went well enough");
    canvas_clear(&canvas, 64, 20, true);
    today_draw(&today, &canvas);
    canvas_row_text(&canvas, 16, text, sizeof text);
    assert_string_equal(text, "  Advice   Next time 258 W in the work instead of 250 W (+3");
    canvas_row_text(&canvas, 17, text, sizeof text);
    assert_string_equal(text, "  Enter  ride    q  leave");
}

static void kept_sensors_are_told_of(void **state)
{
    static const char *const labels[] = {"Bike", "Strap", "Power", "Cadence", "Last"};
    char text[CANVAS_COLUMNS_MAX * 4], lines[640];
    struct text_writer writer = text_writer(lines, sizeof lines);
    (void)state;
    today.power = "Pedals, C0:12:34:56:78:9B, in reach";
    today.cadence = "C0:12:34:56:78:9C, not heard";
    canvas_clear(&canvas, 80, 24, true);
    today_draw(&today, &canvas);
    for (int i = 0; i < 5; i++) {
        canvas_row_text(&canvas, 13 + i, text, sizeof text);
        assert_memory_equal(text + 2, labels[i], strlen(labels[i]));
    }
    canvas_row_text(&canvas, 15, text, sizeof text);
    assert_string_equal(text, "  Power    Pedals, C0:12:34:56:78:9B, in reach");
    canvas_clear(&canvas, 64, 20, true);
    today_draw(&today, &canvas);
    canvas_row_text(&canvas, 16, text, sizeof text);
    assert_string_equal(text, "  Cadence  C0:12:34:56:78:9C, not heard");
    canvas_row_text(&canvas, 17, text, sizeof text);
    assert_string_equal(text, "  Enter  ride    q  leave");
    today_put(&today, &writer);
    assert_non_null(strstr(lines, "Power   Pedals, C0:12:34:56:78:9B, in reach\n"
                                  "Cadence C0:12:34:56:78:9C, not heard\nLast"));
}

static void too_small(void **state)
{
    static const char *const expected[] = {"Enter ride  q leave  Too small: 64x20"};
    (void)state;
    assert_rows(63, 24, expected, 1);
    assert_rows(80, 19, expected, 1);
}

static void as_lines(void **state)
{
    char text[512];
    struct text_writer writer = text_writer(text, sizeof text);

    (void)state;
    today.is_fresh = true;
    today_put(&today, &writer);
    assert_false(writer.failed);
    assert_string_equal(text, "Ride    20/10\n"
                              "        profiles/a.profile\n"
                              "Length  4:00: 8 rounds, from 3:00 to 7:00\n"
                              "Load    as written\n"
                              "After   nothing, fresh\n"
                              "Bike    virtual, inside the program\n"
                              "Strap   none\n"
                              "Last    Tue 17 Nov: 4:00, 61.2 kJ, 243 W in the work\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(arrows_walk_through_the_lengths, set_up),
        cmocka_unit_test_setup(another_profile_keeps_the_wanted_length, set_up),
        cmocka_unit_test_setup(keys_do_what_they_say, set_up),
        cmocka_unit_test_setup(at_80_by_24, set_up),
        cmocka_unit_test_setup(at_100_by_30_a_stiff_one, set_up),
        cmocka_unit_test_setup(a_proposal_is_followed_or_overruled, set_up),
        cmocka_unit_test_setup(a_load_has_its_ends_and_a_first_block_none, set_up),
        cmocka_unit_test_setup(the_advice_takes_what_room_there_is, set_up),
        cmocka_unit_test_setup(kept_sensors_are_told_of, set_up),
        cmocka_unit_test_setup(too_small, set_up),
        cmocka_unit_test_setup(as_lines, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
