#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "text/profile.h"

/* ---- faulty ones: a text, and where and what the fault is ---- */

struct faulty {
    const char *text;
    uint32_t line, column;
    const char *message;
};

#define HEAD         "title A\nlength 3:00..7:00\n"
#define FOUR         HEAD "work 4:00" /* goes on in line 3, column 10 */
#define TEN(row)     row row row row row row row row row row
#define HUNDRED(row) TEN(row row row row row row row row row row)

static struct faulty faulty_texts[] = {
    /* characters */
    {"title A\nl\x01", 2, 2, "expected UTF-8 text, found a control character or a broken octet"},
    {"title \xC3\xBC\x7F", 1, 8,
     "expected UTF-8 text, found a control character or a broken octet"},
    {"title \xC3", 1, 7, "expected UTF-8 text, found a control character or a broken octet"},
    {"title \xC0\xAF", 1, 7, "expected UTF-8 text, found a control character or a broken octet"},
    {"title \xED\xA0\x80", 1, 7,
     "expected UTF-8 text, found a control character or a broken octet"},
    {"title \xF4\x90\x80\x80", 1, 7,
     "expected UTF-8 text, found a control character or a broken octet"},
    {"title \xC2\x85", 1, 7, "expected UTF-8 text, found a control character or a broken octet"},
    {"title A\rlength", 1, 8, "expected UTF-8 text, found a control character or a broken octet"},
    {"# \xFF", 1, 3, "expected UTF-8 text, found a control character or a broken octet"},
    /* the head */
    {"", 1, 1, "expected a title, found the end of the file"},
    {"# nothing\n\n", 3, 1, "expected a title, found the end of the file"},
    {"title A", 1, 8, "expected a length, found the end of the file"},
    {"title A\n", 2, 1, "expected a length, found the end of the file"},
    {"length 3:00..7:00\n", 2, 1, "expected a title, found the end of the file"},
    {"title", 1, 6, "expected a title, found the end of the line"},
    {"title   # none", 1, 9, "expected a title, found the end of the line"},
    {"title A\n title B", 2, 2, "expected one title, found a second one"},
    {"title 1234567890123456789012345678901234567890123456789012345678901", 1, 7,
     "expected a title of at most 60 octets, found a longer one"},
    {"title A\nlength", 2, 7,
     "expected a range of times such as 3:00..7:00, found the end of the line"},
    {"length 4:00", 1, 8, "expected a range of times such as 3:00..7:00, found '4:00'"},
    {"length 3:00 ..7:00", 1, 8, "expected a range of times such as 3:00..7:00, found '3:00'"},
    {"length 3:00..7:0", 1, 8, "expected a range of times such as 3:00..7:00, found '3:00..7:0'"},
    {"length 3:00..6:60", 1, 8, "expected a range of times such as 3:00..7:00, found '3:00..6:60'"},
    {"length 3:00..7:00x", 1, 8,
     "expected a range of times such as 3:00..7:00, found '3:00..7:00x'"},
    {"length 5:00..4:00", 1, 8, "expected the lower end first, found '5:00..4:00'"},
    {"length 2:59..7:00", 1, 8, "expected a length from 3:00 to 7:00, found '2:59..7:00'"},
    {"length 3:00..7:01", 1, 8, "expected a length from 3:00 to 7:00, found '3:00..7:01'"},
    {"length 3:00..7:00 min", 1, 19, "expected the end of the line, found 'min'"},
    {"length 3:00..7:00\nlength 3:00..7:00", 2, 1, "expected one length, found a second one"},
    {"length 3:00..7:00\nwork 4:00", 2, 1, "expected a title before the first step, found 'work'"},
    {"title A\nrounds 8", 2, 1, "expected a length before the first step, found 'rounds'"},
    {HEAD "work 4:00\ntitle B", 4, 1,
     "expected floor, warm-up, rounds, work, rest, end or cool-down, found 'title'"},
    {"Title A", 1, 1,
     "expected title, length, floor, warm-up, rounds, work or rest, found 'Title'"},
    {"sprint 0:20", 1, 1,
     "expected title, length, floor, warm-up, rounds, work or rest, found 'sprint'"},
    {"a-very-long-word-that-no-message-would-want-to-repeat-whole", 1, 1,
     "expected title, length, floor, warm-up, rounds, work or rest, found "
     "'a-very-long-word-that-no-message...'"},
    {"\xEF\xBB\xBF\xC3\xBC\xC3\xBC x", 1, 1,
     "expected title, length, floor, warm-up, rounds, work or rest, found '\xC3\xBC\xC3\xBC'"},
    /* durations */
    {HEAD "work", 3, 5, "expected a time such as 0:20, found the end of the line"},
    {HEAD "work 20", 3, 6, "expected a time such as 0:20, found '20'"},
    {HEAD "work 0:2", 3, 6, "expected a time such as 0:20, found '0:2'"},
    {HEAD "work 0:200", 3, 6, "expected a time such as 0:20, found '0:200'"},
    {HEAD "work 0:60", 3, 6, "expected a time such as 0:20, found '0:60'"},
    {HEAD "work :20", 3, 6, "expected a time such as 0:20, found ':20'"},
    {HEAD "work -0:20", 3, 6, "expected a time such as 0:20, found '-0:20'"},
    {HEAD "work 0:2O", 3, 6, "expected a time such as 0:20, found '0:2O'"},
    {HEAD "work 0:20s", 3, 6, "expected a time such as 0:20, found '0:20s'"},
    {HEAD "work 0:00", 3, 6, "expected a time from 0:01 to 30:00, found '0:00'"},
    {HEAD "work 30:01", 3, 6, "expected a time from 0:01 to 30:00, found '30:01'"},
    {HEAD "work 99999999999:00", 3, 6,
     "expected a time from 0:01 to 30:00, found '99999999999:00'"},
    {HEAD "work 71583:00", 3, 6, "expected a time from 0:01 to 30:00, found '71583:00'"},
    /* targets */
    {FOUR " speed 20..30 W", 3, 11,
     "expected until, power, cadence, heart, level, effort or cue, found 'speed'"},
    {FOUR " power", 3, 16, "expected a range such as 80..100, found the end of the line"},
    {FOUR " power 120 W", 3, 17, "expected a range such as 80..100, found '120'"},
    {FOUR " power 120.. W", 3, 17, "expected a range such as 80..100, found '120..'"},
    {FOUR " power 120...130 W", 3, 17, "expected a range such as 80..100, found '120...130'"},
    {FOUR " power -5..130 W", 3, 17, "expected a range such as 80..100, found '-5..130'"},
    {FOUR " power 0x10..130 W", 3, 17, "expected a range such as 80..100, found '0x10..130'"},
    {FOUR " power 1.25..2 W", 3, 17, "expected a range such as 80..100, found '1.25..2'"},
    {FOUR " power 120..130", 3, 25, "expected W, %cp or %mark, found the end of the line"},
    {FOUR " power 120..130 w", 3, 26, "expected W, %cp or %mark, found 'w'"},
    {FOUR " power 120..130rpm", 3, 25, "expected W, %cp or %mark, found 'rpm'"},
    {FOUR " power 120..130%", 3, 25, "expected W, %cp or %mark, found '%'"},
    {FOUR " power 120..130.5W", 3, 17, "expected whole numbers, found '120..130.5W'"},
    {FOUR " power 130..120 W", 3, 17, "expected the lower end first, found '130..120'"},
    {FOUR " power 0..2001 W", 3, 17, "expected power from 0 to 2000 W, found '0..2001'"},
    {FOUR " power 0..4294967296 W", 3, 17,
     "expected power from 0 to 2000 W, found '0..4294967296'"},
    {FOUR " power 0..300.1 %cp", 3, 17, "expected power from 0 to 300 %cp, found '0..300.1'"},
    {FOUR " cadence 19..80 rpm", 3, 19, "expected cadence from 20 to 200 rpm, found '19..80'"},
    {FOUR " cadence 80..201 rpm", 3, 19, "expected cadence from 20 to 200 rpm, found '80..201'"},
    {FOUR " cadence 80..90", 3, 25, "expected rpm, found the end of the line"},
    {FOUR " cadence 80..90 power 1..2 W", 3, 26, "expected rpm, found 'power'"},
    {FOUR " heart 39..80 bpm", 3, 17, "expected heart from 40 to 220 bpm, found '39..80'"},
    {FOUR " heart 40..221 bpm", 3, 17, "expected heart from 40 to 220 bpm, found '40..221'"},
    {FOUR " level 0..100.1", 3, 17, "expected level from 0 to 100, found '0..100.1'"},
    {FOUR " level 8..9%", 3, 21, "expected nothing behind the range, found '%'"},
    {FOUR " level 8.55..9", 3, 17, "expected a range such as 80..100, found '8.55..9'"},
    {FOUR " power 1..2 W power 1..2 %cp", 3, 24,
     "expected each target once, found a second one of its kind"},
    {FOUR " power 1..2 %cp power 1..2 W", 3, 26,
     "expected each target once, found a second one of its kind"},
    {FOUR " level 1..2 level 1..2", 3, 22,
     "expected each target once, found a second one of its kind"},
    {FOUR " heart 90..99 bpm heart 90..99 bpm", 3, 28,
     "expected each target once, found a second one of its kind"},
    {FOUR " cadence 80..90rpm cadence 80..90rpm", 3, 29,
     "expected each target once, found a second one of its kind"},
    /* rounds */
    {HEAD "rounds", 3, 7,
     "expected a number of rounds from 1 to 99, or fit, found the end of the line"},
    {HEAD "rounds 0", 3, 8, "expected a number of rounds from 1 to 99, or fit, found '0'"},
    {HEAD "rounds 100", 3, 8, "expected a number of rounds from 1 to 99, or fit, found '100'"},
    {HEAD "rounds 8x", 3, 8, "expected a number of rounds from 1 to 99, or fit, found '8x'"},
    {HEAD "rounds 8 times", 3, 10, "expected the end of the line, found 'times'"},
    {HEAD "rounds 8\nend", 4, 1, "expected a step in these rounds, found 'end'"},
    {HEAD "rounds 8\nwork 0:30\n", 5, 1,
     "expected an end for the rounds in line 3, found the end of the file"},
    {HEAD "rounds 8\nrounds 2\nwork 0:30\nend", 6, 4,
     "expected an end for the rounds in line 3, found the end of the file"},
    {HEAD "end", 3, 1, "expected rounds before their end, found an end without rounds"},
    {HEAD "rounds 8\nwork 0:30\nend 8", 5, 5, "expected the end of the line, found '8'"},
    {HEAD "rounds 1\nrounds 1\nrounds 1\nrounds 1\nrounds 1\n", 7, 1,
     "expected rounds at most 4 deep, found 'rounds'"},
    {HEAD HUNDRED("work 0:02\n") TEN("rest 0:01\n") TEN("rest 0:01\n") TEN("work 0:02\n"), 131, 1,
     "expected at most 128 steps, rounds and ends, found 'work'"},
    /* order */
    {HEAD "work 4:00\n  warm-up 1:00", 4, 3,
     "expected warm-up before all other steps, found 'warm-up'"},
    {HEAD "work 4:00\ncool-down 1:00\nrest 0:10", 5, 1,
     "expected cool-down after all other steps, found 'rest'"},
    {HEAD "work 4:00\ncool-down 1:00\nrounds 8", 5, 1,
     "expected cool-down after all other steps, found 'rounds'"},
    {HEAD "rounds 8\ncool-down 1:00", 4, 1,
     "expected work, rest, rounds or end, found 'cool-down'"},
    {HEAD "rounds 8\nwarm-up 1:00", 4, 1, "expected work, rest, rounds or end, found 'warm-up'"},
    /* ramps */
    {FOUR " power 40..50 to 60 %cp", 3, 27, "expected a range such as 80..100, found '60'"},
    {FOUR " power 40..50 to", 3, 26, "expected a range such as 80..100, found the end of the line"},
    {FOUR " power 40..50 to 60..70", 3, 33, "expected W, %cp or %mark, found the end of the line"},
    {FOUR " power 40..50 W to 60..70 W", 3, 26,
     "expected power, cadence, heart, level, effort or cue, found 'to'"},
    {FOUR " power 40..50 to 70..60 W", 3, 27, "expected the lower end first, found '70..60'"},
    {FOUR " power 40..50 to 60..2001 W", 3, 27,
     "expected power from 0 to 2000 W, found '60..2001'"},
    {FOUR " power 40..50 to 60..70 to 80..90 W", 3, 34, "expected W, %cp or %mark, found 'to'"},
    {FOUR " level 4..5 to 6..7%", 3, 29, "expected nothing behind the range, found '%'"},
    {FOUR " power 0..300.1 %mark", 3, 17, "expected power from 0 to 300 %mark, found '0..300.1'"},
    {FOUR " power 1..2 %cp power 1..2 %mark", 3, 26,
     "expected each target once, found a second one of its kind"},
    /* effort */
    {FOUR " effort", 3, 17, "expected a range such as 80..100, found the end of the line"},
    {FOUR " effort harder", 3, 18, "expected a range such as 80..100, found 'harder'"},
    {FOUR " effort 5..11", 3, 18, "expected effort from 0 to 10, found '5..11'"},
    {FOUR " effort 5.5..7", 3, 18, "expected whole numbers, found '5.5..7'"},
    {FOUR " effort hard effort easy", 3, 23,
     "expected each target once, found a second one of its kind"},
    /* what ends a step */
    {FOUR " until", 3, 16, "expected 12 kJ, 400 m or 120 bpm, found the end of the line"},
    {FOUR " until tired", 3, 17, "expected 12 kJ, 400 m or 120 bpm, found 'tired'"},
    {FOUR " until 12", 3, 19, "expected kJ, m or bpm, found the end of the line"},
    {FOUR " until 12 kcal", 3, 20, "expected kJ, m or bpm, found 'kcal'"},
    {FOUR " until 12J", 3, 19, "expected kJ, m or bpm, found 'J'"},
    {FOUR " until 0 kJ", 3, 17, "expected 0.1 to 999.9 kJ, found '0'"},
    {FOUR " until 1000 kJ", 3, 17, "expected 0.1 to 999.9 kJ, found '1000'"},
    {FOUR " until 9 m", 3, 17, "expected 10 to 20000 m, found '9'"},
    {FOUR " until 99.5m", 3, 17, "expected 10 to 20000 m, found '99.5m'"},
    {FOUR "\nrest 1:00 until 59 bpm", 4, 17, "expected 60 to 200 bpm, found '59'"},
    {FOUR "\nrest 1:00 until 201bpm", 4, 17, "expected 60 to 200 bpm, found '201bpm'"},
    {FOUR " until 120 bpm", 3, 21, "expected kJ or m to end work, found a heart rate to fall to"},
    {FOUR " power 1..2 W until 12 kJ", 3, 24,
     "expected power, cadence, heart, level, effort or cue, found 'until'"},
    {FOUR " until 12 kJ until 400 m", 3, 23,
     "expected power, cadence, heart, level, effort or cue, found 'until'"},
    /* cues */
    {FOUR " cue", 3, 14, "expected words for the rider, found the end of the line"},
    {FOUR " cue   # none", 3, 17, "expected words for the rider, found the end of the line"},
    {FOUR " cue 12345678901234567890123456789012345678901", 3, 15,
     "expected a cue of at most 40 octets, found a longer one"},
    /* off the bike */
    {HEAD "floor", 3, 6, "expected a time such as 0:40, or 8 x 3010, found the end of the line"},
    {HEAD "floor 40", 3, 9, "expected x and a tempo such as 3010, found the end of the line"},
    {HEAD "floor 0:40 x 3010", 3, 12, "expected cue or the end of the line, found 'x'"},
    {HEAD "floor 8 * 3010", 3, 9, "expected x and a tempo such as 3010, found '*'"},
    {HEAD "floor 0 x 3010", 3, 7, "expected 1 to 99 repetitions, found '0'"},
    {HEAD "floor 100 x 3010", 3, 7, "expected 1 to 99 repetitions, found '100'"},
    {HEAD "floor 8 x 301", 3, 11, "expected a tempo of four digits such as 3010, found '301'"},
    {HEAD "floor 8 x 3x10", 3, 11, "expected a tempo of four digits such as 3010, found '3x10'"},
    {HEAD "floor 8 x 0000", 3, 11, "expected a tempo of four digits such as 3010, found '0000'"},
    {HEAD "floor 99 x 9999", 3, 12, "expected at most 30:00 of repetitions, found '9999'"},
    {HEAD "floor 0:00", 3, 7, "expected a time from 0:01 to 30:00, found '0:00'"},
    {HEAD "floor 0:40 power 1..2 W", 3, 12, "expected cue or the end of the line, found 'power'"},
    {HEAD "warm-up 1:00\nfloor 0:40", 4, 1, "expected floor before all other steps, found 'floor'"},
    {HEAD "rounds 2\nfloor 0:40", 4, 1, "expected work, rest, rounds or end, found 'floor'"},
    {"floor 0:40", 1, 1, "expected a title before the first step, found 'floor'"},
    /* rounds that bend */
    {HEAD "rounds fit\nwork 0:30\nend\nrounds fit", 6, 8,
     "expected one 'rounds fit', found a second one"},
    {HEAD "rounds 2\nrounds fit", 4, 8,
     "expected 'rounds fit' outside of other rounds, found it within"},
    {HEAD "rounds fit 8", 3, 12, "expected the end of the line, found '8'"},
    {HEAD "rounds fit\nwork 7:01\nend", 3, 8,
     "expected rounds that come to 3:00 to 7:00, found none that do"},
    {"title A\nlength 4:00..4:10\nrounds fit\nwork 0:45\nend", 3, 8,
     "expected rounds that come to 4:00 to 4:10, found none that do"},
    /* the whole */
    {HEAD "rest 4:00\n", 4, 1, "expected a work step, found the end of the file"},
    {HEAD, 3, 1, "expected a work step, found the end of the file"},
    {HEAD "work 2:59", 2, 8, "expected intervals of 3:00 to 7:00, found 2:59"},
    {HEAD "work 7:00\nrest 0:01", 2, 8, "expected intervals of 3:00 to 7:00, found 7:01"},
    {"title A\nlength 4:00..5:00\nwork 3:59", 2, 8,
     "expected intervals of 4:00 to 5:00, found 3:59"},
    {HEAD HUNDRED("warm-up 0:01\n") "rounds 5\nrounds 84\nwork 0:01\nend\nend", 107, 4,
     "expected at most 512 steps, found 520"},
    {HEAD "rounds 99\nrounds 99\nrounds 99\nrounds 99\nwork 30:00\nend\nend\nend\nend", 2, 8,
     "expected intervals of 3:00 to 7:00, found 2881788030:00"},
};

