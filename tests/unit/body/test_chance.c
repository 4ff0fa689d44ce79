#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/chance.h"
#include "support/close.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Abramowitz & Stegun 1964, table 26.10: quantiles of t. */
static void students_distribution(void **state)
{
    (void)state;
    static const struct {
        uint32_t freedom;
        double t, chance;
    } rows[] = {
        {1, 1, 0.75},      {1, 6.314, 0.95},   {2, 2.920, 0.95},  {3, 2.353, 0.95},
        {4, 2.132, 0.95},  {5, 2.015, 0.95},   {5, 2.571, 0.975}, {6, 1.943, 0.95},
        {10, 2.764, 0.99}, {20, 2.086, 0.975}, {30, 1.697, 0.95}, {7, 0, 0.5},
        {3, -2.353, 0.05}, {10, -2.764, 0.01}, {2, -2.920, 0.05},
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_close(chance_student(rows[i].t, rows[i].freedom), rows[i].chance, 5e-5);
}

/* The same, table 26.1. */
static void normal_distribution(void **state)
{
    (void)state;
    assert_close(chance_normal(0), 0.5, 1e-12);
    assert_close(chance_normal(1), 0.8413447461, 1e-10);
    assert_close(chance_normal(-1.959964), 0.025, 1e-7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(students_distribution),
        cmocka_unit_test(normal_distribution),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
