#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "ride/plan.h"

/* ---- profiles put together by hand ---- */

static struct profile empty_profile(void)
{
    return (struct profile){.title = "A", .length_min_ms = 180000, .length_max_ms = 420000};
}

static struct profile_item *add(struct profile *profile, struct profile_item item)
{
    struct profile_item *place = &profile->items[profile->item_count++];
    *place = item;
    return place;
}

static struct profile_item *add_step(struct profile *profile, enum step_kind kind, uint32_t seconds)
{
    return add(profile, (struct profile_item){
                            .kind = PROFILE_STEP, .step = kind, .duration_ms = seconds * 1000});
}

static void add_rounds(struct profile *profile, uint16_t rounds)
{
    add(profile, (struct profile_item){.kind = PROFILE_ROUNDS, .rounds = rounds});
}

static void add_end(struct profile *profile)
{
    add(profile, (struct profile_item){.kind = PROFILE_END});
}

static void add_intervals(struct profile *profile, uint16_t rounds, uint32_t work_s,
                          uint32_t rest_s)
{
    add_rounds(profile, rounds);
    add_step(profile, STEP_WORK, work_s);
    add_step(profile, STEP_REST, rest_s);
    add_end(profile);
}

static struct plan plan;

static enum result plan_for(const struct profile *profile, uint16_t critical_power_w)
{
    struct rider rider = {.critical_power_w = critical_power_w};
    return profile_plan(profile, &rider, &plan);
}

/* ---- lengths ---- */

struct interval_row {
    const char *source;
    uint16_t rounds;
    uint32_t work_s, rest_s;
    bool ends_with_work; /* the last rest left out */
    uint64_t length_ms;
    uint64_t work_ms;
    enum result planned;
};

static struct interval_row interval_rows[] = {
    {"Tabata et al. 1996, MSSE 28:1327", 8, 20, 10, false, 240000, 160000, RESULT_OK},
    {"the same without the last rest", 8, 20, 10, true, 230000, 160000, RESULT_OK},
    {"Ronnestad et al. 2015, Scand J Med Sci Sports 25:143", 13, 30, 15, false, 585000, 390000,
     RESULT_RANGE},
    {"the same without the last rest", 13, 30, 15, true, 570000, 390000, RESULT_RANGE},
    {"40 s on, 20 s off: common practice", 7, 40, 20, false, 420000, 280000, RESULT_OK},
    {"the same without the last rest", 7, 40, 20, true, 400000, 280000, RESULT_OK},
};

static void measures_the_published_intervals(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof(interval_rows) / sizeof(interval_rows[0]); i++) {
        const struct interval_row *row = &interval_rows[i];
        struct profile profile = empty_profile();
        struct profile_size size;
        add_step(&profile, STEP_WARM_UP, 60);
        add_intervals(&profile, row->ends_with_work ? row->rounds - 1 : row->rounds, row->work_s,
                      row->rest_s);
        if (row->ends_with_work)
            add_step(&profile, STEP_WORK, row->work_s);
        add_step(&profile, STEP_COOL_DOWN, 180);
        assert_int_equal(profile_measure(&profile, &size), RESULT_OK);
        assert_int_equal(size.length_ms, row->length_ms);
        assert_int_equal(size.work_steps, row->rounds);
        assert_int_equal(plan_for(&profile, 0), row->planned);
        if (row->planned != RESULT_OK)
            continue;
        assert_int_equal(plan_length_ms(&plan), row->length_ms);
        assert_int_equal(plan_work_ms(&plan), row->work_ms);
        assert_int_equal(plan_duration_ms(&plan), row->length_ms + 240000);
    }
}

/* 30 s easy, 20 s medium, 10 s hard, five times: five minutes (protocol table, BMJ Open Sport &
 * Exercise Medicine). Energy at 80, 150 and 350 W: 5 * (2400 + 3000 + 3500) J = 44.5 kJ. */
static void plans_thirty_twenty_ten(void **state)
{
    (void)state;
    static const int32_t powers_w[] = {80, 150, 350};
    static const uint32_t seconds[] = {30, 20, 10};
    struct profile profile = empty_profile();
    add_rounds(&profile, 5);
    for (size_t i = 0; i < 3; i++)
        add_step(&profile, i == 2 ? STEP_WORK : STEP_REST, seconds[i])->targets.power_w =
            (struct target_range){true, powers_w[i], powers_w[i]};
    add_end(&profile);
    assert_int_equal(plan_for(&profile, 0), RESULT_OK);
    assert_int_equal(plan_length_ms(&plan), 300000);
    assert_int_equal(plan_work_ms(&plan), 50000);
    int64_t work_mj = 0;
    for (size_t i = 0; i < plan.step_count; i++)
        work_mj += (int64_t)plan.steps[i].targets.power_w.low * plan.steps[i].duration_ms;
    assert_int_equal(work_mj, 44500000);
}