static void names_every_fault_and_its_place(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof(faulty_texts) / sizeof(faulty_texts[0]); i++) {
        const struct faulty *row = &faulty_texts[i];
        struct profile profile;
        struct text_fault fault = {0};
        memset(&profile, 0x5A, sizeof(profile));
        enum result result = profile_read(row->text, strlen(row->text), &profile, &fault);
        if (result != RESULT_INVALID || strcmp(fault.message, row->message) != 0 ||
            fault.line != row->line || fault.column != row->column)
            print_error("row %zu:\n%s\n-> %u:%u: %s\n", i, row->text, fault.line, fault.column,
                        fault.message);
        assert_int_equal(result, RESULT_INVALID);
        assert_string_equal(fault.message, row->message);
        assert_int_equal(fault.line, row->line);
        assert_int_equal(fault.column, row->column);
        assert_int_equal(profile.items[0].line, 0x5A5A5A5A); /* nothing was written */
    }
}

static void refuses_a_nul_inside(void **state)
{
    (void)state;
    static const char text[] = "title A\0B\n";
    struct profile profile;
    struct text_fault fault;
    assert_int_equal(profile_read(text, sizeof(text) - 1, &profile, &fault), RESULT_INVALID);
    assert_int_equal(fault.line, 1);
    assert_int_equal(fault.column, 8);
}

