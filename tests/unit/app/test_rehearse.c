/*
 * Plans rehearsed, against published and worked-out numbers. Riders are invented.
 */
#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "app/rehearse.h"
#include "body/energy.h"
#include "io/virtual_config.h"
#include "support/close.h"
#include "text/profile.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct plan plan;
static struct rehearsal rehearsal;

static void add(enum step_kind kind, uint32_t seconds, int32_t power_w)
{
    plan.steps[plan.step_count++] =
        (struct plan_step){.kind = kind,
                           .duration_ms = seconds * 1000,
                           .targets = {.power_w = {true, power_w, power_w}}};
}

static void add_rounds(uint16_t rounds, uint32_t work_s, int32_t work_w, uint32_t rest_s,
                       int32_t rest_w)
{
    for (uint16_t i = 0; i < rounds; i++) {
        add(STEP_WORK, work_s, work_w);
        add(STEP_REST, rest_s, rest_w);
    }
}

static void run_for(const struct rider *rider)
{
    assert_int_equal(rehearse(&plan, rider, NULL, &rehearsal), RESULT_OK);
}

static int set_up(void **state)
{
    (void)state;
    plan = (struct plan){.title = "Invented"};
    return 0;
}

/* ---- the plan alone ---- */

struct asked {
    uint16_t critical_power_w;
    uint32_t w_prime_j;
    uint16_t rounds;
    uint32_t work_s;
    int32_t work_w;
    uint32_t rest_s;
    int32_t rest_w;
    double low_j, slow_j; /* after the last work */
};

/* Skiba et al. 2015 and, slow, Skiba et al. 2012 (MSSE 44:1526), worked out by other means: the
 * differential balance by Runge-Kutta in steps of 1 ms, the integral by convolution in 10 ms. */
static struct asked asked_rows[] = {
    {250, 20000, 8, 20, 400, 10, 100, 1267.2, 1314.0},
    {250, 20000, 5, 40, 350, 20, 125, 4179.5, 4883.8},
    {160, 14000, 8, 20, 260, 10, 60, 1371.6, 1077.3},
};

static void the_reserve_that_a_plan_asks_for(void **state)
{
    const struct asked *row = *state;
    const struct rider rider = {.critical_power_w = row->critical_power_w,
                                .w_prime_j = row->w_prime_j};

    plan = (struct plan){.title = "Invented"};
    add_rounds(row->rounds, row->work_s, row->work_w, row->rest_s, row->rest_w);
    run_for(&rider);
    assert_close(rehearsal.asked.left_j, row->low_j, 0.1);
    assert_close(rehearsal.slow.left_j, row->slow_j, 0.1);
    assert_int_equal(rehearsal.asked.place.step, 2 * row->rounds - 2);
    assert_int_equal(rehearsal.asked.place.at_ms,
                     1000 * (row->rounds * (row->work_s + row->rest_s) - row->rest_s));
}

/* W' = (P - CP) t: 350 W over 250 W empty 20 kJ in 200.000 s. 60/30 s at 329 and 173 W with the CP
 * and W' of Chidnok et al. 2012 (MSSE 44:966): 410.20 s by the differential model. */
static void where_the_reserve_is_empty(void **state)
{
    (void)state;
    add(STEP_WORK, 300, 350);
    run_for(&(struct rider){.critical_power_w = 250, .w_prime_j = 20000});
    assert_close(rehearsal.asked.left_j, -10000, 0.1);
    assert_in_range(rehearsal.empty_ms, 199999, 200000);
    /* Before that a rider like this one has no 350 W any more (Morton 1996): with 875 W at best
     * when a share of 100 / 625 of the reserve is left, after 168 s; the flywheel helps for some
     * more. */
    assert_int_equal(rehearsal.trouble, REHEARSAL_LEGS);
    assert_in_range(rehearsal.trouble_at.at_ms, 168000, 200000);

    plan.step_count = 0;
    add_rounds(5, 60, 329, 30, 173);
    run_for(&(struct rider){.critical_power_w = 241, .w_prime_j = 21100});
    assert_in_range(rehearsal.empty_ms, 410190, 410210);
}

