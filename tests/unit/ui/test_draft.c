/* A draft under the keys: what they make of the document, and that nothing in it is lost. */
#include "ui/draft.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* As a person would have written it: own columns, comments everywhere. */
static const char written[] = "# my own\n"
                              "title Own    # said to nobody\n"
                              "length 3:00..6:00\n"
                              "\n"
                              "warm-up 1:00 power 40..55 %cp\n"
                              "# the hard part\n"
                              "rounds 4\n"
                              "  work 0:30 power 110..120 %cp  # stand up\n"
                              "  rest 0:30 power 40..50 %cp\n"
                              "end\n"
                              "cool-down 3:00 power 25..40 %cp\n"
                              "# the end\n";

static struct draft draft;

static void begin(const char *text)
{
    static struct profile profile;
    struct text_fault fault;
    const size_t length = strlen(text);

    memset(&draft, 0, sizeof draft);
    if (length > 0)
        assert_int_equal(profile_read(text, length, &profile, &fault), RESULT_OK);
    assert_true(draft_begin(&draft, text, length, length > 0 ? &profile : NULL,
                            length > 0 ? "own.profile" : ""));
}

static int begin_new(void **state)
{
    (void)state;
    begin("");
    return 0;
}

static int begin_written(void **state)
{
    (void)state;
    begin(written);
    return 0;
}

static int end(void **state)
{
    (void)state;
    draft_end(&draft);
    return 0;
}

/* Keys as letters; < is Escape, ~ is Enter, ^ and v, { and } the arrows, ! the backspace. */
static enum draft_act type(const char *keys)
{
    static const struct {
        char key;
        enum press_kind kind;
    } others[] = {{'<', PRESS_ESCAPE}, {'~', PRESS_ENTER}, {'^', PRESS_UP},       {'v', PRESS_DOWN},
                  {'{', PRESS_LEFT},   {'}', PRESS_RIGHT}, {'!', PRESS_BACKSPACE}};
    enum draft_act act = DRAFT_NOTHING;

    for (; *keys != '\0'; keys++) {
        struct press press = {PRESS_CHARACTER, (unsigned char)*keys};
        for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
            if (others[i].key == *keys)
                press = (struct press){others[i].kind, 0};
        act = draft_press(&draft, press);
    }
    return act;
}

static void assert_text(const char *expected)
{
    assert_int_equal(draft.text_length, strlen(draft.text));
    assert_string_equal(draft.text, expected);
}

static void rub_out(size_t count)
{
    while (count-- > 0)
        (void)type("!");
}

/* ---- a new one ---- */

/* README.md's example of a profile, by its keys alone. */
static void from_nothing(void **state)
{
    (void)state;
    assert_true(draft.has_fault);
    assert_false(draft_is_changed(&draft));
    (void)type("~");
    rub_out(9);
    (void)type("20/10~au}");
    (void)type("}75..100 rpm~");
    assert_string_equal(draft.message, "");
    (void)type("aw}117..131 %cp~}85..110 rpm~");
    assert_true(draft.has_fault);
    assert_string_equal(draft.fault.message, "expected intervals of 3:00 to 7:00, found 0:20");
    assert_int_equal(draft.fault_row, DRAFT_ROW_LENGTH);
    (void)type("aro");
    assert_false(draft.has_fault);
    (void)type("ac");
    assert_text("title     20/10\n"
                "length    3:00..7:00\n"
                "\n"
                "warm-up   1:00  power 40..55 %cp  cadence 75..100 rpm\n"
                "rounds 8\n"
                "  work    0:20  power 117..131 %cp  cadence 85..110 rpm\n"
                "  rest    0:10  power 30..50 %cp\n"
                "end\n"
                "cool-down 3:00  power 25..40 %cp\n");
    assert_true(draft_is_changed(&draft));
}