/* Three to seven minutes: common practice for a block behind other training. */
static void holds_lengths_to_three_to_seven_minutes(void **state)
{
    (void)state;
    static const struct {
        uint32_t seconds;
        enum result result;
    } rows[] = {{179, RESULT_RANGE}, {180, RESULT_OK}, {420, RESULT_OK}, {421, RESULT_RANGE}};
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct profile profile = empty_profile();
        profile.length_min_ms = 0; /* a profile cannot widen what the program allows */
        profile.length_max_ms = UINT32_MAX;
        add_step(&profile, STEP_WARM_UP, 600);
        add_step(&profile, STEP_WORK, rows[i].seconds);
        add_step(&profile, STEP_COOL_DOWN, 600);
        assert_int_equal(plan_for(&profile, 0), rows[i].result);
    }
}

static void holds_lengths_to_the_range_of_the_profile(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    add_step(&profile, STEP_WORK, 240);
    profile.length_min_ms = profile.length_max_ms = 240000;
    assert_int_equal(plan_for(&profile, 0), RESULT_OK);
    profile.length_min_ms = 240001;
    profile.length_max_ms = 420000;
    assert_int_equal(plan_for(&profile, 0), RESULT_RANGE);
    profile.length_min_ms = 180000;
    profile.length_max_ms = 239999;
    assert_int_equal(plan_for(&profile, 0), RESULT_RANGE);
}

/* ---- unrolling ---- */

static void unrolls_nested_rounds_in_order(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    add_step(&profile, STEP_WARM_UP, 1);
    add_rounds(&profile, 2);
    add_step(&profile, STEP_WORK, 50);
    add_rounds(&profile, 3);
    add_step(&profile, STEP_WORK, 20);
    add_end(&profile);
    add_step(&profile, STEP_REST, 10);
    add_end(&profile);
    assert_int_equal(plan_for(&profile, 0), RESULT_OK);

    static const struct {
        enum step_kind kind;
        uint32_t duration_ms;
        uint16_t round, rounds;
    } expected[] = {
        {STEP_WARM_UP, 1000, 0, 0}, {STEP_WORK, 50000, 1, 2}, {STEP_WORK, 20000, 1, 3},
        {STEP_WORK, 20000, 2, 3},   {STEP_WORK, 20000, 3, 3}, {STEP_REST, 10000, 1, 2},
        {STEP_WORK, 50000, 2, 2},   {STEP_WORK, 20000, 1, 3}, {STEP_WORK, 20000, 2, 3},
        {STEP_WORK, 20000, 3, 3},   {STEP_REST, 10000, 2, 2},
    };
    assert_int_equal(plan.step_count, sizeof(expected) / sizeof(expected[0]));
    for (size_t i = 0; i < plan.step_count; i++) {
        assert_int_equal(plan.steps[i].kind, expected[i].kind);
        assert_int_equal(plan.steps[i].duration_ms, expected[i].duration_ms);
        assert_int_equal(plan.steps[i].round, expected[i].round);
        assert_int_equal(plan.steps[i].rounds, expected[i].rounds);
    }
    assert_string_equal(plan.title, "A");
}

static void turns_shares_of_critical_power_into_watts(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    struct profile_item *work = add_step(&profile, STEP_WORK, 180);
    work->targets.power_cp_tenths = (struct target_range){true, 1150, 1253};
    work->targets.cadence_rpm = (struct target_range){true, 80, 90};
    assert_int_equal(plan_for(&profile, 210), RESULT_OK);
    const struct step_targets *targets = &plan.steps[0].targets;
    assert_true(targets->power_w.set);
    assert_int_equal(targets->power_w.low, 242);  /* 241.5 */
    assert_int_equal(targets->power_w.high, 263); /* 263.13 */
    assert_false(targets->power_cp_tenths.set);
    assert_int_equal(targets->cadence_rpm.low, 80);
    assert_int_equal(targets->cadence_rpm.high, 90);
    assert_false(targets->heart_bpm.set);
}

/* Medicine that slows the heart keeps it from its targets. */
static void leaves_heart_targets_out_where_medicine_slows_it(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    struct rider rider = {0};
    add_step(&profile, STEP_WORK, 180)->targets.heart_bpm = (struct target_range){true, 140, 160};
    assert_int_equal(profile_plan(&profile, &rider, &plan), RESULT_OK);
    assert_true(plan.steps[0].targets.heart_bpm.set);
    rider.heart_slowed = true;
    assert_int_equal(profile_plan(&profile, &rider, &plan), RESULT_OK);
    assert_false(plan.steps[0].targets.heart_bpm.set);
}

