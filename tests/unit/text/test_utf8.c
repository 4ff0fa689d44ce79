#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "text/utf8.h"

struct row {
    const char *octets;
    size_t length;
    size_t expected;
};

/* RFC 3629, sections 3 and 4; controls are refused by choice. */
static struct row rows[] = {
    {"", 0, 0},
    {"ab", 2, 1},
    {" ", 1, 1},
    {"~", 1, 1},
    {"\t", 1, 1},
    {"\0", 1, 0},
    {"\n", 1, 0},
    {"\r", 1, 0},
    {"\x1F", 1, 0},
    {"\x7F", 1, 0},
    {"\x80", 1, 0},     /* continues nothing */
    {"\xC0\x80", 2, 0}, /* overlong */
    {"\xC1\xBF", 2, 0},
    {"\xC2\x9F", 2, 0}, /* the last control */
    {"\xC2\xA0", 2, 2},
    {"\xDF\xBF", 2, 2},
    {"\xDF\xC0", 2, 0},
    {"\xDF\xBF", 1, 0},     /* cut short */
    {"\xE0\x9F\xBF", 3, 0}, /* overlong */
    {"\xE0\xA0\x80", 3, 3},
    {"\xE2\x82\xAC", 3, 3},
    {"\xE2\x82\xAC", 2, 0},
    {"\xE2\x82\x41", 3, 0},
    {"\xE2\x41\xAC", 3, 0},
    {"\xED\x9F\xBF", 3, 3},
    {"\xED\xA0\x80", 3, 0}, /* a surrogate */
    {"\xEF\xBF\xBF", 3, 3},
    {"\xF0\x8F\xBF\xBF", 4, 0}, /* overlong */
    {"\xF0\x90\x80\x80", 4, 4},
    {"\xF0\x90\x80\x80", 3, 0},
    {"\xF0\x90\x80\xC0", 4, 0},
    {"\xF0\x90\x7F\x80", 4, 0},
    {"\xF4\x8F\xBF\xBF", 4, 4}, /* U+10FFFF */
    {"\xF4\x90\x80\x80", 4, 0},
    {"\xF5\x80\x80\x80", 4, 0},
    {"\xFF", 1, 0},
};

static void takes_one_well_formed_character(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
        assert_int_equal(utf8_character(rows[i].octets, rows[i].length), rows[i].expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(takes_one_well_formed_character),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
