/* Profiles fitted to a length and to the legs of the day. Expectations are counted by hand or
 * follow from the rule in ride/fit.h. */
#include "ride/fit.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define STEP(KIND, SECONDS)                                                      \
    {                                                                            \
        .kind = PROFILE_STEP, .step = STEP_##KIND, .duration_ms = SECONDS * 1000 \
    }
#define ROUNDS(COUNT)                           \
    {                                           \
        .kind = PROFILE_ROUNDS, .rounds = COUNT \
    }
#define END                 \
    {                       \
        .kind = PROFILE_END \
    }

/* 20/10 x 8 with a warm-up and a cool-down that do not count. */
static const struct profile plain = {
    .title = "invented",
    .length_min_ms = 180000,
    .length_max_ms = 420000,
    .item_count = 6,
    .items = {STEP(WARM_UP, 60), ROUNDS(8), STEP(WORK, 20), STEP(REST, 10), END,
              STEP(COOL_DOWN, 180)},
};

/* 30 s to begin with, then two sets of 3 x 20/10 with 30 s after each: 30 + 2 x 120. */
static const struct profile nested = {
    .title = "invented",
    .length_min_ms = 240000,
    .length_max_ms = 400000,
    .item_count = 8,
    .items = {STEP(REST, 30), ROUNDS(2), ROUNDS(3), STEP(WORK, 20), STEP(REST, 10), END,
              STEP(REST, 30), END},
};

static uint16_t rounds_for(const struct profile *profile, uint32_t length_s, uint32_t *ret_length_s)
{
    const struct fit_wish wish = {.length_ms = length_s * 1000};
    struct profile fitted;
    struct profile_size size;
    struct fit fit;

    assert_int_equal(profile_fit(profile, &wish, &fitted, &fit), RESULT_OK);
    assert_int_equal(profile_measure(&fitted, &size), RESULT_OK);
    assert_int_equal(size.length_ms, fit.length_ms);
    *ret_length_s = fit.length_ms / 1000;
    return fit.rounds;
}

static void the_closest_number_of_rounds(void **state)
{
    static const struct {
        uint32_t wanted_s, length_s;
        uint16_t rounds;
    } rows[] = {
        {180, 180, 6}, {194, 180, 6}, {195, 180, 6}, /* as close to both: the fewer */
        {196, 210, 7}, {240, 240, 8}, {280, 270, 9}, {405, 390, 13}, {406, 420, 14}, {420, 420, 14},
    };
    uint32_t length_s;

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(rounds_for(&plain, rows[i].wanted_s, &length_s), rows[i].rounds);
        assert_int_equal(length_s, rows[i].length_s);
    }
}

static void only_the_outermost_rounds_bend(void **state)
{
    uint32_t length_s;

    (void)state;
    assert_int_equal(rounds_for(&nested, 240, &length_s), 2);
    assert_int_equal(length_s, 270);
    assert_int_equal(rounds_for(&nested, 400, &length_s), 3);
    assert_int_equal(length_s, 390);
}

static void a_span_is_what_can_be_had(void **state)
{
    struct fit_span span;

    (void)state;
    assert_int_equal(fit_span(&plain, &span), RESULT_OK);
    assert_int_equal(span.low, 6);
    assert_int_equal(span.high, 14);
    assert_int_equal(span.rounds, 8);
    assert_int_equal(fit_length_ms(&span, span.low), 180000);
    assert_int_equal(fit_length_ms(&span, span.high), 420000);
    assert_int_equal(fit_span(&nested, &span), RESULT_OK);
    assert_int_equal(span.low, 2);
    assert_int_equal(span.high, 3);
}

static enum result fit_to(const struct profile *profile, uint32_t length_s)
{
    const struct fit_wish wish = {.length_ms = length_s * 1000};
    struct profile fitted;
    struct fit fit;

    return profile_fit(profile, &wish, &fitted, &fit);
}

