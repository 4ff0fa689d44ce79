#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "ui/wrap.h"

struct row {
    const char *name, *text;
    size_t indent;
    const char *wrapped;
};

static void append(void *user, const char *text, size_t length)
{
    (void)strncat(user, text, length);
}

static struct row rows[] = {
    {"nothing", "", 0, ""},
    {"a_line_that_fits", "short\n", 0, "short\n"},
    {"no_newline_at_the_end", "short", 0, "short"},
    {"empty_lines", "\n\na\n\n", 0, "\n\na\n\n"},
    {"eighty_columns_fit",
     "1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 123\n", 0,
     "1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 123\n"},
    {"eighty_one_do_not",
     "1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234\n", 0,
     "1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n1234\n"},
    {"columns_are_characters",
     "Ü234567890 Ü234567890 Ü234567890 Ü234567890 Ü234567890 Ü234567890 Ü234567890 ÜÜÜ\n", 0,
     "Ü234567890 Ü234567890 Ü234567890 Ü234567890 Ü234567890 Ü234567890 Ü234567890 ÜÜÜ\n"},
    {"goes_on_at_the_indent",
     "1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234\n", 2,
     "1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n  1234\n"},
    {"goes_on_as_far_in_as_it_began",
     "    1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1\n", 2,
     "    1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n    1\n"},
    {"goes_on_below_its_cell",
     "  --mute    1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n",
     0,
     "  --mute    1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n"
     "            1234567890\n"},
    {"the_last_cell_counts",
     "to do    sound       1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n", 0,
     "to do    sound       1234567890 1234567890 1234567890 1234567890 1234567890\n"
     "                     1234567890\n"},
    {"two_blanks_far_right_make_no_cell",
     "1234567890 1234567890 1234567890 1234567890  1234567890 1234567890 1234567890 1234\n", 0,
     "1234567890 1234567890 1234567890 1234567890  1234567890 1234567890 1234567890\n1234\n"},
    {"a_long_word_stays_whole",
     "ok  /a/path/that/has/no/blanks/in/it/and/is/longer/than/any/line/may/be/in/all/its/parts, "
     "so\n",
     0,
     "ok  /a/path/that/has/no/blanks/in/it/and/is/longer/than/any/line/may/be/in/all/its/parts,\n"
     "    so\n"},
    {"a_long_word_does_not_break_before_it_in_vain",
     "/a/path/that/has/no/blanks/in/it/and/is/longer/than/any/line/may/be/in/all/its/parts/so\n", 0,
     "/a/path/that/has/no/blanks/in/it/and/is/longer/than/any/line/may/be/in/all/its/parts/so\n"},
    {"each_line_by_itself",
     "a   1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1\nb\n", 0,
     "a   1234567890 1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n    "
     "1\nb\n"},
};

static void wraps(void **state)
{
    const struct row *row = *state;
    char wrapped[1024] = "";

    wrap_put((struct sink){.put = append, .user = wrapped}, row->text, strlen(row->text),
             row->indent);
    assert_string_equal(wrapped, row->wrapped);
}

/* Not known, wide, narrow, and narrower than any line can be. */
static unsigned columns_told;

static unsigned tell_columns(void *user)
{
    (void)user;
    return columns_told;
}

static void as_wide_as_what_shows_it(void **state)
{
    static const char text[] = "  --mute    1234567890 1234567890 1234567890 1234567890 1234567890 "
                               "1234567890 1234567890\n";
    static const struct {
        unsigned told;
        const char *wrapped;
    } widths[] = {
        {0, "  --mute    1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n"
            "            1234567890\n"},
        {200, "  --mute    1234567890 1234567890 1234567890 1234567890 1234567890 1234567890\n"
              "            1234567890\n"},
        {50, "  --mute    1234567890 1234567890 1234567890\n"
             "            1234567890 1234567890 1234567890\n"
             "            1234567890\n"},
        /* The cell begins in the right half, and is none there. */
        {23, "  --mute    1234567890\n"
             "  1234567890 1234567890\n"
             "  1234567890 1234567890\n"
             "  1234567890 1234567890\n"},
        {1, "  --mute\n"
            "  1234567890\n"
            "  1234567890\n"
            "  1234567890\n"
            "  1234567890\n"
            "  1234567890\n"
            "  1234567890\n"
            "  1234567890\n"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++) {
        char wrapped[1024] = "";
        columns_told = widths[i].told;
        wrap_put((struct sink){.put = append, .user = wrapped, .columns = tell_columns}, text,
                 strlen(text), 0);
        assert_string_equal(wrapped, widths[i].wrapped);
    }
}

/* Nothing is lost or added but blanks and line ends, wherever it is cut. */
static void keeps_every_word(void **state)
{
    (void)state;
    static const char text[] =
        "  --bike capture:FILE    one that was recorded: it says and answers what it did then, and "
        "what it did then is what it says\nand     another line of  many words that goes on and on "
        "until there is no room left for it on the line, and further\n";
    for (size_t length = 0; length < sizeof text; length++) {
        char wrapped[1024] = "";
        wrap_put((struct sink){.put = append, .user = wrapped}, text, length, 3);
        const char *at = wrapped;
        for (size_t i = 0; i < length; i++) {
            if (text[i] == ' ' || text[i] == '\n')
                continue;
            at += strspn(at, " \n");
            assert_int_equal(*at++, text[i]);
        }
        assert_int_equal(strspn(at, " \n"), strlen(at));
    }
}

int main(void)
{
    enum { ROWS = sizeof rows / sizeof rows[0] };
    struct CMUnitTest tests[ROWS + 2] = {{0}};

    for (size_t i = 0; i < ROWS; i++)
        tests[i] = (struct CMUnitTest){
            .name = rows[i].name, .test_func = wraps, .initial_state = &rows[i]};
    tests[ROWS] = (struct CMUnitTest)cmocka_unit_test(keeps_every_word);
    tests[ROWS + 1] = (struct CMUnitTest)cmocka_unit_test(as_wide_as_what_shows_it);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
