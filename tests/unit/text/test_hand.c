/*
 * Blocks written down by hand: values, whole blocks and tables.
 */
#include "text/hand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* ---- values ---- */

struct value_row {
    enum hand_field field;
    const char *text;
    int64_t expected; /* below 0: refused */
};

static struct value_row value_rows[] = {
    {HAND_LENGTH, "1:00", 60},      {HAND_LENGTH, "12:34", 754},
    {HAND_LENGTH, "180:00", 10800}, {HAND_LENGTH, "0:59", -1},
    {HAND_LENGTH, "180:01", -1},    {HAND_LENGTH, "12", -1},
    {HAND_LENGTH, "12:60", -1},     {HAND_LENGTH, "12:34x", -1},
    {HAND_LENGTH, "-1:00", -1},     {HAND_WORK, "61.234", 61234},
    {HAND_WORK, "1", 1000},         {HAND_WORK, "20000", 20000000},
    {HAND_WORK, "0.999", -1},       {HAND_WORK, "20000.001", -1},
    {HAND_WORK, "61,2", -1},        {HAND_WORK, "1e3", -1},
    {HAND_WORK, "nan", -1},         {HAND_WORK, "99999999999999999999", -1},
    {HAND_POWER, "210", 210},       {HAND_POWER, "210.5", -1},
    {HAND_POWER, "0", -1},          {HAND_POWER, "2501", -1},
    {HAND_DISTANCE, "3.8", 3800},   {HAND_DISTANCE, "300.001", -1},
    {HAND_CALORIES, "95", 95},      {HAND_CALORIES, "20001", -1},
    {HAND_HEART, "30", 30},         {HAND_HEART, "29", -1},
    {HAND_HEART, "241", -1},        {HAND_FEEL, "5", 5},
    {HAND_FEEL, "0", -1},           {HAND_FEEL, "6", -1},
    {HAND_EFFORT, "0", 0},          {HAND_EFFORT, "10", 10},
    {HAND_EFFORT, "11", -1},        {HAND_AFTER, "legs", 0},
    {HAND_AFTER, "fresh", 1},       {HAND_AFTER, "arms", -1},
};

static int64_t value_of(const struct hand_block *block, enum hand_field field)
{
    const uint32_t values[HAND_FIELD_COUNT] = {
        [HAND_LENGTH] = block->duration_s,
        [HAND_WORK] = block->work_j,
        [HAND_POWER] = block->power_w,
        [HAND_DISTANCE] = block->distance_m,
        [HAND_CALORIES] = block->calories_kcal,
        [HAND_HEART] = block->heart_bpm,
        [HAND_FEEL] = block->feel,
        [HAND_EFFORT] = block->effort,
        [HAND_AFTER] = block->is_fresh,
    };
    return values[field];
}

static void test_value(void **state)
{
    const struct value_row *row = *state;
    struct hand_block block = {0};
    struct text_fault fault = {0};
    const enum result result = hand_take(&block, row->field, text_word(row->text), &fault);

    assert_int_equal(result, row->expected < 0 ? RESULT_INVALID : RESULT_OK);
    if (row->expected < 0)
        assert_non_null(strstr(fault.message, "expected "));
    else
        assert_int_equal(value_of(&block, row->field), row->expected);
}

/* ---- dates ---- */

struct date_row {
    const char *text;
    struct hand_date date; /* not set: refused */
};

static struct date_row date_rows[] = {
    {"2026-11-20", {true, 2026, 11, 20, 12, 0}},
    {"2026-11-20 18:30", {true, 2026, 11, 20, 18, 30}},
    {"2026-11-20T00:00", {true, 2026, 11, 20, 0, 0}},
    {"2024-02-29", {true, 2024, 2, 29, 12, 0}},
    {"2000-02-29", {true, 2000, 2, 29, 12, 0}},
    {"2026-02-29", {0}},
    {"2100-02-29", {0}},
    {"2026-04-31", {0}},
    {"2026-13-01", {0}},
    {"2026-00-10", {0}},
    {"2026-10-00", {0}},
    {"1989-12-31", {0}},
    {"2201-01-01", {0}},
    {"20.11.2026", {0}},
    {"2026-11-20 24:00", {0}},
    {"2026-11-20 12:60", {0}},
    {"2026-11-20 12", {0}},
    {"2026-11-20x", {0}},
    {"", {0}},
};