static void undone_to_nothing_and_done_again(void **state)
{
    char made[1000];

    (void)state;
    (void)type("auawaroac");
    memcpy(made, draft.text, draft.text_length + 1);
    for (int i = 0; i < 5; i++)
        assert_int_equal(type("u"), DRAFT_EDITED);
    assert_int_equal(draft.profile.item_count, 0);
    assert_false(draft_is_changed(&draft));
    assert_int_equal(type("u"), DRAFT_SHOW);
    assert_string_equal(draft.message, "There is nothing before this.");
    for (int i = 0; i < 5; i++)
        assert_int_equal(type("r"), DRAFT_EDITED);
    assert_text(made);
    assert_int_equal(type("r"), DRAFT_SHOW);
    (void)type("uuas"); /* no step; then another one makes what was undone be forgotten */
    (void)type("af");
    assert_int_equal(type("r"), DRAFT_SHOW);
}

/* More edits than anybody makes, and back. */
static void the_history_is_whole(void **state)
{
    (void)state;
    (void)type("aw");
    for (int i = 0; i < 1000; i++)
        assert_int_equal(type(i % 2 == 0 ? "+" : "-"), DRAFT_EDITED);
    for (int i = 0; i < 1001; i++)
        assert_int_equal(type("u"), DRAFT_EDITED);
    assert_int_equal(draft.profile.item_count, 0);
}

/* ---- one that is there ---- */

static void untouched_it_is_the_same_octet_by_octet(void **state)
{
    (void)state;
    assert_text(written);
    assert_false(draft_is_changed(&draft));
    assert_int_equal(type("q"), DRAFT_LEAVE);
}

static void an_edit_changes_its_line_alone(void **state)
{
    static const char expected[] = "# my own\n"
                                   "title Own    # said to nobody\n"
                                   "length 3:00..6:00\n"
                                   "\n"
                                   "warm-up 1:00 power 40..55 %cp\n"
                                   "# the hard part\n"
                                   "rounds 5\n"
                                   "  work 0:30 power 110..120 %cp  # stand up\n"
                                   "  rest 0:30 power 40..50 %cp\n"
                                   "end\n"
                                   "cool-down 3:00 power 25..40 %cp\n"
                                   "# the end\n";
    (void)state;
    assert_int_equal(draft.row, DRAFT_ROW_ITEMS);
    (void)type("v+");
    assert_text(expected);
    assert_true(draft_is_changed(&draft));
    (void)type("-");
    assert_false(draft_is_changed(&draft));
}

static void comments_outlive_their_steps(void **state)
{
    (void)state;
    (void)type("vvd"); /* the work, with a comment behind it */
    assert_non_null(strstr(draft.text, "# stand up"));
    (void)type("^d"); /* the rounds: what is in them stays */
    assert_null(strstr(draft.text, "rounds"));
    assert_null(strstr(draft.text, "\nend\n"));
    assert_non_null(strstr(draft.text, "# the hard part\n"));
    assert_non_null(strstr(draft.text, "rest 0:30"));
    (void)type("uu");
    assert_text(written);
}

static void steps_move_within_their_part(void **state)
{
    (void)state;
    (void)type("k");
    assert_string_equal(draft.message, "It cannot go further up.");
    (void)type("j"); /* a warm-up stays before the rounds */
    assert_string_equal(draft.message, "It cannot go further down.");
    (void)type("vvvj"); /* the rest, out of its rounds */
    assert_non_null(strstr(draft.text, "end\nrest 0:30 power 40..50 %cp\n"));
    (void)type("k"); /* and back */
    assert_text(written);
    (void)type("vk"); /* the end, above the rest */
    assert_non_null(strstr(draft.text, "end\nrest 0:30 power 40..50 %cp\n"));
    (void)type("k"); /* above the work there would be no rounds left: that is said */
    assert_true(draft.has_fault);
    (void)type("k");
    assert_string_equal(draft.message, "It cannot go further up.");
}