/* ---- good ones ---- */

static const char whole[] =
    "# source: Tabata et al. 1996\n"
    "title     20/10 x 8   # the rest is comment\n"
    "length    3:00..7:00\n"
    "\n"
    "warm-up   1:00  power 40..55 %cp  cadence 80..100 rpm\n"
    "rounds 8\n"
    "  work\t0:20  power 115..125%cp  cadence 90..110rpm heart 90..180 bpm\n"
    "  rest    0:10  power 30..50 W level 8.5..10\n"
    "end\n"
    "cool-down 3:00\n";

static struct profile read_good(const char *text)
{
    struct profile profile = {0};
    struct text_fault fault = {0};
    enum result result = profile_read(text, strlen(text), &profile, &fault);
    if (result != RESULT_OK)
        print_error("%u:%u: %s\n", fault.line, fault.column, fault.message);
    assert_int_equal(result, RESULT_OK);
    return profile;
}

static void assert_range(struct target_range range, int32_t low, int32_t high)
{
    assert_true(range.set);
    assert_int_equal(range.low, low);
    assert_int_equal(range.high, high);
}

static void reads_every_thing_a_profile_can_hold(void **state)
{
    (void)state;
    struct profile profile = read_good(whole);
    assert_string_equal(profile.title, "20/10 x 8");
    assert_int_equal(profile.length_min_ms, 180000);
    assert_int_equal(profile.length_max_ms, 420000);
    assert_int_equal(profile.item_count, 6);

    const struct profile_item *item = profile.items;
    assert_int_equal(item[0].kind, PROFILE_STEP);
    assert_int_equal(item[0].step, STEP_WARM_UP);
    assert_int_equal(item[0].duration_ms, 60000);
    assert_int_equal(item[0].line, 5);
    assert_range(item[0].targets.power_cp_tenths, 400, 550);
    assert_range(item[0].targets.cadence_rpm, 80, 100);
    assert_false(item[0].targets.power_w.set);
    assert_false(item[0].targets.heart_bpm.set);
    assert_false(item[0].targets.level_tenths.set);

    assert_int_equal(item[1].kind, PROFILE_ROUNDS);
    assert_int_equal(item[1].rounds, 8);
    assert_int_equal(item[2].step, STEP_WORK);
    assert_int_equal(item[2].duration_ms, 20000);
    assert_range(item[2].targets.power_cp_tenths, 1150, 1250);
    assert_range(item[2].targets.cadence_rpm, 90, 110);
    assert_range(item[2].targets.heart_bpm, 90, 180);
    assert_int_equal(item[3].step, STEP_REST);
    assert_range(item[3].targets.power_w, 30, 50);
    assert_range(item[3].targets.level_tenths, 85, 100);
    assert_int_equal(item[4].kind, PROFILE_END);
    assert_int_equal(item[5].step, STEP_COOL_DOWN);
    assert_int_equal(item[5].line, 10);
}