static void test_date(void **state)
{
    const struct date_row *row = *state;
    struct hand_block block = {0};
    struct text_fault fault;
    const enum result result = hand_take(&block, HAND_DATE, text_word(row->text), &fault);

    assert_int_equal(result, row->date.set ? RESULT_OK : RESULT_INVALID);
    assert_int_equal(block.date.set, row->date.set);
    assert_int_equal(block.date.year, row->date.year);
    assert_int_equal(block.date.month, row->date.month);
    assert_int_equal(block.date.day, row->date.day);
    assert_int_equal(block.date.hour, row->date.hour);
    assert_int_equal(block.date.minute, row->date.minute);
}

/* ---- tables ---- */

struct table_row {
    const char *name, *text;
    size_t blocks;         /* before the end, or the fault */
    uint32_t line, column; /* of the fault; 0: none */
    const char *message;   /* some of it */
};

#define HEAD "date,length,work_kj,power_w,note\n"

static struct table_row table_rows[] = {
    {"none", HEAD, 0, 0, 0, NULL},
    {"one", HEAD "2026-01-02,5:00,60,,\n", 1, 0, 0, NULL},
    {"the last line has no end", HEAD "2026-01-02,5:00,60,,\n2026-01-03,5:00,,200", 2, 0, 0, NULL},
    {"other line ends, a mark, blanks",
     "\xEF\xBB\xBF date , length,work_kj\r\n2026-01-02 , 5:00,60 \r\n\r\n", 1, 0, 0, NULL},
    {"empty lines and comments", "# mine\n\n" HEAD "\n# more\n2026-01-02,5:00,60,,\n", 1, 0, 0,
     NULL},
    {"a number sign within", HEAD "2026-01-02,5:00,60,,bike #2\n", 1, 0, 0, NULL},
    {"fewer values than columns", HEAD "2026-01-02,5:00,60\n", 1, 0, 0, NULL},
    {"empty", "", 0, 1, 1, "names of columns"},
    {"no such column", "date,lenght\n", 0, 1, 6, "found 'lenght'"},
    {"a column twice", "date,length,date\n", 0, 1, 13, "each column once"},
    {"semicolons", "date;length\n", 0, 1, 1, "found 'date;length'"},
    {"more values than columns", HEAD "2026-01-02,5:00,60,,,7\n", 0, 2, 22, "than columns"},
    {"a bad value", HEAD "2026-01-02,5:00,60,,\n2026-01-03,500,60,,\n", 1, 3, 12, "found '500'"},
    {"neither work nor power", HEAD "2026-01-02,5:00,,,\n", 0, 2, 1, "work or power"},
    {"no date", HEAD ",5:00,60,,\n", 0, 2, 1, "a date"},
    {"no length", HEAD "2026-01-02,,60,,\n", 0, 2, 1, "a length"},
    {"work that is not the power's", HEAD "2026-01-02,5:00,60,100,\n", 0, 2, 1, "agree"},
    {"work beyond any rider", HEAD "2026-01-02,1:00,200,,\n", 0, 2, 1, "2500 W"},
    {"quotes that do not end", HEAD "2026-01-02,5:00,60,,\"a\nb\"\n", 0, 2, 21, "ends with \""},
    {"something behind quotes", HEAD "2026-01-02,5:00,60,,\"a\"b\n", 0, 2, 21, "a comma"},
    {"a broken octet", HEAD "2026-01-02,5:00,60,,\xFF\n", 0, 2, 21, "UTF-8"},
    {"a NUL's neighbour", HEAD "2026-01-02,5:00,60,,a\x01\n", 0, 2, 22, "UTF-8"},
};

