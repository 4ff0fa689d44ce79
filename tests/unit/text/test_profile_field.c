/* Fields of a step as they are typed: the grammar of text/profile.h, a part at a time. */
#include "text/profile_field.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct profile_item step(enum step_kind kind)
{
    return (struct profile_item){.kind = PROFILE_STEP, .step = kind, .duration_ms = 20000};
}

static void assert_field(const struct profile_item *item, enum profile_field field,
                         const char *expected)
{
    char text[200];
    struct text_writer writer = text_writer(text, sizeof text);

    profile_field_put(&writer, item, field);
    assert_false(writer.failed);
    assert_string_equal(text, expected);
}

struct typed {
    enum step_kind kind;
    enum profile_field field;
    const char *text, *written;
};

static struct typed typed[] = {
    {STEP_WORK, PROFILE_FIELD_TIME, "0:35", "0:35"},
    {STEP_WORK, PROFILE_FIELD_POWER, "180..200W", "180..200 W"},
    {STEP_WORK, PROFILE_FIELD_POWER, " 115..125  %cp", "115..125 %cp"},
    {STEP_WORK, PROFILE_FIELD_POWER, "97.5..105 %mark", "97.5..105 %mark"},
    {STEP_WARM_UP, PROFILE_FIELD_POWER, "40..55 to 70..80 %cp", "40..55 to 70..80 %cp"},
    {STEP_REST, PROFILE_FIELD_CADENCE, "80..100 rpm", "80..100 rpm"},
    {STEP_REST, PROFILE_FIELD_HEART, "100..130 bpm", "100..130 bpm"},
    {STEP_WORK, PROFILE_FIELD_LEVEL, "6..7.5", "6..7.5"},
    {STEP_WORK, PROFILE_FIELD_EFFORT, "hard", "hard"},
    {STEP_WORK, PROFILE_FIELD_EFFORT, "4..8", "4..8"},
    {STEP_WORK, PROFILE_FIELD_UNTIL, "12 kJ", "12 kJ"},
    {STEP_WORK, PROFILE_FIELD_UNTIL, "400m", "400 m"},
    {STEP_REST, PROFILE_FIELD_UNTIL, "120 bpm", "120 bpm"},
    {STEP_WORK, PROFILE_FIELD_CUE, "Stand up, Übung", "Stand up, Übung"},
    {STEP_FLOOR, PROFILE_FIELD_TIME, "0:40", "0:40"},
    {STEP_FLOOR, PROFILE_FIELD_TIME, "8 x 3010", "8 x 3010"},
    {STEP_FLOOR, PROFILE_FIELD_CUE, "Squats", "Squats"},
};

static void what_is_typed_is_what_is_written(void **state)
{
    const struct typed *row = *state;
    struct profile_item item = step(row->kind);
    struct text_fault fault;

    assert_int_equal(profile_field_set(&item, row->field, row->text, &fault), RESULT_OK);
    for (enum profile_field i = PROFILE_FIELD_TIME; i < PROFILE_FIELD_COUNT; i++) {
        if (i == row->field)
            assert_field(&item, i, row->written);
        else
            assert_field(&item, i, i == PROFILE_FIELD_TIME ? "0:20" : "");
    }
    if (row->field == PROFILE_FIELD_TIME)
        return;
    assert_int_equal(profile_field_set(&item, row->field, " ", &fault), RESULT_OK);
    assert_field(&item, row->field, "");
}

struct refused {
    enum step_kind kind;
    enum profile_field field;
    const char *text;
    uint32_t column;
    const char *message;
};

static struct refused refused[] = {
    {STEP_WORK, PROFILE_FIELD_TIME, "", 1,
     "expected a time such as 0:20, found the end of the line"},
    {STEP_WORK, PROFILE_FIELD_TIME, "45:00", 1,
     "expected a time from 0:01 to 30:00, found '45:00'"},
    {STEP_WORK, PROFILE_FIELD_POWER, "up", 1, "expected a range such as 80..100, found 'up'"},
    {STEP_WORK, PROFILE_FIELD_POWER, "100..110 rpm", 10, "expected W, %cp or %mark, found 'rpm'"},
    {STEP_WORK, PROFILE_FIELD_POWER, "120..100 W", 1,
     "expected the lower end first, found '120..100'"},
    {STEP_WORK, PROFILE_FIELD_POWER, "100..110 W cadence 80..90 rpm", 1,
     "expected this alone, found '100..110 W cadence 80..90 rpm'"},
    {STEP_WORK, PROFILE_FIELD_TIME, "0:20 power 100..110 W", 1,
     "expected this alone, found '0:20 power 100..110 W'"},
    {STEP_WORK, PROFILE_FIELD_CUE, "up # down", 4,
     "expected no #, which begins a comment, found '# down'"},
    {STEP_WORK, PROFILE_FIELD_UNTIL, "120 bpm", 5,
     "expected kJ or m to end work, found a heart rate to fall to"},
    {STEP_FLOOR, PROFILE_FIELD_TIME, "8 x 301", 5,
     "expected a tempo of four digits such as 3010, found '301'"},
};

