#include <string.h>

#include "text/hand.h"

/* A value, copied out of its line: its words borrow from the copy. */
struct value {
    struct text_word word;
    char text[HAND_VALUE_MAX];
};

/* What is left of a line, and where it stands. */
struct row {
    const char *at, *end;
    uint32_t line, column;
    bool is_over; /* no comma came behind the last value */
};

/* The whole line, with what the other readers take for a comment. */
static struct row row_of(const struct text_lines *lines)
{
    const char *begin = lines->line_begin;
    const char *end = memchr(begin, '\n', (size_t)(lines->end - begin));

    if (end == NULL)
        end = lines->end;
    if (end > begin && end[-1] == '\r')
        end--;
    return (struct row){.at = begin, .end = end, .line = lines->line, .column = 1};
}

static char take_octet(struct row *row)
{
    if (((unsigned char)*row->at & 0xC0u) != 0x80u)
        row->column++;
    return *row->at++;
}

static bool stands(const struct row *row, char octet)
{
    return row->at < row->end && *row->at == octet;
}

static void pass_blanks(struct row *row)
{
    while (stands(row, ' ') || stands(row, '\t'))
        (void)take_octet(row);
}

static enum result put(struct value *value, char octet, struct text_fault *ret_fault)
{
    if (value->word.length == HAND_VALUE_MAX) {
        text_fault_at(ret_fault, value->word, "at most 300 octets in a value", "more");
        return RESULT_INVALID;
    }
    value->text[value->word.length++] = octet;
    return RESULT_OK;
}

static enum result take_quoted(struct row *row, struct value *value, struct text_fault *ret_fault)
{
    enum result result = RESULT_OK;

    (void)take_octet(row);
    while (result == RESULT_OK && row->at < row->end) {
        const char octet = take_octet(row);
        if (octet == '"' && !stands(row, '"')) {
            pass_blanks(row);
            return RESULT_OK;
        }
        if (octet == '"')
            (void)take_octet(row);
        result = put(value, octet, ret_fault);
    }
    if (result == RESULT_OK)
        text_fault_at(ret_fault, value->word, "a value that ends with \" in its line", "none");
    return RESULT_INVALID;
}

static enum result take_plain(struct row *row, struct value *value, struct text_fault *ret_fault)
{
    enum result result = RESULT_OK;

    while (result == RESULT_OK && row->at < row->end && *row->at != ',')
        result = put(value, take_octet(row), ret_fault);
    while (value->word.length > 0 && (value->text[value->word.length - 1] == ' ' ||
                                      value->text[value->word.length - 1] == '\t'))
        value->word.length--;
    return result;
}

static enum result take_value(struct row *row, struct value *ret, struct text_fault *ret_fault)
{
    pass_blanks(row);
    ret->word = (struct text_word){.text = ret->text, .line = row->line, .column = row->column};
    const enum result result =
        stands(row, '"') ? take_quoted(row, ret, ret_fault) : take_plain(row, ret, ret_fault);
    if (result != RESULT_OK)
        return result;
    row->is_over = row->at == row->end;
    if (row->is_over)
        return RESULT_OK;
    if (take_octet(row) == ',')
        return RESULT_OK;
    text_fault_at(ret_fault, ret->word, "a comma behind a value in quotes", "something else");
    return RESULT_INVALID;
}

/* ---- the names ---- */

static enum result take_name(struct hand_table *table, struct text_word word,
                             struct text_fault *ret_fault)
{
    for (unsigned field = 0; field < HAND_FIELD_COUNT; field++) {
        if (!text_word_is(word, hand_field_name((enum hand_field)field)))
            continue;
        for (size_t i = 0; i < table->column_count; i++)
            if (table->columns[i] == field) {
                text_fault_word(ret_fault, word, "each column once");
                return RESULT_INVALID;
            }
        table->columns[table->column_count++] = (enum hand_field)field;
        return RESULT_OK;
    }
    text_fault_word(ret_fault, word, "a column such as date, length, work_kj or power_w");
    return RESULT_INVALID;
}

enum result hand_table_open(const char *text, size_t length, struct hand_table *ret,
                            struct text_fault *ret_fault)
{
    struct hand_table table = {.column_count = 0};
    struct value value;
    enum result result = text_lines_open(text, length, &table.lines, ret_fault);

    if (result != RESULT_OK)
        return result;
    if (!text_lines_next(&table.lines)) {
        text_fault_word(ret_fault, text_lines_word(&table.lines), "the names of columns");
        return RESULT_INVALID;
    }
    for (struct row row = row_of(&table.lines); result == RESULT_OK && !row.is_over;) {
        result = take_value(&row, &value, ret_fault);
        if (result == RESULT_OK)
            result = take_name(&table, value.word, ret_fault);
    }
    if (result == RESULT_OK)
        *ret = table;
    return result;
}

/* ---- the blocks ---- */

static enum result take_row(const struct hand_table *table, struct row *row, struct hand_block *ret,
                            struct text_fault *ret_fault)
{
    enum result result = RESULT_OK;
    struct value value;
    size_t count = 0;

    for (; result == RESULT_OK && !row->is_over; count++) {
        result = take_value(row, &value, ret_fault);
        if (result == RESULT_OK && count == table->column_count) {
            text_fault_word(ret_fault, value.word, "no more values than columns");
            result = RESULT_INVALID;
        }
        if (result == RESULT_OK && value.word.length > 0)
            result = hand_take(ret, table->columns[count], value.word, ret_fault);
    }
    return result;
}

enum result hand_table_next(struct hand_table *table, struct hand_block *ret, uint32_t *ret_line,
                            struct text_fault *ret_fault)
{
    struct hand_block block = {.work_j = 0};

    if (!text_lines_next(&table->lines))
        return RESULT_NOT_FOUND;
    struct row row = row_of(&table->lines);
    const struct text_word place = {.line = row.line, .column = 1};
    enum result result = take_row(table, &row, &block, ret_fault);
    if (result == RESULT_OK)
        result = hand_finish(&block, place, ret_fault);
    if (result == RESULT_OK) {
        *ret = block;
        *ret_line = row.line;
    }
    return result;
}
