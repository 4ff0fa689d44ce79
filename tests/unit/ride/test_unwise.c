/* What is legal in a profile and yet unwise. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "ride/unwise.h"
#include "text/profile.h"

#define HEAD      "title A\nlength 3:00..7:00\n"
#define WARM_UP   "warm-up 1:00\n"
#define COOL_DOWN "cool-down 1:00\n"

static void each_is_found_at_its_line(void **state)
{
    static struct row {
        const char *text;
        uint32_t lines[UNWISE_COUNT]; /* 0: wise */
    } rows[] = {
        {HEAD WARM_UP "work 4:00\n" COOL_DOWN, {0, 0, 0}},
        {HEAD "rest 1:00\nwork 3:00\n" COOL_DOWN, {4, 0, 0}},
        {HEAD "floor 1:00\nwork 3:00\n" COOL_DOWN, {4, 0, 0}},
        {HEAD WARM_UP "work 3:00\nrest 1:00\n", {0, 5, 0}},
        {HEAD WARM_UP "work 4:01\n" COOL_DOWN, {0, 0, 2}},
        {HEAD WARM_UP "rounds 7\nwork 1:00\nend\n" COOL_DOWN, {0, 0, 0}},
        {HEAD WARM_UP "rounds fit\nwork 2:10\nend\n" COOL_DOWN, {0, 0, 2}},
        {HEAD "\nwork 5:00\n", {4, 4, 2}},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct profile profile;
        struct text_fault fault;
        assert_int_equal(profile_read(rows[i].text, strlen(rows[i].text), &profile, &fault),
                         RESULT_OK);
        for (enum unwise what = UNWISE_NO_WARM_UP; what < UNWISE_COUNT; what++) {
            uint32_t line = 0;
            const bool is_unwise = profile_is_unwise(&profile, what, &line);
            assert_int_equal(is_unwise, rows[i].lines[what] != 0);
            if (is_unwise)
                assert_int_equal(line, rows[i].lines[what]);
            assert_string_not_equal(unwise_text(what), "");
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(each_is_found_at_its_line)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