static void copies_are_new(void **state)
{
    (void)state;
    (void)type("vvc");
    assert_non_null(strstr(draft.text, "  work 0:30 power 110..120 %cp  # stand up\n"
                                       "  work    0:30  power 110..120 %cp\n"));
    (void)type("^^c");
    assert_string_equal(draft.message, "A step can be copied, nothing else.");
    (void)type("^^^d");
    assert_string_equal(draft.message, "Title and length stay.");
}

/* ---- what is typed ---- */

static void what_cannot_be_meant_is_told_and_stays(void **state)
{
    (void)state;
    (void)type("}99..9~");
    assert_int_equal(draft.mode, DRAFT_TYPES);
    assert_string_equal(draft.typed, "99..9");
    assert_non_null(strstr(draft.message, "expected "));
    (void)type("!9 W~");
    assert_int_equal(draft.mode, DRAFT_TYPES); /* 99..9 W became 99.. 9 W */
    (void)type("<");
    assert_text(written);
}

static void title_and_length(void **state)
{
    (void)state;
    (void)type("^^~");
    assert_string_equal(draft.typed, "Own");
    rub_out(3);
    (void)type("~");
    assert_string_equal(draft.message, "A title cannot be empty.");
    (void)type("a # b~");
    assert_string_equal(draft.message, "A title has no #, which begins a comment.");
    rub_out(5);
    (void)type("  Mine ~");
    assert_non_null(strstr(draft.text, "title     Mine    # said to nobody\n"));
    (void)type("v3:00..8:00~");
    assert_string_equal(draft.message, "A length is within 3:00..7:00, the lower end first.");
    rub_out(10);
    (void)type("4:30..7:00~"); /* the rounds come to 4:00 */
    assert_true(draft.has_fault);
    assert_int_equal(draft.fault_row, DRAFT_ROW_LENGTH);
}

static void rounds_that_fit(void **state)
{
    (void)state;
    (void)type("v~");
    rub_out(1);
    (void)type("0~");
    assert_non_null(strstr(draft.message, "Rounds are 1 to 99"));
    rub_out(1);
    (void)type("fit~");
    assert_false(draft.has_fault);
    assert_non_null(strstr(draft.text, "rounds fit\n"));
    assert_int_equal(type("+"), DRAFT_NOTHING); /* their number is not ours */
}

static void a_target_is_taken_out(void **state)
{
    (void)state;
    (void)type("}!");
    assert_non_null(strstr(draft.text, "warm-up   1:00\n"));
    assert_int_equal(type("{!"), DRAFT_NOTHING); /* a time has to be */
}

/* Whatever stands around it: comments, an editor's mark, the length before the title. */
static void a_fault_is_at_its_line(void **state)
{
    (void)state;
    draft_end(&draft);
    begin("\xEF\xBB\xBF# mine\r\nlength 3:00..7:00\r\n\r\ntitle A\r\n# hard\r\nwork 3:00\r\n");
    (void)type("-"); /* 2:45 */
    assert_true(draft.has_fault);
    assert_int_equal(draft.fault_row, DRAFT_ROW_LENGTH);
    assert_non_null(strstr(draft.text, "# hard\r\nwork      2:45\r\n"));
}

/* ---- saving and leaving ---- */

static void a_name_is_asked_for_once(void **state)
{
    (void)state;
    assert_int_equal(type("s"), DRAFT_SHOW);
    assert_int_equal(draft.mode, DRAFT_NAMES);
    assert_string_equal(draft.typed, "new-block.profile");
    assert_int_equal(type("<"), DRAFT_SHOW);
    assert_string_equal(draft.name, "");
    (void)type("s");
    rub_out(17);
    assert_int_equal(type("~"), DRAFT_SHOW);
    assert_string_equal(draft.message, "It needs a name.");
    assert_int_equal(type("a.profile~"), DRAFT_SAVE);
    assert_string_equal(draft.wanted, "a.profile");
    draft_tell(&draft, "There is one.", true);
    assert_int_equal(draft.mode, DRAFT_NAMES);
    assert_string_equal(draft.typed, "a.profile");
    assert_string_equal(draft.name, ""); /* it did not get that one */
    assert_int_equal(type("!~"), DRAFT_SAVE);
    draft_saved(&draft);
    assert_string_equal(draft.name, "a.profil");
    assert_int_equal(type("s"), DRAFT_SAVE);
    assert_int_equal(type("S"), DRAFT_SHOW);
    assert_string_equal(draft.typed, "a.profil");
}