static void reads_what_a_step_leads_to_and_ends_with(void **state)
{
    (void)state;
    struct profile profile =
        read_good("title A\nlength 3:00..7:00\n"
                  "floor 8 x 3010 cue Squats, slowly\n"
                  "floor 0:40\n"
                  "warm-up 2:00 power 40..50 to 80..90.5 %cp cadence 70..80 to 90..100 rpm\n"
                  "rounds fit\n"
                  "work 1:00 until 12.5 kJ power 101..106 %mark effort hard cue More # than last\n"
                  "rest 2:00 until 120bpm level 3..4 to 1..2\n"
                  "end\n"
                  "cool-down 3:00 until 1200 m effort 1..2\n");
    const struct profile_item *item = profile.items;
    assert_int_equal(profile.title_line, 1);
    assert_int_equal(profile.length_line, 2);
    assert_int_equal(item[0].step, STEP_FLOOR);
    assert_int_equal(item[0].reps.reps, 8);
    assert_int_equal(item[0].reps.tempo, 3010);
    assert_int_equal(item[0].duration_ms, 32000); /* 8 x (3 + 0 + 1 + 0) s */
    assert_string_equal(item[0].cue_text, "Squats, slowly");
    assert_int_equal(item[1].reps.reps, 0);
    assert_int_equal(item[1].duration_ms, 40000);
    assert_range(item[2].targets.power_cp_tenths, 400, 500);
    assert_range(item[2].ramp_to.power_cp_tenths, 800, 905);
    assert_range(item[2].ramp_to.cadence_rpm, 90, 100);
    assert_true(item[3].fits);
    assert_int_equal(item[3].rounds, 2); /* of 3:00 each: nearest to the middle, 5:00 */
    assert_int_equal(item[4].end.until, UNTIL_WORK);
    assert_int_equal(item[4].end.value, 12500);
    assert_range(item[4].targets.power_mark_tenths, 1010, 1060);
    assert_range(item[4].targets.effort, 5, 7);
    assert_string_equal(item[4].cue_text, "More");
    assert_int_equal(item[5].end.until, UNTIL_HEART);
    assert_int_equal(item[5].end.value, 120);
    assert_range(item[5].targets.level_tenths, 30, 40);
    assert_range(item[5].ramp_to.level_tenths, 10, 20);
    assert_int_equal(item[7].end.until, UNTIL_DISTANCE);
    assert_int_equal(item[7].end.value, 1200);
    assert_range(item[7].targets.effort, 1, 2);
}

