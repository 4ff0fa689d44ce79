/* The fall of the heart rate in the minute after the work: counted from its end, whatever ends it.
 */
#include "ride/recovery.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

/* Every quarter of a second to `to_ms`, the heart falling from 170 by a beat every two seconds. */
static void pass(struct recovery *recovery, uint64_t *t_ms, uint64_t to_ms, bool in_work)
{
    for (; *t_ms <= to_ms; *t_ms += 250)
        recovery_step(recovery, *t_ms, in_work, in_work ? 170 : (int32_t)(170 - *t_ms / 2000));
}

static void a_minute_after_the_work(void **state)
{
    struct recovery recovery = {0};
    uint64_t t_ms = 0;

    (void)state;
    recovery_step(&recovery, t_ms, true, 170);
    pass(&recovery, &t_ms, 59750, false);
    assert_int_equal(recovery.fall_bpm, 0);
    assert_int_equal(recovery_left_ms(&recovery, 59750), 250);
    pass(&recovery, &t_ms, 60000, false);
    assert_int_equal(recovery.fall_bpm, 30);
    assert_int_equal(recovery_left_ms(&recovery, 60000), 0);
    pass(&recovery, &t_ms, 120000, false);
    assert_int_equal(recovery.fall_bpm, 30);
}

static void work_that_begins_again_ends_the_count(void **state)
{
    struct recovery recovery = {0};
    uint64_t t_ms = 0;

    (void)state;
    pass(&recovery, &t_ms, 20000, true);
    pass(&recovery, &t_ms, 30000, false);
    pass(&recovery, &t_ms, 50000, true);
    assert_int_equal(recovery_left_ms(&recovery, 50000), 0);
    pass(&recovery, &t_ms, 100000, false);
    assert_int_equal(recovery.fall_bpm, 0);
    pass(&recovery, &t_ms, 110250, false);
    assert_int_equal(recovery.fall_bpm, 30); /* 145 at 50.25 s, 115 at 110.25 s */
}

static void nothing_without_work(void **state)
{
    struct recovery recovery = {0};
    uint64_t t_ms = 0;

    (void)state;
    pass(&recovery, &t_ms, 200000, false);
    assert_int_equal(recovery.fall_bpm, 0);
    assert_int_equal(recovery_left_ms(&recovery, 0), 0);
}

struct row {
    const char *name;
    int32_t before_bpm, after_bpm;
    uint64_t after_ms;
    int32_t fall_bpm;
};

static struct row rows[] = {
    {"falls", 170, 140, 60000, 30},
    {"rises", 150, 158, 60100, -8},
    {"no heart rate when the work ends", 0, 140, 60000, 0},
    {"none when the minute ends", 170, 0, 60000, 0},
    {"the computer slept past the minute", 170, 120, 90000, 0},
};

static void test_row(void **state)
{
    const struct row *row = *state;
    struct recovery recovery = {0};

    recovery_step(&recovery, 0, true, row->before_bpm);
    recovery_step(&recovery, 1000, false, row->before_bpm);
    recovery_step(&recovery, 30000, false, 0); /* a gap in between does no harm */
    recovery_step(&recovery, 1000 + row->after_ms, false, row->after_bpm);
    assert_int_equal(recovery.fall_bpm, row->fall_bpm);
    /* and it does not change any more */
    recovery_step(&recovery, 1000 + row->after_ms + 250, false, 100);
    assert_int_equal(recovery.fall_bpm, row->fall_bpm);
}

int main(void)
{
    enum { ROWS = sizeof rows / sizeof rows[0] };
    const struct CMUnitTest plain[] = {
        cmocka_unit_test(a_minute_after_the_work),
        cmocka_unit_test(work_that_begins_again_ends_the_count),
        cmocka_unit_test(nothing_without_work),
    };
    struct CMUnitTest each[ROWS] = {{0}};
    for (size_t i = 0; i < ROWS; i++)
        each[i] = (struct CMUnitTest){
            .name = rows[i].name, .test_func = test_row, .initial_state = &rows[i]};
    const int failed = cmocka_run_group_tests_name("recovery", plain, NULL, NULL);
    return failed + cmocka_run_group_tests_name("recovery: rows", each, NULL, NULL);
}