static void test_table(void **state)
{
    const struct table_row *row = *state;
    const size_t length = strlen(row->text);
    struct text_fault fault = {0};
    struct hand_table table;
    struct hand_block block;
    uint32_t line = 0;
    size_t blocks = 0;
    char *copy =
        malloc(length + 1); /* of its own size, so that a reader who goes too far is found */
    assert_non_null(copy);
    memcpy(copy, row->text, length);
    enum result result = hand_table_open(copy, length, &table, &fault);
    while (result == RESULT_OK) {
        result = hand_table_next(&table, &block, &line, &fault);
        blocks += result == RESULT_OK;
    }
    free(copy);
    assert_int_equal(blocks, row->blocks);
    assert_int_equal(result, row->line > 0 ? RESULT_INVALID : RESULT_NOT_FOUND);
    assert_int_equal(fault.line, row->line);
    assert_int_equal(fault.column, row->column);
    if (row->message != NULL)
        assert_non_null(strstr(fault.message, row->message));
}

static void test_all_columns(void **state)
{
    static const char text[] =
        "note,bike,profile,after,feel,effort,heart_bpm,calories_kcal,distance_km,power_w,work_kj,"
        "length,date\n"
        "\"heavy, \"\"very\"\"\",virtual,20/10 \xC3\xA9,fresh,2,9,151,95,3.85,205,61.5,5:00,"
        "2026-01-02\n";
    struct text_fault fault;
    struct hand_table table;
    struct hand_block block;
    uint32_t line = 0;
    (void)state;
    assert_int_equal(hand_table_open(text, strlen(text), &table, &fault), RESULT_OK);
    assert_int_equal(hand_table_next(&table, &block, &line, &fault), RESULT_OK);
    assert_int_equal(line, 2);
    assert_string_equal(block.note, "heavy, \"very\"");
    assert_string_equal(block.bike, "virtual");
    assert_string_equal(block.profile, "20/10 \xC3\xA9");
    assert_true(block.is_fresh);
    assert_int_equal(block.feel, 2);
    assert_true(block.has_effort);
    assert_int_equal(block.effort, 9);
    assert_int_equal(block.heart_bpm, 151);
    assert_int_equal(block.calories_kcal, 95);
    assert_int_equal(block.distance_m, 3850);
    assert_int_equal(block.power_w, 205);
    assert_int_equal(block.work_j, 61500);
    assert_int_equal(block.duration_s, 300);
    assert_int_equal(block.date.day, 2);
}

/* 210 W over 300 s are 63 kJ; 61 kJ over 300 s are 203 W. */
static void test_one_out_of_the_other(void **state)
{
    struct hand_block block = {.date = {.set = true}, .duration_s = 300, .power_w = 210};
    struct text_fault fault;
    (void)state;
    assert_int_equal(hand_finish(&block, text_word(""), &fault), RESULT_OK);
    assert_int_equal(block.work_j, 63000);
    block.work_j = 61000;
    block.power_w = 0;
    assert_int_equal(hand_finish(&block, text_word(""), &fault), RESULT_OK);
    assert_int_equal(block.power_w, 203);
}

static void test_long_values(void **state)
{
    char text[1024] = HEAD "2026-01-02,5:00,60,,";
    const size_t head = strlen(text);
    struct text_fault fault;
    struct hand_table table;
    struct hand_block block;
    uint32_t line;
    (void)state;
    for (size_t length = HAND_NOTE_MAX - 1; length <= HAND_VALUE_MAX + 1; length++) {
        memset(text + head, 'x', length);
        text[head + length] = '\0';
        assert_int_equal(hand_table_open(text, head + length, &table, &fault), RESULT_OK);
        assert_int_equal(hand_table_next(&table, &block, &line, &fault),
                         length <= HAND_NOTE_MAX ? RESULT_OK : RESULT_INVALID);
    }
}

#define ROWS(rows, test, label)                                                       \
    static int run_##rows(void)                                                       \
    {                                                                                 \
        struct CMUnitTest tests[sizeof rows / sizeof rows[0]] = {{0}};                \
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)                     \
            tests[i] = (struct CMUnitTest){                                           \
                .name = rows[i].label, .test_func = test, .initial_state = &rows[i]}; \
        return cmocka_run_group_tests_name("hand: " #rows, tests, NULL, NULL);        \
    }
ROWS(value_rows, test_value, text)
ROWS(date_rows, test_date, text)
ROWS(table_rows, test_table, name)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_all_columns),
        cmocka_unit_test(test_one_out_of_the_other),
        cmocka_unit_test(test_long_values),
    };
    return run_value_rows() + run_date_rows() + run_table_rows() +
           cmocka_run_group_tests_name("hand", tests, NULL, NULL);
}