static void lets_pass_what_editors_do_to_files(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "\xEF\xBB\xBFtitle A\nlength 3:00..7:00\nwork 4:00\n",
        "title A\r\nlength 3:00..7:00\r\nwork 4:00\r\n",
        "title A\r\nlength 3:00..7:00\r\nwork 4:00\r",
        "length 3:00..7:00\ntitle A\nwork 4:00",
        "\n\n\t title\tA \t\n length  3:00..7:00 # any\nwork 4:00#tight\n\n#end",
        "title A\nlength 03:00..007:00\nwork 04:00",
    };
    for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++) {
        struct profile profile = read_good(texts[i]);
        assert_string_equal(profile.title, "A");
        assert_int_equal(profile.item_count, 1);
        assert_int_equal(profile.items[0].duration_ms, 240000);
    }
}

static void reads_numbers_in_decimal_and_up_to_the_limits(void **state)
{
    (void)state;
    struct profile profile = read_good(
        HEAD "work 3:00 power 010..2000 W cadence 20..200 rpm heart 40..220 bpm level 0..100\n"
             "rest 0:01 power 0..300.0 %cp level 8.5..8.5");
    assert_range(profile.items[1].targets.level_tenths, 85, 85);
    assert_range(profile.items[0].targets.power_w, 10, 2000);
    assert_range(profile.items[0].targets.cadence_rpm, 20, 200);
    assert_range(profile.items[0].targets.heart_bpm, 40, 220);
    assert_range(profile.items[0].targets.level_tenths, 0, 1000);
    assert_range(profile.items[1].targets.power_cp_tenths, 0, 3000);
    assert_int_equal(profile.items[1].duration_ms, 1000);
}