static void what_cannot_be_is_refused(void **state)
{
    const struct refused *row = *state;
    struct profile_item item = step(row->kind), before;
    struct text_fault fault = {0};

    assert_int_equal(profile_field_set(&item, PROFILE_FIELD_CUE, "Kept", &fault), RESULT_OK);
    before = item;
    assert_int_equal(profile_field_set(&item, row->field, row->text, &fault), RESULT_INVALID);
    assert_string_equal(fault.message, row->message);
    assert_int_equal(fault.column, row->column);
    assert_memory_equal(&item, &before, sizeof item);
}

struct nudged {
    enum step_kind kind;
    enum profile_field field;
    const char *from;
    int32_t by;
    enum result result;
    const char *to;
};

static struct nudged nudged[] = {
    {STEP_WORK, PROFILE_FIELD_TIME, "0:20", 1, RESULT_OK, "0:25"},
    {STEP_WORK, PROFILE_FIELD_TIME, "0:05", -1, RESULT_RANGE, "0:05"},
    {STEP_WORK, PROFILE_FIELD_TIME, "2:00", 1, RESULT_OK, "2:15"},
    {STEP_WORK, PROFILE_FIELD_TIME, "2:00", -1, RESULT_OK, "1:55"},
    {STEP_WORK, PROFILE_FIELD_TIME, "30:00", 1, RESULT_RANGE, "30:00"},
    {STEP_FLOOR, PROFILE_FIELD_TIME, "8 x 3010", -1, RESULT_OK, "7 x 3010"},
    {STEP_FLOOR, PROFILE_FIELD_TIME, "1 x 3010", -1, RESULT_RANGE, "1 x 3010"},
    {STEP_WORK, PROFILE_FIELD_POWER, "115..125 %cp", 1, RESULT_OK, "116..126 %cp"},
    {STEP_WORK, PROFILE_FIELD_POWER, "40..55 to 70..80 %cp", -1, RESULT_OK, "39..54 to 69..79 %cp"},
    {STEP_WORK, PROFILE_FIELD_POWER, "180..200 W", 1, RESULT_OK, "185..205 W"},
    {STEP_WORK, PROFILE_FIELD_POWER, "0..20 W", -1, RESULT_RANGE, "0..20 W"},
    {STEP_WORK, PROFILE_FIELD_POWER, "290..300 %cp", 1, RESULT_RANGE, "290..300 %cp"},
    {STEP_WORK, PROFILE_FIELD_LEVEL, "6..7", 1, RESULT_OK, "6.5..7.5"},
    {STEP_WORK, PROFILE_FIELD_EFFORT, "hard", 1, RESULT_OK, "6..8"},
    {STEP_WORK, PROFILE_FIELD_UNTIL, "12 kJ", -1, RESULT_OK, "11 kJ"},
    {STEP_WORK, PROFILE_FIELD_UNTIL, "1 kJ", -1, RESULT_RANGE, "1 kJ"},
    {STEP_REST, PROFILE_FIELD_UNTIL, "120 bpm", 1, RESULT_OK, "125 bpm"},
    {STEP_WORK, PROFILE_FIELD_UNTIL, "", 1, RESULT_UNSUPPORTED, ""},
    {STEP_WORK, PROFILE_FIELD_HEART, "", 1, RESULT_UNSUPPORTED, ""},
    {STEP_WORK, PROFILE_FIELD_CUE, "Up", 1, RESULT_UNSUPPORTED, "Up"},
};

static void a_little_more_and_less(void **state)
{
    const struct nudged *row = *state;
    struct profile_item item = step(row->kind);
    struct text_fault fault;

    assert_int_equal(profile_field_set(&item, row->field, row->from, &fault), RESULT_OK);
    assert_int_equal(profile_field_nudge(&item, row->field, row->by), row->result);
    assert_field(&item, row->field, row->to);
}

static void too_long_a_text_is_refused(void **state)
{
    struct profile_item item = step(STEP_WORK);
    struct text_fault fault;
    char text[600];

    (void)state;
    memset(text, 'x', sizeof text);
    text[sizeof text - 1] = '\0';
    assert_int_equal(profile_field_set(&item, PROFILE_FIELD_CUE, text, &fault), RESULT_INVALID);
    assert_field(&item, PROFILE_FIELD_CUE, "");
}

static void floor_work_has_two_fields(void **state)
{
    (void)state;
    for (enum profile_field i = PROFILE_FIELD_TIME; i < PROFILE_FIELD_COUNT; i++) {
        assert_true(profile_field_is_for(i, STEP_REST));
        assert_int_equal(profile_field_is_for(i, STEP_FLOOR),
                         i == PROFILE_FIELD_TIME || i == PROFILE_FIELD_CUE);
    }
}

enum { TYPED = COUNT(typed), REFUSED = COUNT(refused), NUDGED = COUNT(nudged) };

int main(void)
{
    struct CMUnitTest tests[TYPED + REFUSED + NUDGED + 2];
    size_t count = 0;

    for (size_t i = 0; i < TYPED; i++)
        tests[count++] = (struct CMUnitTest){typed[i].text, what_is_typed_is_what_is_written, NULL,
                                             NULL, &typed[i]};
    for (size_t i = 0; i < REFUSED; i++)
        tests[count++] = (struct CMUnitTest){refused[i].message, what_cannot_be_is_refused, NULL,
                                             NULL, &refused[i]};
    for (size_t i = 0; i < NUDGED; i++)
        tests[count++] =
            (struct CMUnitTest){nudged[i].from, a_little_more_and_less, NULL, NULL, &nudged[i]};
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(too_long_a_text_is_refused);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(floor_work_has_two_fields);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
