/* Every result has words of its own, in lower case and without a full stop. */
#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/result.h"

static void every_result_has_its_own_text(void **state)
{
    (void)state;
    for (int i = 0; i < RESULT_COUNT; i++) {
        const char *text = result_text((enum result)i);
        assert_non_null(text);
        assert_true(islower((unsigned char)text[0]));
        assert_int_not_equal(text[strlen(text) - 1], '.');
        assert_string_not_equal(text, "unknown");
        for (int j = 0; j < i; j++)
            assert_string_not_equal(text, result_text((enum result)j));
    }
}

static void values_outside_the_enum_are_unknown(void **state)
{
    (void)state;
    assert_string_equal(result_text(RESULT_COUNT), "unknown");
    assert_string_equal(result_text((enum result)1000), "unknown");
}

static void zero_is_ok(void **state)
{
    (void)state;
    assert_int_equal(RESULT_OK, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_result_has_its_own_text),
        cmocka_unit_test(values_outside_the_enum_are_unknown),
        cmocka_unit_test(zero_is_ok),
    };
    return cmocka_run_group_tests_name("result", tests, NULL, NULL);
}
