#include "fields.h"

#include <string.h>

#include "ride/plan.h"

/* ---- one value as an integer, and back ---- */

#define ACCESS(name, type)                             \
    static int64_t get_##name(const void *place)       \
    {                                                  \
        type value;                                    \
        memcpy(&value, place, sizeof value);           \
        return (int64_t)value;                         \
    }                                                  \
    static bool set_##name(void *place, int64_t value) \
    {                                                  \
        const type narrow = (type)value;               \
        memcpy(place, &narrow, sizeof narrow);         \
        return (int64_t)narrow == value;               \
    }

ACCESS(bool, bool)
ACCESS(u16, uint16_t)
ACCESS(u32, uint32_t)
ACCESS(i32, int32_t)
ACCESS(i64, int64_t)

static int64_t get_tenths(const void *place)
{
    double value;
    memcpy(&value, place, sizeof value);
    return (int64_t)(value * 10.0 + (value < 0.0 ? -0.5 : 0.5));
}

static bool set_tenths(void *place, int64_t tenths)
{
    const double value = (double)tenths / 10.0;
    memcpy(place, &value, sizeof value);
    return true;
}

static int64_t get_value(const struct field *field, const void *place)
{
    switch (field->type) {
    case FIELD_BOOL: return get_bool(place);
    case FIELD_U16: return get_u16(place);
    case FIELD_U32:
    case FIELD_ENUM: return get_u32(place);
    case FIELD_I32: return get_i32(place);
    case FIELD_I64: return get_i64(place);
    case FIELD_TENTHS: return get_tenths(place);
    case FIELD_RANGE: break;
    }
    return 0;
}

static bool set_value(const struct field *field, void *place, int64_t value)
{
    switch (field->type) {
    case FIELD_BOOL: return set_bool(place, value);
    case FIELD_U16: return set_u16(place, value);
    case FIELD_U32:
    case FIELD_ENUM: return set_u32(place, value);
    case FIELD_I32: return set_i32(place, value);
    case FIELD_I64: return set_i64(place, value);
    case FIELD_TENTHS: return set_tenths(place, value);
    case FIELD_RANGE: break;
    }
    return false;
}

/* ---- writing ---- */

static void put_name(struct text_writer *writer, const struct field *field)
{
    text_put_char(writer, ' ');
    text_put(writer, field->name);
    text_put_char(writer, '=');
}

static void put_range(struct text_writer *writer, const struct field *field, const void *place)
{
    struct target_range range;
    memcpy(&range, place, sizeof range);
    if (!range.set)
        return;
    put_name(writer, field);
    text_put_signed(writer, range.low);
    text_put(writer, "..");
    text_put_signed(writer, range.high);
}

static void put_field(struct text_writer *writer, const struct field *field, const void *place)
{
    if (field->type == FIELD_RANGE) {
        put_range(writer, field, place);
        return;
    }
    const int64_t value = get_value(field, place);
    if (value == 0)
        return;
    put_name(writer, field);
    if (field->type == FIELD_ENUM)
        text_put(writer, name_of(field->names, (unsigned)value));
    else if (field->type == FIELD_TENTHS)
        text_put_fixed(writer, value, 1);
    else
        text_put_signed(writer, value);
}

void fields_put(struct text_writer *writer, const struct fields *fields, const void *base)
{
    for (size_t i = 0; i < fields->count; i++)
        put_field(writer, &fields->list[i], (const char *)base + fields->list[i].offset);
}

/* ---- reading ---- */

static size_t word_length(const char *text, size_t length)
{
    size_t word = 0;
    while (word < length && text[word] != ' ')
        word++;
    return word;
}

/* A number of at most 18 digits, so that it cannot overflow; one decimal when `tenths`. */
static bool read_number(const char *text, size_t length, bool tenths, int64_t *ret,
                        size_t *ret_used)
{
    const bool negative = length > 0 && text[0] == '-';
    const size_t first = negative ? 1 : 0;
    size_t at = first;
    int64_t value = 0;

    for (; at < length && at - first < 18 && text[at] >= '0' && text[at] <= '9'; at++)
        value = value * 10 + (text[at] - '0');
    if (at == first)
        return false;
    if (tenths) {
        if (at + 1 >= length || text[at] != '.' || text[at + 1] < '0' || text[at + 1] > '9')
            return false;
        value = value * 10 + (text[at + 1] - '0');
        at += 2;
    }
    *ret = negative ? -value : value;
    *ret_used = at;
    return true;
}

static bool read_name(const struct names *names, const char *text, size_t length, int64_t *ret)
{
    for (size_t i = 0; i < names->count; i++) {
        if (strlen(names->list[i]) == length && memcmp(names->list[i], text, length) == 0) {
            *ret = (int64_t)i;
            return true;
        }
    }
    return false;
}

static bool read_range(const char *text, size_t length, void *place)
{
    struct target_range range = {.set = true};
    int64_t low, high;
    size_t used, used_high;

    if (!read_number(text, length, false, &low, &used) || length - used < 2 ||
        memcmp(text + used, "..", 2) != 0)
        return false;
    used += 2;
    if (!read_number(text + used, length - used, false, &high, &used_high) ||
        used + used_high != length || low < INT32_MIN || high > INT32_MAX || low > high)
        return false;
    range.low = (int32_t)low;
    range.high = (int32_t)high;
    memcpy(place, &range, sizeof range);
    return true;
}

static bool read_field(const struct field *field, const char *text, size_t length, void *place)
{
    int64_t value;
    size_t used;

    if (field->type == FIELD_RANGE)
        return read_range(text, length, place);
    if (field->type == FIELD_ENUM)
        return read_name(field->names, text, length, &value) && set_value(field, place, value);
    return read_number(text, length, field->type == FIELD_TENTHS, &value, &used) &&
           used == length && set_value(field, place, value);
}

static bool read_word(const struct fields *fields, const char *word, size_t length, void *base)
{
    for (size_t i = 0; i < fields->count; i++) {
        const struct field *field = &fields->list[i];
        const size_t name = strlen(field->name);

        if (length > name && word[name] == '=' && memcmp(word, field->name, name) == 0)
            return read_field(field, word + name + 1, length - name - 1,
                              (char *)base + field->offset);
    }
    return false;
}

enum result fields_read(const struct fields *fields, const char *text, size_t length, void *base,
                        size_t *ret_at)
{
    size_t word;

    for (size_t at = 0; at < length; at += word + 1) {
        word = word_length(text + at, length - at);
        if (word > 0 && !read_word(fields, text + at, word, base)) {
            *ret_at = at;
            return RESULT_INVALID;
        }
    }
    return RESULT_OK;
}
