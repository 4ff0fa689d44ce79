#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/best.h"

enum { GAP_LIMIT_MS = 5000 };

static bool best_of(const struct best_powers *best, enum best_window window, int32_t expected_w)
{
    int32_t power_w = -1;
    return best_power_w(best, window, &power_w) && power_w == expected_w;
}

static void finds_the_best_window(void **state)
{
    (void)state;
    struct best_powers best = {0};
    int32_t power_w;
    for (uint64_t t_s = 0; t_s <= 400; t_s++) {
        bool sprint = t_s >= 100 && t_s <= 110; /* eleven samples: ten whole seconds */
        assert_true(t_s > 180 || !best_power_w(&best, BEST_180_S, &power_w));
        best_add(&best, t_s * 1000, sprint ? 400 : 100, GAP_LIMIT_MS);
    }
    /* The sprint is 4000 J and half a second's rise on each side, 250 J each: 4500 J in 12 s. */
    assert_true(best_of(&best, BEST_5_S, 400));
    assert_true(best_of(&best, BEST_30_S, 210));  /* (4500 + 18 * 100) / 30 */
    assert_true(best_of(&best, BEST_60_S, 155));  /* (4500 + 48 * 100) / 60 */
    assert_true(best_of(&best, BEST_180_S, 118)); /* (4500 + 168 * 100) / 180 = 118.3 */
}

static void windows_do_not_depend_on_the_rate_of_samples(void **state)
{
    (void)state;
    /* Power rising by 1 W a second to 200 W: the best 5 s are the last, their mean 197.5 W. */
    static const uint64_t periods_ms[] = {100, 250, 1000, 4000};
    for (size_t i = 0; i < sizeof(periods_ms) / sizeof(periods_ms[0]); i++) {
        struct best_powers best = {0};
        for (uint64_t t_ms = 500; t_ms <= 200500; t_ms += periods_ms[i])
            best_add(&best, t_ms, (int32_t)((t_ms - 500) / 1000), GAP_LIMIT_MS);
        int32_t power_w = 0;
        assert_true(best_power_w(&best, BEST_5_S, &power_w));
        assert_in_range(power_w, 197, 198);
        assert_true(best_power_w(&best, BEST_180_S, &power_w));
        assert_in_range(power_w, 109, 110);
    }
}

/* 0 to 400 W in four seconds, then 400 W: the best five seconds have 350 J of the rise in them. */
static void power_is_a_straight_line_between_samples(void **state)
{
    (void)state;
    struct best_powers best = {0};
    best_add(&best, 0, 0, GAP_LIMIT_MS);
    best_add(&best, 4000, 400, GAP_LIMIT_MS);
    best_add(&best, 8000, 400, GAP_LIMIT_MS);
    assert_true(best_of(&best, BEST_5_S, 390));
}

static void samples_as_far_apart_as_the_limit_have_no_gap(void **state)
{
    (void)state;
    struct best_powers best = {0};
    int32_t power_w;
    best_add(&best, 0, 300, GAP_LIMIT_MS);
    best_add(&best, 5000, 300, GAP_LIMIT_MS);
    assert_true(best_of(&best, BEST_5_S, 300));
    best = (struct best_powers){0};
    best_add(&best, 0, 300, GAP_LIMIT_MS);
    best_add(&best, 5001, 300, GAP_LIMIT_MS);
    assert_false(best_power_w(&best, BEST_5_S, &power_w));
}

static void no_window_reaches_across_a_gap(void **state)
{
    (void)state;
    struct best_powers best = {0};
    int32_t power_w;
    for (uint64_t t_s = 0; t_s < 30; t_s++) /* 29 s */
        best_add(&best, t_s * 1000, 300, GAP_LIMIT_MS);
    for (uint64_t t_s = 40; t_s < 70; t_s++)
        best_add(&best, t_s * 1000, 200, GAP_LIMIT_MS);
    assert_true(best_of(&best, BEST_5_S, 300));
    assert_false(best_power_w(&best, BEST_30_S, &power_w));
    best_add(&best, 70000, 200, GAP_LIMIT_MS);
    assert_true(best_of(&best, BEST_30_S, 200));
}

static void negative_power_has_a_best_too(void **state)
{
    (void)state; /* a bike that is driven says so; -2.5 W rounds away from zero */
    struct best_powers best = {0};
    for (uint64_t t_s = 0; t_s <= 5; t_s++)
        best_add(&best, t_s * 1000, t_s % 2 == 0 ? -2 : -3, GAP_LIMIT_MS);
    assert_true(best_of(&best, BEST_5_S, -3));
}

static void nothing_is_best_of_nothing(void **state)
{
    (void)state;
    struct best_powers best = {0};
    int32_t power_w = 77;
    for (enum best_window i = BEST_5_S; i < BEST_WINDOW_COUNT; i++)
        assert_false(best_power_w(&best, i, &power_w));
    assert_int_equal(power_w, 77);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_the_best_window),
        cmocka_unit_test(windows_do_not_depend_on_the_rate_of_samples),
        cmocka_unit_test(power_is_a_straight_line_between_samples),
        cmocka_unit_test(samples_as_far_apart_as_the_limit_have_no_gap),
        cmocka_unit_test(no_window_reaches_across_a_gap),
        cmocka_unit_test(negative_power_has_a_best_too),
        cmocka_unit_test(nothing_is_best_of_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
