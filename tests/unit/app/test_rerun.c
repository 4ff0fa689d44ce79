/*
 * A recorded ride run again: whole, changed, and broken off anywhere.
 */
#include "app/rerun.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "app/recorder.h"

/* The journal of one whole ride, made once. */
static struct recorder recorder;
static size_t setup_length;
static struct summary recorded;

/* ---- the ride ---- */

static struct ride ride;
static uint64_t now_ms;

static void post(struct event event)
{
    struct effects effects;

    event.t_ms = now_ms;
    recorder_event(&recorder, &event);
    ride_step(&ride, &event, &effects);
    recorder_effects(&recorder, &effects);
    for (size_t i = 0; i < effects.count; i++)
        if (effects.list[i].kind == EFFECT_SUMMARY)
            recorded = effects.list[i].summary;
}

/* A rider who wobbles between 180 and 219 W, on a bike that takes no commands. */
static void ride_quarter_second(void)
{
    const int32_t wobble = (int32_t)(now_ms / TICK_MS * 7 % 40);

    now_ms += TICK_MS;
    post((struct event){.kind = EVENT_TICK});
    if (ride.phase == PHASE_ENDED)
        return;
    post((struct event){
        .kind = EVENT_TELEMETRY,
        .telemetry = {.has = HAS_POWER | HAS_CADENCE, .power_w = 180 + wobble, .cadence_rpm = 90}});
}

static int make_journal(void **state)
{
    static struct ride_setup setup;
    struct plan *plan = &setup.plan;

    (void)state;
    setup = (struct ride_setup){.plan = {.title = "invented"}};
    plan->steps[plan->step_count++] = (struct plan_step){
        .kind = STEP_WORK, .duration_ms = 180000, .targets = {.power_w = {true, 190, 210}}};
    plan->steps[plan->step_count++] =
        (struct plan_step){.kind = STEP_COOL_DOWN, .duration_ms = 10000};
    ride_init(&ride, &setup);
    if (recorder_begin(&recorder, &setup, &(struct store_ride){.bike = "virtual"}) != RESULT_OK)
        return -1;
    setup_length = recorder.length;
    post((struct event){.kind = EVENT_LINK, .link = {LINK_MACHINE, true}});
    post((struct event){.kind = EVENT_MACHINE});
    for (int i = 0; i < 1000 && ride.phase != PHASE_ENDED; i++)
        ride_quarter_second();
    return ride.phase == PHASE_ENDED ? 0 : -1;
}

static int drop_journal(void **state)
{
    (void)state;
    recorder_free(&recorder);
    return 0;
}

/* ---- run again ---- */

static struct rerun run_again(const char *text, size_t length)
{
    struct rerun rerun;
    struct text_fault fault;
    /* A copy of its own size, so that a reader who goes too far is found. */
    char *copy = malloc(length > 0 ? length : 1);
    assert_non_null(copy);
    memcpy(copy, text, length);
    assert_int_equal(rerun_journal(copy, length, &rerun, &fault), RESULT_OK);
    free(copy);
    return rerun;
}

static void test_a_whole_ride_comes_out_the_same(void **state)
{
    (void)state;
    const struct rerun rerun = run_again(recorder.text, recorder.length);
    assert_int_equal(rerun.different_line, 0);
    assert_true(rerun.has_ended);
    assert_true(rerun.events > 1400);
    assert_int_equal(rerun.summary.end, END_DONE);
    assert_int_equal(rerun.summary.duration_ms, recorded.duration_ms);
    assert_int_equal(rerun.summary.work_j, recorded.work_j);
    /* Some 200 W for 190 s. */
    assert_true(rerun.summary.work_j > 180 * 185 && rerun.summary.work_j < 219 * 195);
}

static void expect_broken_off(size_t length, const struct rerun *rerun)
{
    if (rerun->different_line != 0)
        fail_msg("cut at %zu of %zu: line %u: '%s', not '%s'", length, recorder.length,
                 rerun->different_line, rerun->found, rerun->wanted);
    if (rerun->has_ended)
        return;
    assert_int_equal(rerun->summary.end, END_STOPPED);
    assert_int_equal(rerun->summary.reason, REASON_RECOVERED);
    assert_true(rerun->summary.work_j >= 0 && rerun->summary.work_j <= recorded.work_j);
    assert_true(rerun->summary.duration_ms <= recorded.duration_ms);
}