/* With rests at 20 W it settles at a depletion of 19581.6 J and never empties (the same). */
static void a_reserve_that_settles(void **state)
{
    (void)state;
    add_rounds(60, 60, 329, 30, 20);
    run_for(&(struct rider){.critical_power_w = 241, .w_prime_j = 21100});
    assert_close(rehearsal.asked.left_j, 21100 - 19581.6, 0.2);
    assert_int_equal(rehearsal.empty_ms, 0);
}

/* ---- as it is ridden ---- */

/* 200 W for 300 s are 60 kJ, and 71.702 kcal at an efficiency of 20 % and 4.184 kJ a kcal. The
 * first seconds are for speeding up. */
static void a_flat_block_is_its_work(void **state)
{
    (void)state;
    add(STEP_WORK, 300, 200);
    run_for(&(struct rider){.critical_power_w = 250, .w_prime_j = 20000});
    const double work_kj = (double)rehearsal.summary.work_j / 1000;

    assert_int_equal(rehearsal.trouble, REHEARSAL_FINE);
    assert_int_equal(rehearsal.summary.end, END_DONE);
    assert_int_equal(rehearsal.ridden_count, 300);
    assert_int_equal(rehearsal.second_count, 300);
    assert_close(work_kj, 60, 0.6);
    assert_close(energy_range(work_kj).mid_kcal, 71.702, 0.72);
    for (uint32_t s = 10; s < 300; s++)
        assert_in_range(rehearsal.seconds[s].power_w, 198, 202);
    assert_close(rehearsal.ridden.left_j, 20000, 0);
}

/* Riders and their brake took 3 to 9 s from a command to 90 % of it, as a mean over 3 s (records of
 * Weigend et al. 2022, arXiv:2207.14295). */
static void a_new_power_takes_seconds(void **state)
{
    uint32_t s = 60;

    (void)state;
    add(STEP_REST, 60, 100);
    add(STEP_WORK, 60, 250);
    run_for(&(struct rider){.critical_power_w = 250, .w_prime_j = 20000});
    while (rehearsal.seconds[s].power_w + rehearsal.seconds[s - 1].power_w +
               rehearsal.seconds[s - 2].power_w <
           3 * 225)
        s++;
    assert_in_range(s + 1 - 60, 3, 9);
}

/* Karvonen: 60 + 0.85 (180 - 60) = 162 bpm at critical power, where the model of the rider has 85 %
 * of the reserve of the heart (from memory); on the way there with 41.5 s (Weigend et al. 2022). */
static void the_heart_goes_where_the_power_asks(void **state)
{
    (void)state;
    add(STEP_WORK, 400, 200);
    run_for(&(struct rider){
        .critical_power_w = 200, .w_prime_j = 15000, .heart_rest_bpm = 60, .heart_max_bpm = 180});
    assert_in_range(rehearsal.summary.max_heart_bpm, 161, 163);
    /* From 60 bpm: 60 + 102 (1 - exp(-41.5 / 41.5)) = 124.5, the seconds before the start not in it
     */
    assert_in_range(rehearsal.seconds[41].heart_bpm, 122, 132);
}

/* Morton 1996, Ergonomics 39:611: CP + (Pmax - CP) W'bal / W'. The built-in rider has 700 W for a
 * critical power of 200 W (from memory). */
static void who_rides(void **state)
{
    struct rider rider = {.critical_power_w = 250, .w_prime_j = 20000, .age_years = 43};
    struct virtual_rider_config config = rehearse_rider(&rider);

    (void)state;
    assert_close(virtual_power_ceiling_w(&config, 20000), 875, 1e-9);
    assert_close(virtual_power_ceiling_w(&config, 5000), 250 + 625 * 0.25, 1e-9);
    assert_close(config.heart_max_bpm, 177, 0); /* Tanaka et al. 2001: 208 - 0.7 age, cut */
    rider.heart_limit_bpm = 150;                /* is no measure of what the heart can do */
    config = rehearse_rider(&rider);
    assert_close(config.heart_max_bpm, 177, 0);
    rider = (struct rider){0};
    rehearse_complete(&rider, false);
    assert_int_equal(rider.critical_power_w, 120);
    assert_int_equal(rider.w_prime_j, 9000);
    rider = (struct rider){0};
    rehearse_complete(&rider, true);
    assert_int_equal(rider.critical_power_w, 200);
    assert_int_equal(rider.w_prime_j, 15000);
}

/* ---- what goes wrong ---- */