static void what_cannot_be_fitted_says_why(void **state)
{
    struct profile two_sets = plain, no_rounds = plain, long_rounds = plain, open = plain;
    struct profile idle = plain;

    (void)state;
    memcpy(&two_sets.items[5], &plain.items[1], 4 * sizeof plain.items[0]);
    two_sets.item_count = 9;
    no_rounds.items[1] = (struct profile_item)STEP(WORK, 20);
    no_rounds.items[4] = (struct profile_item)STEP(REST, 170);
    long_rounds.items[1].rounds = 1;
    long_rounds.items[2].duration_ms = 500000;
    open.item_count = 4;
    idle.items[2].step = idle.items[3].step = STEP_WARM_UP;
    assert_int_equal(fit_to(&two_sets, 240), RESULT_UNSUPPORTED);
    assert_int_equal(fit_to(&no_rounds, 240), RESULT_UNSUPPORTED);
    assert_int_equal(fit_to(&idle, 240), RESULT_UNSUPPORTED);
    assert_int_equal(fit_to(&long_rounds, 240), RESULT_RANGE);
    assert_int_equal(fit_to(&open, 240), RESULT_INVALID);
    assert_int_equal(fit_to(&nested, 239), RESULT_RANGE);
    assert_int_equal(fit_to(&nested, 401), RESULT_RANGE);
    /* as they are written they all the same are what they are */
    assert_int_equal(fit_to(&two_sets, 0), RESULT_OK);
    assert_int_equal(fit_to(&no_rounds, 0), RESULT_OK);
    const struct fit_wish wish = {0}, first = {.is_first = true};

    assert_string_not_equal(fit_problem(&wish, RESULT_UNSUPPORTED),
                            fit_problem(&wish, RESULT_RANGE));
    assert_string_not_equal(fit_problem(&wish, RESULT_RANGE), fit_problem(&first, RESULT_RANGE));
}

/* Two sets of 4 x 20/10 and of n x 30/30 with `rounds fit`: 2:00 + n x 1:00. */
static void the_rounds_that_say_so_bend(void **state)
{
    static const struct profile two = {
        .title = "invented",
        .length_min_ms = 240000,
        .length_max_ms = 420000,
        .item_count = 8,
        .items = {ROUNDS(4), STEP(WORK, 20), STEP(REST, 10), END, ROUNDS(2), STEP(WORK, 30),
                  STEP(REST, 30), END},
    };
    struct profile profile = two;
    struct fit_span span;
    uint32_t length_s;

    (void)state;
    assert_int_equal(fit_span(&profile, &span), RESULT_UNSUPPORTED);
    assert_int_equal(profile_settle(&profile), RESULT_OK); /* nothing to do */
    profile.items[4].fits = true;
    assert_int_equal(rounds_for(&profile, 270, &length_s), 2);
    assert_int_equal(rounds_for(&profile, 271, &length_s), 3);
    assert_int_equal(rounds_for(&profile, 420, &length_s), 5);
    assert_int_equal(length_s, 420);
    assert_int_equal(fit_span(&profile, &span), RESULT_OK);
    assert_int_equal(span.item, 4);
    assert_int_equal(span.base_ms, 120000);
    assert_int_equal(span.low, 2);
    profile.length_max_ms = 360000;
    assert_int_equal(profile_settle(&profile), RESULT_OK); /* 5:00 is the middle */
    assert_int_equal(profile.items[4].rounds, 3);
    profile.length_min_ms = profile.length_max_ms = 330000;
    assert_int_equal(profile_settle(&profile), RESULT_RANGE);
}

/* 6 % less power does 6 % less work in the same time. */
static void feeling_lowers_ramps_marks_and_work_too(void **state)
{
    const struct fit_wish wish = {.feel = 1};
    struct profile profile = plain, fitted;
    struct fit fit;

    (void)state;
    profile.items[2].ramp_to.power_w = (struct target_range){true, 200, 231};
    profile.items[2].end = (struct step_end){UNTIL_WORK, 5000};
    profile.items[3].targets.power_mark_tenths = (struct target_range){true, 1000, 1100};
    profile.items[3].end = (struct step_end){UNTIL_HEART, 120};
    assert_int_equal(profile_fit(&profile, &wish, &fitted, &fit), RESULT_OK);
    assert_int_equal(fitted.items[2].ramp_to.power_w.low, 188);
    assert_int_equal(fitted.items[2].end.value, 4700);
    assert_int_equal(fitted.items[3].targets.power_mark_tenths.high, 1034);
    assert_int_equal(fitted.items[3].end.value, 120);
}