/* A crash leaves any number of octets: at every place of the beginning, the middle and the end. */
static void test_a_ride_that_breaks_off_anywhere(void **state)
{
    const size_t starts[] = {setup_length, recorder.length / 2, recorder.length - 700};
    (void)state;
    for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++) {
        for (size_t cut = 0; cut < 700; cut++) {
            const size_t length = starts[i] + cut;
            const struct rerun rerun = run_again(recorder.text, length);
            expect_broken_off(length, &rerun);
        }
    }
}

static void test_half_a_ride_has_half_its_work(void **state)
{
    const char *middle = strstr(recorder.text, "\n> 98250 tick\n"); /* 3 s are counted in */
    (void)state;
    assert_non_null(middle);
    const struct rerun rerun = run_again(recorder.text, (size_t)(middle + 1 - recorder.text));
    assert_false(rerun.has_ended);
    assert_int_equal(rerun.different_line, 0);
    assert_in_range(rerun.summary.duration_ms, 94000, 96000);
    assert_in_range(rerun.summary.work_j, recorded.work_j * 48 / 100, recorded.work_j * 52 / 100);
}

/* ---- changed ---- */

static uint32_t line_of(const char *at)
{
    uint32_t line = 1;
    for (const char *octet = recorder.text; octet < at; octet++)
        line += *octet == '\n';
    return line;
}

static const char *some_sample(void)
{
    const char *sample = strstr(recorder.text + recorder.length / 2, "\n< sample ");
    assert_non_null(sample);
    return sample + 1;
}

static void test_an_effect_that_was_changed(void **state)
{
    const char *sample = some_sample();
    const size_t at = (size_t)(strstr(sample, "power_w=") + 8 - recorder.text);
    (void)state;
    const char before = recorder.text[at];
    recorder.text[at] = '9';
    const struct rerun rerun = run_again(recorder.text, recorder.length);
    recorder.text[at] = before;
    assert_int_equal(rerun.different_line, line_of(sample));
    assert_non_null(strstr(rerun.wanted, "power_w=9"));
    assert_null(strstr(rerun.found, "power_w=9"));
    assert_int_equal(rerun.summary.work_j, recorded.work_j); /* the events say, not the effects */
}

static void test_an_effect_that_is_missing(void **state)
{
    const char *sample = some_sample();
    const size_t before = (size_t)(sample - recorder.text);
    const size_t line_length = strcspn(sample, "\n") + 1;
    char *text = malloc(recorder.length);
    (void)state;
    assert_non_null(text);
    memcpy(text, recorder.text, before);
    memcpy(text + before, sample + line_length, recorder.length - before - line_length);
    const struct rerun rerun = run_again(text, recorder.length - line_length);
    free(text);
    assert_int_not_equal(rerun.different_line, 0);
    assert_string_equal(rerun.wanted, "");
    assert_memory_equal(rerun.found, "< sample ", 9);
}

static void test_an_effect_too_many(void **state)
{
    static const char extra[] = "< hold hold=rider\n";
    const size_t before = (size_t)(some_sample() - recorder.text);
    char *text = malloc(recorder.length + sizeof extra);
    (void)state;
    assert_non_null(text);
    memcpy(text, recorder.text, before);
    memcpy(text + before, extra, sizeof extra - 1);
    memcpy(text + before + sizeof extra - 1, recorder.text + before, recorder.length - before);
    const struct rerun rerun = run_again(text, recorder.length + sizeof extra - 1);
    free(text);
    assert_int_equal(rerun.different_line, line_of(recorder.text + before));
    assert_string_equal(rerun.wanted, "< hold hold=rider");
}

static void test_what_is_no_journal(void **state)
{
    struct rerun rerun;
    struct text_fault fault;
    (void)state;
    for (size_t length = 0; length < setup_length - 1; length++)
        if (rerun_journal(recorder.text, length, &rerun, &fault) == RESULT_OK)
            assert_int_equal(rerun.events, 0); /* the line of the first step may end early */
    assert_int_not_equal(rerun_journal("hello\n", 6, &rerun, &fault), RESULT_OK);
    assert_int_equal(fault.line, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_whole_ride_comes_out_the_same),
        cmocka_unit_test(test_a_ride_that_breaks_off_anywhere),
        cmocka_unit_test(test_half_a_ride_has_half_its_work),
        cmocka_unit_test(test_an_effect_that_was_changed),
        cmocka_unit_test(test_an_effect_that_is_missing),
        cmocka_unit_test(test_an_effect_too_many),
        cmocka_unit_test(test_what_is_no_journal),
    };
    return cmocka_run_group_tests(tests, make_journal, drop_journal);
}