static void assert_trouble(enum rehearsal_trouble trouble, size_t step)
{
    assert_int_equal(rehearsal.trouble, trouble);
    assert_int_equal(rehearsal.trouble_at.step, step);
}

/* A single step asks for little of the reserve and for more than the rider's best power. */
static void a_power_out_of_reach(void **state)
{
    (void)state;
    add(STEP_REST, 30, 80);
    add(STEP_WORK, 10, 500);
    add(STEP_REST, 60, 80);
    run_for(&(struct rider){.critical_power_w = 120, .w_prime_j = 9000});
    assert_true(rehearsal.asked.left_j > 0);
    assert_true(rehearsal.trouble == REHEARSAL_MISSED || rehearsal.trouble == REHEARSAL_LEGS);
    assert_int_equal(rehearsal.trouble_at.step, 1);
}

static void a_limit_of_the_rider(void **state)
{
    (void)state;
    add(STEP_REST, 30, 80);
    add(STEP_WORK, 20, 300);
    run_for(&(struct rider){.critical_power_w = 250, .w_prime_j = 20000, .power_limit_w = 300});
    assert_trouble(REHEARSAL_LOWERED, 1);
}

static void a_heart_over_its_limit(void **state)
{
    (void)state;
    add(STEP_REST, 60, 80);
    add(STEP_WORK, 180, 240);
    run_for(&(struct rider){
        .critical_power_w = 250, .w_prime_j = 20000, .age_years = 40, .heart_limit_bpm = 140});
    assert_trouble(REHEARSAL_CUT_OFF, 1);
    assert_int_equal(rehearsal.summary.cut_off, CUT_OFF_HEART);
    assert_true(rehearsal.ridden_count < 240);
    assert_int_equal(rehearsal.second_count, 240);
}

static void too_long(void **state)
{
    (void)state;
    for (int i = 0; i < 5; i++)
        add(STEP_WORK, 1800, 100);
    assert_int_equal(
        rehearse(&plan, &(struct rider){.critical_power_w = 200, .w_prime_j = 1}, NULL, &rehearsal),
        RESULT_RANGE);
}

static void the_same_every_time(void **state)
{
    static struct rehearsal first;

    (void)state;
    add_rounds(4, 20, 300, 10, 100);
    run_for(&(struct rider){.critical_power_w = 220, .w_prime_j = 15000});
    first = rehearsal;
    run_for(&(struct rider){.critical_power_w = 220, .w_prime_j = 15000});
    assert_memory_equal(&first, &rehearsal, sizeof first);
}

/* ---- brakes that are not told watts ---- */

static void turn(uint32_t work_s, struct virtual_machine_config *machine)
{
    plan = (struct plan){.title = "Invented"};
    add(STEP_WARM_UP, 60, 100);
    add_rounds(4, work_s, 200, 30, 80);
    for (size_t i = 0; i < plan.step_count; i++)
        plan.steps[i].targets.power_w.high += 20;
    machine->takes_power = false;
    machine->power_noise = 0;
    assert_int_equal(rehearse(&plan, &(struct rider){.critical_power_w = 220, .w_prime_j = 15000},
                              machine, &rehearsal),
                     RESULT_OK);
    assert_int_equal(rehearsal.trouble, REHEARSAL_FINE);
    assert_int_equal(rehearsal.summary.end, END_DONE);
    assert_int_equal(rehearsal.turns.step_count, 8);
}

/* With each step's end the knob is to be turned, and 30 s lie between; it has a number for every
 * 4 W, so that it meets ranges of 20. */
static void a_knob_is_turned_at_every_step(void **state)
{
    struct virtual_machine_config machine = virtual_machine_default();
    (void)state;

    machine.knob_numbers = 100;
    turn(30, &machine);
    assert_int_equal(rehearsal.brake, REHEARSAL_BY_HAND);
    assert_in_range(rehearsal.turns.count, 8, 12);
    assert_in_range(rehearsal.turns.least_apart_ms, 5000, 30000);
    assert_in_range(rehearsal.turns.number_w, 4, 8);
    assert_int_equal(rehearsal.turns.short_count, 0);
    assert_true(rehearsal.summary.in_range_s * 2 > rehearsal.summary.work_s);
}