static void takes_a_title_of_sixty_octets_in_any_script(void **state)
{
    (void)state;
    struct profile profile = read_good("title Zwanzig Zehn \xC3\x97 8 \xE2\x80\x93 \xE5\x9D\x82\n"
                                       "length 3:00..7:00\nwork 4:00");
    assert_string_equal(profile.title, "Zwanzig Zehn \xC3\x97 8 \xE2\x80\x93 \xE5\x9D\x82");
    profile = read_good("title 123456789012345678901234567890123456789012345678901234567890\n"
                        "length 3:00..7:00\nwork 4:00");
    assert_int_equal(strlen(profile.title), 60);
}

static void nests_rounds_four_deep(void **state)
{
    (void)state;
    struct profile profile = read_good(HEAD "rounds 2\nrounds 2\nrounds 2\nrounds 2\nwork 0:15\n"
                                            "end\nend\nend\nend\n");
    assert_int_equal(profile.item_count, 9);
}

/* ---- hostile ones ---- */

/* xorshift64* (Vigna 2016), so that every run sees the same texts. */
static uint64_t next_random(uint64_t *random)
{
    *random ^= *random >> 12;
    *random ^= *random << 25;
    *random ^= *random >> 27;
    return *random * UINT64_C(2685821657736338717);
}

