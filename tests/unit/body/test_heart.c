#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/heart.h"
#include "support/close.h"

static void estimates_from_age(void **state)
{
    (void)state;
    /* Fox 1971, Tanaka 2001, Gellish 2007, Nes 2013, Brawner 2004: their equations by hand. */
    assert_close(heart_max_fox_bpm(43), 177, 1e-9);
    assert_close(heart_max_tanaka_bpm(43), 177.9, 1e-9);
    assert_close(heart_max_gellish_bpm(43), 178.09, 1e-9);
    assert_close(heart_max_nes_bpm(60), 172.6, 1e-9);
    assert_close(heart_max_slowed_bpm(50), 129.0, 1e-9);
}

static void reserve_goes_both_ways(void **state)
{
    (void)state;
    /* Karvonen: rest + f (max - rest). */
    assert_close(heart_at_reserve_bpm(60, 180, 0.60), 132.0, 1e-9);
    assert_close(heart_at_reserve_bpm(60, 180, 0.85), 162.0, 1e-9);
    assert_close(heart_reserve_percent(132, 60, 180), 60.0, 1e-9);
    assert_close(heart_reserve_percent(60, 60, 180), 0, 1e-9);
    assert_close(heart_reserve_percent(50, 60, 180), -8.333, 1e-3);
    assert_close(heart_reserve_percent(100, 180, 180), 0, 0);
}

/* Garber et al. 2011, MSSE 43:1334; that bands are half open is ours. */
static void bands_change_at_their_edges(void **state)
{
    (void)state;
    static const struct {
        double percent;
        enum heart_band band;
    } reserve[] = {{-5, HEART_VERY_LIGHT},   {29.9, HEART_VERY_LIGHT}, {30, HEART_LIGHT},
                   {39.9, HEART_LIGHT},      {40, HEART_MODERATE},     {59.9, HEART_MODERATE},
                   {60, HEART_VIGOROUS},     {89.9, HEART_VIGOROUS},   {90, HEART_NEAR_MAXIMAL},
                   {130, HEART_NEAR_MAXIMAL}},
      max[] = {{56.9, HEART_VERY_LIGHT}, {57, HEART_LIGHT},       {63.9, HEART_LIGHT},
               {64, HEART_MODERATE},     {76.9, HEART_MODERATE},  {77, HEART_VIGOROUS},
               {95.9, HEART_VIGOROUS},   {96, HEART_NEAR_MAXIMAL}};
    for (size_t i = 0; i < sizeof(reserve) / sizeof(reserve[0]); i++)
        assert_int_equal(heart_band_of_reserve(reserve[i].percent), reserve[i].band);
    for (size_t i = 0; i < sizeof(max) / sizeof(max[0]); i++)
        assert_int_equal(heart_band_of_max(max[i].percent), max[i].band);
}

static void the_two_bands_disagree(void **state)
{
    (void)state;
    double reserve = heart_reserve_percent(132, 60, 180);
    double max = 100 * 132.0 / 180;
    assert_close(max, 73.33, 0.01);
    assert_int_equal(heart_band_of_reserve(reserve), HEART_VIGOROUS);
    assert_int_equal(heart_band_of_max(max), HEART_MODERATE);
}

static void small_falls_are_low(void **state)
{
    (void)state;
    assert_true(heart_fall_is_low_1_min(12)); /* Cole et al. 1999; Sydo et al. 2018 */
    assert_false(heart_fall_is_low_1_min(13));
    assert_true(heart_fall_is_low_1_min(-3));
    assert_true(heart_fall_is_low_2_min(42)); /* Cole et al. 2000 */
    assert_false(heart_fall_is_low_2_min(43));
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

static void the_heart_lags_exponentially(void **state)
{
    (void)state;
    /* Medians of Weigend et al. 2022: tau 51 s up, 89 s down to 117. */
    assert_close(heart_rise_bpm(110, 70, 51, 30), 141.129, 0.001);
    assert_close(heart_rise_bpm(110, 70, 51, 120), 173.34, 0.01);
    assert_close(heart_fall_bpm(117, 66, 89, 60), 150.633, 0.001);
    assert_close(heart_fall_bpm(117, 66, 89, 120), 134.14, 0.01);
    assert_close(heart_rise_bpm(110, 70, 51, 0), 110, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(estimates_from_age),
        cmocka_unit_test(reserve_goes_both_ways),
        cmocka_unit_test(bands_change_at_their_edges),
        cmocka_unit_test(the_two_bands_disagree),
        cmocka_unit_test(small_falls_are_low),
        cmocka_unit_test(readings_between_30_and_240_are_plausible),
        cmocka_unit_test(jumps_are_not_believed),
        cmocka_unit_test(a_wrong_reading_is_not_believed_for_ever),
        cmocka_unit_test(the_heart_lags_exponentially),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