/* A second for the hand, and another for brake and legs, are more than a third of four. */
static void a_step_of_seconds_is_too_short_for_a_hand(void **state)
{
    struct virtual_machine_config machine = virtual_machine_default();
    (void)state;

    turn(4, &machine);
    assert_int_equal(rehearsal.turns.number_w, 0);
    assert_int_equal(rehearsal.turns.short_count, 4);
    assert_int_equal(rehearsal.turns.short_at.step, 1);
    assert_int_equal(rehearsal.turns.short_at.at_ms, 60000);
}

static void levels_hold_the_watts(void **state)
{
    struct virtual_machine_config machine = virtual_machine_default();
    (void)state;

    machine.takes_level = true;
    turn(30, &machine);
    assert_int_equal(rehearsal.brake, REHEARSAL_LEVELS);
    assert_int_equal(rehearsal.turns.count, 0);
    assert_int_equal(rehearsal.turns.short_count, 0);
    assert_true(rehearsal.summary.in_range_s * 5 > rehearsal.summary.work_s * 4);
}

/* ---- what is shipped ---- */

static const struct rider samples[] = {
    {.critical_power_w = 130, .w_prime_j = 9500, .mass_kg = 58, .age_years = 61},
    {.critical_power_w = 200, .w_prime_j = 15000, .mass_kg = 75, .age_years = 40},
    {.critical_power_w = 285, .w_prime_j = 21000, .mass_kg = 83, .age_years = 27},
};

static void read_shipped(const char *name, struct profile *ret)
{
    static char text[PROFILE_FILE_MAX];
    struct text_fault fault;
    char path[300];

    (void)snprintf(path, sizeof path, "profiles/%s", name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    const size_t length = fread(text, 1, sizeof text, file);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(profile_read(text, length, ret, &fault), RESULT_OK);
}

static void rehearse_shipped(const char *name)
{
    static struct profile profile;

    read_shipped(name, &profile);
    for (size_t i = 0; i < COUNT(samples); i++) {
        struct fit fit;
        assert_int_equal(rehearse_plan(&profile, &(struct fit_wish){0}, &samples[i], &fit, &plan),
                         RESULT_OK);
        run_for(&samples[i]);
        if (rehearsal.trouble != REHEARSAL_FINE)
            fail_msg("%s, rider %zu: trouble %d in step %zu at %u ms", name, i,
                     (int)rehearsal.trouble, rehearsal.trouble_at.step, rehearsal.trouble_at.at_ms);
        assert_int_equal(rehearsal.summary.end, END_DONE);
    }
}

static void every_shipped_profile_can_be_ridden(void **state)
{
    size_t count = 0;
    DIR *folder = opendir("profiles");

    (void)state;
    assert_non_null(folder);
    for (struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder))
        if (strstr(entry->d_name, ".profile") != NULL) {
            rehearse_shipped(entry->d_name);
            count++;
        }
    assert_int_equal(closedir(folder), 0);
    assert_true(count > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(the_reserve_that_a_plan_asks_for, &asked_rows[0]),
        cmocka_unit_test_prestate(the_reserve_that_a_plan_asks_for, &asked_rows[1]),
        cmocka_unit_test_prestate(the_reserve_that_a_plan_asks_for, &asked_rows[2]),
        cmocka_unit_test_setup(where_the_reserve_is_empty, set_up),
        cmocka_unit_test_setup(a_reserve_that_settles, set_up),
        cmocka_unit_test_setup(a_flat_block_is_its_work, set_up),
        cmocka_unit_test_setup(a_new_power_takes_seconds, set_up),
        cmocka_unit_test_setup(the_heart_goes_where_the_power_asks, set_up),
        cmocka_unit_test_setup(who_rides, set_up),
        cmocka_unit_test_setup(a_power_out_of_reach, set_up),
        cmocka_unit_test_setup(a_limit_of_the_rider, set_up),
        cmocka_unit_test_setup(a_heart_over_its_limit, set_up),
        cmocka_unit_test_setup(too_long, set_up),
        cmocka_unit_test_setup(the_same_every_time, set_up),
        cmocka_unit_test_setup(a_knob_is_turned_at_every_step, set_up),
        cmocka_unit_test_setup(a_step_of_seconds_is_too_short_for_a_hand, set_up),
        cmocka_unit_test_setup(levels_hold_the_watts, set_up),
        cmocka_unit_test_setup(every_shipped_profile_can_be_ridden, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