static struct target_range watts(const struct profile *profile, uint16_t critical_power_w,
                                 uint16_t mark_power_w)
{
    const struct rider rider = {.critical_power_w = critical_power_w, .mark_power_w = mark_power_w};
    assert_int_equal(profile_plan(profile, &rider, &plan), RESULT_OK);
    assert_false(plan.steps[0].targets.power_mark_tenths.set);
    return plan.steps[0].targets.power_w;
}

/* Where there is none, critical power stands for it. */
static void turns_shares_of_the_mark_into_watts(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    const struct rider nobody = {0};
    add_step(&profile, STEP_WORK, 180)->targets.power_mark_tenths =
        (struct target_range){true, 1010, 1055};
    assert_true(profile_asks_for_mark(&profile));
    assert_int_equal(watts(&profile, 200, 243).low, 245);  /* 245.43 */
    assert_int_equal(watts(&profile, 200, 243).high, 256); /* 256.365 */
    assert_int_equal(watts(&profile, 0, 243).low, 245);
    assert_int_equal(watts(&profile, 200, 0).low, 202);
    assert_int_equal(watts(&profile, 200, 0).high, 211);
    assert_int_equal(profile_plan(&profile, &nobody, &plan), RESULT_NOT_FOUND);
}

static void plans_what_a_step_leads_to_and_ends_with(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    struct profile_item *floor = add_step(&profile, STEP_FLOOR, 32);
    floor->reps = (struct step_reps){8, 3010};
    (void)strcpy(floor->cue_text, "Squats");
    struct profile_item *work = add_step(&profile, STEP_WORK, 180);
    work->targets.power_cp_tenths = (struct target_range){true, 500, 600};
    work->ramp_to.power_cp_tenths = (struct target_range){true, 1000, 1100};
    work->targets.effort = (struct target_range){true, 5, 7};
    work->end = (struct step_end){UNTIL_WORK, 12500};
    assert_int_equal(plan_for(&profile, 200), RESULT_OK);
    assert_int_equal(plan.steps[0].kind, STEP_FLOOR);
    assert_int_equal(plan.steps[0].reps.tempo, 3010);
    assert_string_equal(plan.steps[0].cue_text, "Squats");
    assert_int_equal(plan.steps[1].ramp_to.power_w.high, 220);
    assert_int_equal(plan.steps[1].targets.effort.high, 7);
    assert_int_equal(plan.steps[1].end.value, 12500);
    assert_int_equal(plan_floor_ms(&plan), 32000);
    assert_int_equal(plan_floor_steps(&plan), 1);
    assert_int_equal(plan_duration_ms(&plan), 180000); /* on the bike */
    assert_int_equal(plan_length_ms(&plan), 180000);
}

/* With the medicine a heart is that low without having recovered. */
static void a_slowed_heart_ends_no_step(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    struct rider rider = {0};
    add_step(&profile, STEP_WORK, 180);
    add_step(&profile, STEP_REST, 60)->end = (struct step_end){UNTIL_HEART, 120};
    assert_int_equal(profile_plan(&profile, &rider, &plan), RESULT_OK);
    assert_int_equal(plan.steps[1].end.until, UNTIL_HEART);
    rider.heart_slowed = true;
    assert_int_equal(profile_plan(&profile, &rider, &plan), RESULT_OK);
    assert_int_equal(plan.steps[1].end.until, UNTIL_TIME);
    assert_int_equal(plan.steps[1].end.value, 0);
}

static void needs_critical_power_only_where_it_is_asked_for(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    struct profile_item *work = add_step(&profile, STEP_WORK, 180);
    work->targets.power_w = (struct target_range){true, 100, 120};
    assert_int_equal(plan_for(&profile, 0), RESULT_OK);
    work->targets = (struct step_targets){.power_cp_tenths = {true, 900, 1000}};
    memset(&plan, 0x5A, sizeof(plan));
    assert_int_equal(plan_for(&profile, 0), RESULT_NOT_FOUND);
    assert_int_equal(plan.steps[0].duration_ms, 0x5A5A5A5A); /* nothing was written */
}

/* Intervals have at most 420 s in all and steps at least one, so it takes a long warm-up. */
static void holds_512_steps_and_not_one_more(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    for (int i = 0; i < 92; i++)
        add_step(&profile, STEP_WARM_UP, 1);
    add_rounds(&profile, 5);
    add_intervals(&profile, 42, 1, 1);
    add_end(&profile);
    assert_int_equal(plan_for(&profile, 0), RESULT_OK);
    assert_int_equal(plan.step_count, 512);
    add_step(&profile, STEP_COOL_DOWN, 1);
    assert_int_equal(plan_for(&profile, 0), RESULT_FULL);
}