static void leaving_asks_for_what_is_not_saved(void **state)
{
    (void)state;
    (void)type("+");
    assert_int_equal(type("q"), DRAFT_SHOW);
    assert_int_equal(type("x"), DRAFT_SHOW);
    assert_int_equal(draft.mode, DRAFT_WALKS);
    (void)type("q");
    assert_int_equal(type("s"), DRAFT_SAVE);
    draft_saved(&draft);
    assert_int_equal(type("q"), DRAFT_LEAVE);
    (void)type("+q");
    assert_int_equal(type("q"), DRAFT_LEAVE);
}

/* A file that is as long as files may be: the edit that has no room is not made. */
static void there_is_an_end_to_a_file(void **state)
{
    static const char tail[] = "\ntitle A\nlength 3:00..7:00\nwork 3:00\n";
    static char text[PROFILE_FILE_MAX + 1];

    (void)state;
    memset(text, '#', sizeof text);
    memcpy(text + sizeof text - sizeof tail, tail, sizeof tail);
    begin(text);
    assert_text(text);
    assert_int_equal(type("aw"), DRAFT_SHOW);
    assert_string_equal(draft.message, "That makes the file too long.");
    assert_text(text);
    assert_int_equal(type("u"), DRAFT_SHOW);
    draft_end(&draft);
}

/* ---- whatever is pressed ---- */

/* The document stays one that can be written, and undo leads to where it began. */
static void chance_keys(void **state)
{
    static const char keys[] = "auwrfcdkjo+-S<~^v{}!0123:.%x";
    uint64_t chance = 1;

    (void)state;
    for (int run = 0; run < 40; run++) {
        begin(run % 2 == 0 ? written : "");
        char before[1000];
        memcpy(before, draft.text, draft.text_length + 1);
        for (int i = 0; i < 400; i++) {
            chance = chance * 6364136223846793005u + 1442695040888963407u;
            const char key[2] = {keys[(chance >> 33) % (sizeof keys - 1)], '\0'};
            (void)type(key);
            assert_true(draft.row < draft_rows(&draft));
            assert_true(draft.text_length > 0);
            assert_true(draft.fault_row < draft_rows(&draft) || !draft.has_fault);
        }
        (void)type("<<");
        while (type("u") == DRAFT_EDITED)
            continue;
        assert_text(before);
        draft_end(&draft);
    }
}

#define NEW(test)     cmocka_unit_test_setup_teardown(test, begin_new, end)
#define WRITTEN(test) cmocka_unit_test_setup_teardown(test, begin_written, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        NEW(from_nothing),
        NEW(undone_to_nothing_and_done_again),
        NEW(the_history_is_whole),
        WRITTEN(untouched_it_is_the_same_octet_by_octet),
        WRITTEN(an_edit_changes_its_line_alone),
        WRITTEN(comments_outlive_their_steps),
        WRITTEN(steps_move_within_their_part),
        WRITTEN(copies_are_new),
        WRITTEN(what_cannot_be_meant_is_told_and_stays),
        WRITTEN(title_and_length),
        WRITTEN(rounds_that_fit),
        WRITTEN(a_target_is_taken_out),
        WRITTEN(a_fault_is_at_its_line),
        NEW(a_name_is_asked_for_once),
        WRITTEN(leaving_asks_for_what_is_not_saved),
        cmocka_unit_test(there_is_an_end_to_a_file),
        cmocka_unit_test(chance_keys),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
