#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/heart.h"

static void estimates_from_age(void **state)
{
    (void)state;
    /* Tanaka 2001: 208 - 0.7 x 43 = 177.9; Brawner 2004: 164 - 0.7 x 50 = 129. */
    assert_int_equal(heart_max_bpm_at(43), 177);
    assert_int_equal(heart_max_bpm_at(40), 180);
    assert_int_equal(heart_max_slowed_bpm_at(50), 129);
}

static void small_falls_are_low(void **state)
{
    (void)state;
    assert_true(heart_fall_is_low_1_min(12)); /* Cole et al. 1999; Sydo et al. 2018 */
    assert_false(heart_fall_is_low_1_min(13));
    assert_true(heart_fall_is_low_1_min(-3));
}

static void readings_between_30_and_240_are_plausible(void **state)
{
    (void)state; /* common practice */
    assert_false(heart_is_plausible(0));
    assert_false(heart_is_plausible(29));
    assert_true(heart_is_plausible(30));
    assert_true(heart_is_plausible(240));
    assert_false(heart_is_plausible(241));
    assert_false(heart_is_plausible(65535));
}

static void jumps_are_not_believed(void **state)
{
    (void)state;
    /* 6 beats a second is about twice the fastest true rise in the records of Weigend et al. 2022.
     */
    static const struct {
        uint64_t elapsed_ms;
        uint32_t from_bpm, to_bpm;
        bool accepted;
    } rows[] = {
        {5000, 100, 130, false}, {5000, 100, 129, true},  {5000, 100, 115, true},
        {5000, 130, 100, false}, {5000, 130, 101, true},  {1000, 100, 106, false},
        {1000, 100, 105, true},  {100, 100, 105, true},   {100, 100, 106, false},
        {0, 100, 105, true},     {36000, 30, 240, true},  {35000, 30, 240, false},
        {1000, 100, 0, false},   {120000, 30, 240, true}, {UINT64_MAX - 1000, 30, 240, true},
    };
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct heart_filter filter = {0};
        assert_true(heart_filter_accept(&filter, 1000, rows[i].from_bpm));
        assert_int_equal(heart_filter_accept(&filter, 1000 + rows[i].elapsed_ms, rows[i].to_bpm),
                         rows[i].accepted);
    }
}

static void a_wrong_reading_is_not_believed_for_ever(void **state)
{
    (void)state;
    struct heart_filter filter = {0};
    assert_true(heart_filter_accept(&filter, 0, 200));
    uint64_t t_s = 1;
    while (!heart_filter_accept(&filter, t_s * 1000, 90))
        t_s++;
    assert_int_equal(t_s, 19);                             /* 110 beats at less than 6 a second */
    assert_false(heart_filter_accept(&filter, 18000, 90)); /* older than the last */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(estimates_from_age),
        cmocka_unit_test(small_falls_are_low),
        cmocka_unit_test(readings_between_30_and_240_are_plausible),
        cmocka_unit_test(jumps_are_not_believed),
        cmocka_unit_test(a_wrong_reading_is_not_believed_for_ever),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