/* ---- what profile_read() would not let pass ---- */

static void refuses_profiles_that_are_not_well_formed(void **state)
{
    (void)state;
    struct profile good = empty_profile();
    add_step(&good, STEP_WORK, 180);
    struct profile bad[14];
    for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
        bad[i] = good;
    add_end(&bad[0]);
    add_rounds(&bad[1], 2);
    add_rounds(&bad[2], 2); /* empty: a walk over such would never end in a step */
    add_end(&bad[2]);
    add_intervals(&bad[3], 0, 20, 10);
    add_intervals(&bad[4], PROFILE_ROUNDS_MAX + 1, 20, 10);
    for (int i = 0; i < 5; i++)
        add_rounds(&bad[5], 1);
    add_step(&bad[5], STEP_WORK, 1);
    for (int i = 0; i < 5; i++)
        add_end(&bad[5]);
    add_step(&bad[6], STEP_WORK, 1)->duration_ms = 999;
    add_step(&bad[7], STEP_KIND_COUNT, 1);
    bad[8].item_count = PROFILE_ITEMS_MAX + 1;
    add_step(&bad[9], STEP_FLOOR, 10); /* after work */
    bad[10] = empty_profile();
    add_rounds(&bad[10], 1);
    add_step(&bad[10], STEP_FLOOR, 200);
    add_end(&bad[10]);
    add_step(&bad[11], STEP_REST, 1)->end = (struct step_end){UNTIL_WORK, 0};
    add_step(&bad[12], STEP_REST, 1)->end = (struct step_end){(enum step_until)4, 1};
    bad[13] = empty_profile();
    add_step(&bad[13], STEP_FLOOR, 31)->reps = (struct step_reps){8, 3010}; /* 32 s */
    add_step(&bad[13], STEP_WORK, 180);
    assert_int_equal(plan_for(&good, 0), RESULT_OK);
    for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
        assert_int_equal(plan_for(&bad[i], 0), RESULT_INVALID);
}

static void the_largest_profile_does_not_overflow(void **state)
{
    (void)state;
    struct profile profile = empty_profile();
    for (int i = 0; i < 4; i++)
        add_rounds(&profile, PROFILE_ROUNDS_MAX);
    for (int i = 0; i < 120; i++)
        add_step(&profile, STEP_WORK, PLAN_STEP_MAX_MS / 1000);
    for (int i = 0; i < 4; i++)
        add_end(&profile);
    struct profile_size size;
    assert_int_equal(profile_measure(&profile, &size), RESULT_OK);
    assert_int_equal(size.steps, UINT64_C(11527152120));           /* 99^4 * 120 */
    assert_int_equal(size.length_ms, UINT64_C(20748873816000000)); /* times 1800 s */
    assert_int_equal(plan_for(&profile, 0), RESULT_RANGE);
}

static void zeroed_things_are_harmless(void **state)
{
    (void)state;
    struct profile profile = {0};
    assert_int_equal(plan_for(&profile, 0), RESULT_RANGE);
    memset(&plan, 0, sizeof(plan));
    assert_int_equal(plan_length_ms(&plan), 0);
    assert_int_equal(plan_duration_ms(&plan), 0);
    assert_int_equal(plan_work_ms(&plan), 0);
    assert_string_equal(step_kind_text(STEP_COOL_DOWN), "cool-down");
    assert_string_equal(step_kind_text((enum step_kind)99), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(measures_the_published_intervals),
        cmocka_unit_test(plans_thirty_twenty_ten),
        cmocka_unit_test(holds_lengths_to_three_to_seven_minutes),
        cmocka_unit_test(holds_lengths_to_the_range_of_the_profile),
        cmocka_unit_test(unrolls_nested_rounds_in_order),
        cmocka_unit_test(turns_shares_of_critical_power_into_watts),
        cmocka_unit_test(leaves_heart_targets_out_where_medicine_slows_it),
        cmocka_unit_test(turns_shares_of_the_mark_into_watts),
        cmocka_unit_test(plans_what_a_step_leads_to_and_ends_with),
        cmocka_unit_test(a_slowed_heart_ends_no_step),
        cmocka_unit_test(needs_critical_power_only_where_it_is_asked_for),
        cmocka_unit_test(holds_512_steps_and_not_one_more),
        cmocka_unit_test(refuses_profiles_that_are_not_well_formed),
        cmocka_unit_test(the_largest_profile_does_not_overflow),
        cmocka_unit_test(zeroed_things_are_harmless),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
