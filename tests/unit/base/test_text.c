#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/text.h"

static void puts_words_and_numbers_in_one_line(void **state)
{
    (void)state;
    char line[80];
    struct text_writer writer = text_writer(line, sizeof(line));
    text_put(&writer, "power ");
    text_put_unsigned(&writer, 250);
    text_put_char(&writer, ' ');
    text_put_signed(&writer, -7);
    text_put_char(&writer, ' ');
    text_put_fixed(&writer, 85, 1);
    text_put_part(&writer, " Wxyz", 2);
    assert_string_equal(line, "power 250 -7 8.5 W");
    assert_int_equal(writer.length, strlen(line));
    assert_false(writer.failed);
}

static void puts_numbers_at_their_edges(void **state)
{
    (void)state;
    static const struct {
        int64_t value;
        unsigned decimals;
        const char *expected;
    } rows[] = {
        {0, 0, "0"},
        {0, 2, "0.00"},
        {5, 1, "0.5"},
        {-5, 1, "-0.5"},
        {-1234, 2, "-12.34"},
        {100, 3, "0.100"},
        {INT64_MAX, 0, "9223372036854775807"},
        {INT64_MIN, 0, "-9223372036854775808"},
        {INT64_MIN, 18, "-9.223372036854775808"},
    };
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        char line[40];
        struct text_writer writer = text_writer(line, sizeof(line));
        text_put_fixed(&writer, rows[i].value, rows[i].decimals);
        assert_string_equal(line, rows[i].expected);
    }
    char line[40];
    struct text_writer writer = text_writer(line, sizeof(line));
    text_put_unsigned(&writer, UINT64_MAX);
    assert_string_equal(line, "18446744073709551615");
}

static void pads_with_zeros_and_keeps_longer_numbers(void **state)
{
    (void)state;
    char line[80];
    struct text_writer writer = text_writer(line, sizeof(line));
    text_put_padded(&writer, 7, 2);
    text_put_char(&writer, ' ');
    text_put_padded(&writer, 1234, 2);
    text_put_char(&writer, ' ');
    text_put_padded(&writer, 0, 20);
    assert_string_equal(line, "07 1234 00000000000000000000");
}

static void puts_times_as_minutes_and_seconds(void **state)
{
    (void)state;
    char line[80];
    struct text_writer writer = text_writer(line, sizeof(line));
    text_put_time(&writer, 0);
    text_put_char(&writer, ' ');
    text_put_time(&writer, 59999);
    text_put_char(&writer, ' ');
    text_put_time(&writer, 185000);
    text_put_char(&writer, ' ');
    text_put_time(&writer, 4500000);
    assert_string_equal(line, "0:00 0:59 3:05 75:00");
}

static void leaves_out_what_does_not_fit_and_everything_after(void **state)
{
    (void)state;
    char line[8] = "xxxxxxx";
    struct text_writer writer = text_writer(line, 6); /* five characters and the NUL */
    text_put(&writer, "abc");
    text_put_fixed(&writer, -15, 1); /* "-1.5" is one too long, no part of it is put */
    assert_true(writer.failed);
    assert_string_equal(line, "abc");
    text_put_char(&writer, 'd');
    assert_string_equal(line, "abc");
    assert_int_equal(writer.length, 3);
    assert_int_equal(line[6], 'x');
}

static void fills_to_the_last_place(void **state)
{
    (void)state;
    char line[4];
    struct text_writer writer = text_writer(line, sizeof(line));
    text_put(&writer, "abc");
    assert_false(writer.failed);
    text_put(&writer, "");
    assert_false(writer.failed);
    assert_string_equal(line, "abc");
    text_put_char(&writer, 'd');
    assert_true(writer.failed);
}

static void without_room_everything_fails_and_nothing_is_touched(void **state)
{
    (void)state;
    char untouched = 'x';
    struct text_writer writer = text_writer(&untouched, 0);
    text_put(&writer, "");
    assert_true(writer.failed);
    assert_int_equal(untouched, 'x');
    struct text_writer zeroed = {0};
    text_put_unsigned(&zeroed, 1);
    assert_true(zeroed.failed);
}

static void breaks_lines_at_blanks(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t columns, octets;
    } rows[] = {
        {"", 5, 0},
        {"one two", 7, 7},
        {"one two", 6, 3},
        {"one two", 3, 3},
        {"one two", 2, 3}, /* a word that does not fit stays whole */
        {"three", 3, 5},
        {"a b c", 3, 3},
        {"\xc3\xbc\xc3\xbc x", 4, 6}, /* two characters of two octets each */
        {"\xc3\xbc\xc3\xbc x", 3, 4},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(text_line_octets(rows[i].text, rows[i].columns), rows[i].octets);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(puts_words_and_numbers_in_one_line),
        cmocka_unit_test(puts_numbers_at_their_edges),
        cmocka_unit_test(pads_with_zeros_and_keeps_longer_numbers),
        cmocka_unit_test(puts_times_as_minutes_and_seconds),
        cmocka_unit_test(leaves_out_what_does_not_fit_and_everything_after),
        cmocka_unit_test(fills_to_the_last_place),
        cmocka_unit_test(breaks_lines_at_blanks),
        cmocka_unit_test(without_room_everything_fails_and_nothing_is_touched),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