static void feeling_lowers_every_target(void **state)
{
    static const struct {
        uint32_t feel;
        int32_t lower_pct, low_w, high_w, low_cp, high_cp, low_level;
    } rows[] = {
        {0, 0, 200, 231, 1170, 1310, 45}, {1, 6, 188, 217, 1100, 1231, 42},
        {2, 3, 194, 224, 1135, 1271, 44}, {3, 0, 200, 231, 1170, 1310, 45},
        {4, 0, 200, 231, 1170, 1310, 45}, {5, 0, 200, 231, 1170, 1310, 45},
    };
    struct profile profile = plain, fitted;
    struct fit fit;

    (void)state;
    profile.items[2].targets.power_w = (struct target_range){true, 200, 231};
    profile.items[2].targets.cadence_rpm = (struct target_range){true, 85, 100};
    profile.items[3].targets.power_cp_tenths = (struct target_range){true, 1170, 1310};
    profile.items[5].targets.level_tenths = (struct target_range){true, 45, 60};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct fit_wish wish = {.feel = rows[i].feel};
        assert_int_equal(profile_fit(&profile, &wish, &fitted, &fit), RESULT_OK);
        assert_int_equal(fit.lower_pct, rows[i].lower_pct);
        assert_int_equal(fit.rounds, 8);
        assert_int_equal(fitted.items[2].targets.power_w.low, rows[i].low_w);
        assert_int_equal(fitted.items[2].targets.power_w.high, rows[i].high_w);
        assert_int_equal(fitted.items[3].targets.power_cp_tenths.low, rows[i].low_cp);
        assert_int_equal(fitted.items[3].targets.power_cp_tenths.high, rows[i].high_cp);
        assert_int_equal(fitted.items[5].targets.level_tenths.low, rows[i].low_level);
        assert_int_equal(fitted.items[2].targets.cadence_rpm.low, 85);
    }
}

/* Whatever is asked for, and whatever the profile says of its length. */
/* 250 W by 2 and by 10 % is 255 and 275 W (Ratamess et al. 2009, MSSE 41:687). */
static void a_load_changes_every_target(void **state)
{
    static const struct {
        int32_t load_pct;
        uint32_t feel;
        bool is_first;
        int32_t watts, cp_tenths, level_tenths;
    } rows[] = {
        {0, 0, false, 250, 1200, 100},  {2, 0, false, 255, 1224, 102},
        {10, 0, false, 275, 1320, 110}, {-5, 0, false, 238, 1140, 95},
        {10, 2, false, 267, 1280, 107}, /* 266.75, 1280.4 and 106.7 */
        {50, 0, false, 375, 1800, 150}, {50, 0, true, 200, 960, 80},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct profile profile = {
            .length_min_ms = 180000, .length_max_ms = 420000, .item_count = 1};
        const struct fit_wish wish = {
            .load_pct = rows[i].load_pct, .feel = rows[i].feel, .is_first = rows[i].is_first};
        struct step_targets *targets = &profile.items[0].targets;
        struct fit fit;
        profile.items[0].kind = PROFILE_STEP;
        profile.items[0].step = STEP_WORK;
        profile.items[0].duration_ms = 200000;
        targets->power_w = (struct target_range){true, 250, 250};
        targets->power_cp_tenths = (struct target_range){true, 1200, 1200};
        targets->level_tenths = (struct target_range){true, 100, 100};
        targets->cadence_rpm = (struct target_range){true, 80, 90};
        assert_int_equal(profile_fit(&profile, &wish, &profile, &fit), RESULT_OK);
        assert_int_equal(targets->power_w.low, rows[i].watts);
        assert_int_equal(targets->power_w.high, rows[i].watts);
        assert_in_range(targets->power_cp_tenths.high, rows[i].cp_tenths, rows[i].cp_tenths + 1);
        assert_int_equal(targets->level_tenths.low, rows[i].level_tenths);
        assert_int_equal(targets->cadence_rpm.high, 90);
        assert_int_equal(fit.load_pct, rows[i].is_first ? 0 : rows[i].load_pct);
    }
}