static size_t mutate(char *text, size_t length, uint64_t *random)
{
    static const char bits[] = "0123456789:.#%\n\r\t \xC3\x80\xFFWer";
    size_t at = next_random(random) % length;
    char other = bits[next_random(random) % (sizeof(bits) - 1)];
    switch (next_random(random) % 4) {
    case 0: text[at] = other; return length;
    case 1: text[at] = (char)next_random(random); return length;
    case 2: memmove(text + at, text + at + 1, length - at - 1); return length - 1;
    default: return at + 1; /* cut off */
    }
}

static void answers_every_mutated_text_within_its_bounds(void **state)
{
    (void)state;
    uint64_t random = 20210;
    size_t good = 0;
    for (int run = 0; run < 20000; run++) {
        size_t length = sizeof(whole) - 1;
        char text[sizeof(whole)];
        memcpy(text, whole, length);
        for (size_t i = next_random(&random) % 4; i < 4 && length > 1; i++)
            length = mutate(text, length, &random);
        char *exact = malloc(length); /* so that an octet too far is caught */
        assert_non_null(exact);
        memcpy(exact, text, length);
        struct profile profile;
        struct text_fault fault = {0};
        if (profile_read(exact, length, &profile, &fault) == RESULT_OK) {
            good++;
            assert_true(profile.item_count <= PROFILE_ITEMS_MAX);
            assert_int_equal(strnlen(profile.title, sizeof(profile.title)), strlen(profile.title));
        } else {
            assert_in_range(fault.line, 1, 40);
            assert_in_range(fault.column, 1, 400);
            assert_in_range(strnlen(fault.message, sizeof(fault.message)), 10, 159);
        }
        free(exact);
    }
    assert_in_range(good, 100, 19000); /* both ways are taken */
}

static void survives_noise(void **state)
{
    (void)state;
    uint64_t random = 7;
    for (int run = 0; run < 5000; run++) {
        char text[64];
        size_t length = next_random(&random) % sizeof(text) + 1;
        for (size_t i = 0; i < length; i++)
            text[i] = (char)next_random(&random);
        struct profile profile;
        struct text_fault fault = {0};
        assert_int_equal(profile_read(text, length, &profile, &fault), RESULT_INVALID);
        assert_true(fault.line >= 1 && fault.column >= 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_every_fault_and_its_place),
        cmocka_unit_test(refuses_a_nul_inside),
        cmocka_unit_test(reads_every_thing_a_profile_can_hold),
        cmocka_unit_test(reads_what_a_step_leads_to_and_ends_with),
        cmocka_unit_test(lets_pass_what_editors_do_to_files),
        cmocka_unit_test(reads_numbers_in_decimal_and_up_to_the_limits),
        cmocka_unit_test(takes_a_title_of_sixty_octets_in_any_script),
        cmocka_unit_test(nests_rounds_four_deep),
        cmocka_unit_test(answers_every_mutated_text_within_its_bounds),
        cmocka_unit_test(survives_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