static void a_first_block_is_short_and_easy(void **state)
{
    const struct fit_wish wish = {.length_ms = 420000, .feel = 1, .is_first = true};
    struct profile profile = plain, fitted;
    struct fit fit;

    (void)state;
    profile.length_min_ms = 400000;
    profile.items[1].rounds = 14;
    profile.items[2].targets.power_w = (struct target_range){true, 500, 600};
    profile.items[5].targets.level_tenths = (struct target_range){true, 45, 60};
    assert_int_equal(profile_fit(&profile, &wish, &fitted, &fit), RESULT_OK);
    assert_int_equal(fitted.items[1].rounds, 6); /* 3:00 */
    assert_int_equal(fit.lower_pct, 20);
    assert_true(fit.is_first);
    assert_int_equal(fitted.items[2].targets.power_w.low, 400);
    assert_int_equal(fitted.items[2].targets.power_w.high, 480);
    assert_int_equal(fitted.items[5].targets.level_tenths.high, 48);
}

static void a_first_block_that_stays_long_is_refused(void **state)
{
    const struct fit_wish wish = {.is_first = true};
    struct profile profile = plain, fitted;
    struct fit fit;

    (void)state;
    profile.items[1].rounds = 2;
    profile.items[2].duration_ms = 100000; /* rounds of 2:00: two are 4:00, one is too short */
    profile.items[3].duration_ms = 20000;
    assert_int_equal(profile_fit(&profile, &wish, &fitted, &fit), RESULT_OK);
    profile.items[3].duration_ms = 20500;
    assert_int_equal(profile_fit(&profile, &wish, &fitted, &fit), RESULT_RANGE);
}

static void power_is_capped_with_room_to_ride_in(void **state)
{
    static const struct {
        int32_t low_w, high_w, to_low_w, to_high_w;
    } rows[] = {
        {100, 120, 100, 120}, {100, 121, 100, 120}, {115, 130, 108, 120}, {500, 600, 108, 120}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct plan plan = {.step_count = 2};
        plan.steps[1].targets.power_w = (struct target_range){true, rows[i].low_w, rows[i].high_w};
        plan.steps[1].ramp_to.power_w = plan.steps[1].targets.power_w;
        plan_cap_power(&plan, 120);
        assert_int_equal(plan.steps[1].ramp_to.power_w.high, rows[i].to_high_w);
        assert_int_equal(plan.steps[1].targets.power_w.low, rows[i].to_low_w);
        assert_int_equal(plan.steps[1].targets.power_w.high, rows[i].to_high_w);
        assert_false(plan.steps[0].targets.power_w.set);
    }
}

static void it_says_what_it_did(void **state)
{
    static const struct {
        struct fit fit;
        const char *line;
    } rows[] = {
        {{240000, 180000, 420000, 8, 0, 0, false}, "4:00 of 3:00..7:00, 8 rounds"},
        {{240000, 180000, 420000, 1, 3, 0, false}, "4:00 of 3:00..7:00, 1 round, targets 3 % down"},
        {{240000, 180000, 420000, 8, 0, 3, false}, "4:00 of 3:00..7:00, 8 rounds, load +3 %"},
        {{240000, 180000, 420000, 8, 6, -5, false},
         "4:00 of 3:00..7:00, 8 rounds, targets 6 % down, load -5 %"},
        {{200000, 180000, 300000, 0, 6, 0, false}, "3:20 of 3:00..5:00, targets 6 % down"},
    };
    char line[80];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct text_writer writer = text_writer(line, sizeof line);
        fit_put(&writer, &rows[i].fit);
        assert_string_equal(line, rows[i].line);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_closest_number_of_rounds),
        cmocka_unit_test(only_the_outermost_rounds_bend),
        cmocka_unit_test(a_span_is_what_can_be_had),
        cmocka_unit_test(what_cannot_be_fitted_says_why),
        cmocka_unit_test(the_rounds_that_say_so_bend),
        cmocka_unit_test(feeling_lowers_ramps_marks_and_work_too),
        cmocka_unit_test(feeling_lowers_every_target),
        cmocka_unit_test(a_load_changes_every_target),
        cmocka_unit_test(a_first_block_is_short_and_easy),
        cmocka_unit_test(a_first_block_that_stays_long_is_refused),
        cmocka_unit_test(power_is_capped_with_room_to_ride_in),
        cmocka_unit_test(it_says_what_it_did),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
