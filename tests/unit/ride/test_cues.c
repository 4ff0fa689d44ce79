/*
 * Each cue at its time, through the real step function, millisecond by millisecond. Times are those
 * of a block: three short ones at -3, -2 and -1 s, a long one into work, a falling one out of it.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/drive.h"
#include "support/ears.h"

/* 30 s warm-up, three rounds of 60 s work and 30 s rest, 60 s cool-down; see support/drive.h. Goes
 * to that time of the block and forgets what was heard. */
static struct ears *at_block(uint32_t block_ms)
{
    static struct ears ears;
    static struct drive drive;

    drive_init(&drive);
    ears_begin(&ears, &drive.ride.setup.plan);
    while (ears.ride.block_ms + (ears.t_ms - ears.ride.t_ms) < block_ms ||
           ears.ride.phase == PHASE_COUNT_IN)
        ears_pass(&ears, 1);
    ears.count = 0;
    return &ears;
}

struct wanted {
    enum cue cue;
    int64_t after_ms; /* after a moment that the test names */
};

static void assert_heard(const struct ears *ears, uint64_t from_ms, const struct wanted *wanted,
                         size_t count)
{
    for (size_t i = 0; i < ears->count && i < count; i++) {
        assert_string_equal(cue_name(ears->heard[i].cue), cue_name(wanted[i].cue));
        assert_int_equal((int64_t)(ears->heard[i].t_ms - from_ms), wanted[i].after_ms);
    }
    assert_int_equal(ears->count, count);
}
#define ASSERT_HEARD(ears, from_ms, ...)                              \
    assert_heard(ears, from_ms, (const struct wanted[]){__VA_ARGS__}, \
                 sizeof((const struct wanted[]){__VA_ARGS__}) / sizeof(struct wanted))
#define ASSERT_SILENT(ears) assert_heard(ears, 0, NULL, 0)

/* ---- edges ---- */

static void whole_ride(void **state)
{
    static struct ears ears;
    static struct drive drive;

    (void)state;
    drive_init(&drive);
    ears_begin(&ears, &drive.ride.setup.plan);
    const uint64_t start_ms = ears.t_ms + 3000;
    ears_pass(&ears, 400000);
    assert_int_equal(ears.ride.phase, PHASE_ENDED);
    /* Nobody watches this heart: the caution waits until the long tone is over. */
    ASSERT_HEARD(&ears, start_ms, {CUE_COUNT, -3000}, {CUE_COUNT, -2000}, {CUE_COUNT, -1000},
                 {CUE_WORK, 0}, {CUE_CAUTION, 1000}, {CUE_COUNT, 27000}, {CUE_COUNT, 28000},
                 {CUE_COUNT, 29000}, {CUE_WORK, 30000}, {CUE_EASE, 90000}, {CUE_COUNT, 117000},
                 {CUE_COUNT, 118000}, {CUE_COUNT, 119000}, {CUE_WORK, 120000}, {CUE_EASE, 180000},
                 {CUE_COUNT, 207000}, {CUE_COUNT, 208000}, {CUE_COUNT, 209000}, {CUE_WORK, 210000},
                 {CUE_EASE, 270000}, {CUE_END, 360000});
}

static void count_in_broken_off(void **state)
{
    static struct ears ears;
    static struct drive drive;

    (void)state;
    drive_init(&drive);
    ears_begin(&ears, &drive.ride.setup.plan);
    const uint64_t begun_ms = ears.t_ms;
    ears_pass(&ears, 1500);
    ears_take(&ears, (struct event){.kind = EVENT_STATUS, .status = {STATUS_STOPPED}});
    ears_pass(&ears, 10000);
    assert_int_equal(ears.ride.phase, PHASE_READY);
    ASSERT_HEARD(&ears, begun_ms, {CUE_COUNT, 0}, {CUE_COUNT, 1000});
}

static void skipped(void **state)
{
    struct ears *ears = at_block(10000);

    (void)state;
    ears_press(ears, KEY_SKIP);
    ears_pass(ears, 300);
    ears_press(ears, KEY_SKIP); /* the falling one does not wait for the long one */
    ears_pass(ears, 2000);
    ASSERT_HEARD(ears, ears->t_ms - 2300, {CUE_WORK, 0}, {CUE_EASE, 300});
}

static void work_after_work_and_short_rests(void **state)
{
    static const struct {
        enum step_kind kind;
        uint32_t duration_ms;
    } steps[] = {{STEP_WORK, 10000}, {STEP_WORK, 10000},     {STEP_REST, 2000},
                 {STEP_WORK, 10000}, {STEP_REST, 1500},      {STEP_REST, 3500},
                 {STEP_WORK, 5000},  {STEP_COOL_DOWN, 20000}};
    static struct ears ears;
    struct plan plan = {.title = "test"};

    (void)state;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        plan.steps[plan.step_count++] =
            (struct plan_step){.kind = steps[i].kind, .duration_ms = steps[i].duration_ms};
    ears_begin(&ears, &plan);
    const uint64_t start_ms = ears.t_ms + 3000;
    ears_pass(&ears, 3000 + 45000);
    /* In a rest shorter than 3 s the end of work is what is heard; over two rests it counts on.
     * Such a plan cannot be commanded, and nobody watches the heart: one caution says both. */
    ASSERT_HEARD(&ears, start_ms, {CUE_COUNT, -3000}, {CUE_COUNT, -2000}, {CUE_COUNT, -1000},
                 {CUE_WORK, 0}, {CUE_CAUTION, 1000}, {CUE_COUNT, 7000}, {CUE_COUNT, 8000},
                 {CUE_COUNT, 9000}, {CUE_WORK, 10000}, {CUE_EASE, 20000}, {CUE_COUNT, 21000},
                 {CUE_WORK, 22000}, {CUE_EASE, 32000}, {CUE_COUNT, 34000}, {CUE_COUNT, 35000},
                 {CUE_COUNT, 36000}, {CUE_WORK, 37000}, {CUE_EASE, 42000});
}

/* ---- out of range ---- */

static void out_of_range(void **state)
{
    struct ears *ears = at_block(WORK_1_MS - 500);

    (void)state;
    ears->off_w = -11; /* the range ends at 10 */
    ears_pass(ears, 14500);
    ears->off_w = -10;
    ears_pass(ears, 10000);
    ears->off_w = 11;
    ears_pass(ears, 2500); /* shorter than 3 s */
    ears->off_w = 0;
    ears_pass(ears, 10000);
    /* 2 s in which the load rises, and 3 s out of range; then again every 4 s. */
    ASSERT_HEARD(ears, ears->t_ms - 36500, {CUE_WORK, 0}, {CUE_RANGE, 5000}, {CUE_RANGE, 9000},
                 {CUE_RANGE, 13000});
}

/* It waits for silence, and for a gap that it fits into. */
/* Also the turn into a rest is counted down to. The hand has 2.5 s for what was announced; a second
 * after that what is missing is heard. */
static void turned_by_hand(void **state)
{
    static struct ears ears;
    static struct drive drive;

    (void)state;
    drive_init(&drive);
    ears_begin_by_hand(&ears, &drive.ride.setup.plan);
    const uint64_t start_ms = ears.t_ms + 3000;
    ears_pass(&ears, 3000 + WORK_1_MS - 5500);
    ears.count = 0;
    ears.off_w = -50;
    ears_pass(&ears, 5500 + 60000 + 5000);
    ASSERT_HEARD(&ears, start_ms + WORK_1_MS, {CUE_COUNT, -3000}, {CUE_COUNT, -2000},
                 {CUE_COUNT, -1000}, {CUE_WORK, 0}, {CUE_KNOB_UP, 3500}, {CUE_KNOB_UP, 11500},
                 {CUE_KNOB_UP, 19500}, {CUE_KNOB_UP, 27500}, {CUE_KNOB_UP, 35500},
                 {CUE_KNOB_UP, 43500}, {CUE_KNOB_UP, 51500}, {CUE_COUNT, 57000}, {CUE_COUNT, 58000},
                 {CUE_COUNT, 59000}, {CUE_EASE, 60000});
    ears.off_w = 50;
    ears.count = 0;
    ears_pass(&ears, 12000);
    assert_true(ears.count > 0);
    assert_int_equal(ears.heard[0].cue, CUE_KNOB_DOWN);
}

static void the_mark_waits_for_a_gap(void **state)
{
    struct ears *ears = at_block(WORK_1_MS + 20000);

    (void)state;
    cues_pass_mark(&ears->cues);
    ears_pass(ears, 1000);
    assert_int_equal(ears->count, 1);
    assert_int_equal(ears->heard[0].cue, CUE_MARK);

    ears = at_block(REST_1_MS + 26500); /* 500 ms before the count of three */
    cues_pass_mark(&ears->cues);
    ears_pass(ears, 5000);
    assert_int_equal(ears->count, 5);
    assert_int_equal(ears->heard[3].cue, CUE_WORK);
    assert_int_equal(ears->heard[4].cue, CUE_MARK);

    /* At the end there is another sound, and after it none. */
    ears_press(ears, KEY_STOP);
    ears_pass(ears, 3000);
    const size_t before = ears->count;
    cues_pass_mark(&ears->cues);
    ears_pass(ears, 3000);
    assert_int_equal(ears->count, before);
}

static void out_of_range_at_rest_or_held(void **state)
{
    struct ears *ears = at_block(REST_1_MS + 1000);

    (void)state;
    ears->off_w = 60;
    ears_pass(ears, 20000);
    ASSERT_SILENT(ears);
    ears = at_block(WORK_1_MS + 10000);
    ears_press(ears, KEY_HOLD);
    ears->off_w = -60;
    ears_pass(ears, 20000);
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 6000);
    ASSERT_HEARD(ears, ears->t_ms - 26000, {CUE_HELD, 0}, {CUE_RESUMED, 20000}, {CUE_RANGE, 25000});
}

static void readings_that_end_are_not_out_of_range(void **state)
{
    struct ears *ears = at_block(WORK_1_MS + 10000);

    (void)state;
    ears->off_w = -60;
    ears_pass(ears, 500);
    for (int i = 0; i < 40; i++) {
        ears->t_ms += TICK_MS;
        ears_tell(ears, EVENT_TICK);
    }
    ASSERT_HEARD(ears, ears->t_ms - 10500, {CUE_HELD, 3750});
}

/* Rest load for as long as nobody watches the heart: legs cannot make up for that. */
static void rest_load_without_the_strap_is_not_out_of_range(void **state)
{
    const struct event beat = {.kind = EVENT_HEART, .heart = {150, CONTACT_GOOD}};
    struct ears *ears = at_block(WORK_1_MS + 10000);

    (void)state;
    ears_take(ears, beat);
    ears_pass(ears, 6000);
    assert_true(ears->ride.verdict.strap_lost);
    ears->count = 0;
    ears->off_w = -120;
    ears_pass(ears, 20000);
    ASSERT_SILENT(ears);
    for (int i = 0; i < 6; i++) {
        ears_take(ears, beat);
        ears_pass(ears, 1000);
    }
    assert_int_equal(ears->count, 1);
    assert_int_equal(ears->heard[0].cue, CUE_RANGE);
}

/* ---- hold, stop, cut-off ---- */

static void held(void **state)
{
    struct ears *ears = at_block(WORK_1_MS - 2500);

    (void)state;
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 30000);
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 4000);
    /* Counting goes on where it was; what says so hides the first. */
    ASSERT_HEARD(ears, ears->t_ms - 34000, {CUE_HELD, 0}, {CUE_RESUMED, 30000}, {CUE_COUNT, 31500},
                 {CUE_WORK, 32500});
}

static void held_and_at_once_resumed(void **state)
{
    struct ears *ears = at_block(WORK_1_MS + 10000);

    (void)state;
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 100);
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 100);
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 2000);
    /* That it went on in between is no news any more. */
    ASSERT_HEARD(ears, ears->t_ms - 2200, {CUE_HELD, 0}, {CUE_HELD, 860});
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 100);
    ears_press(ears, KEY_HOLD);
    ears_pass(ears, 2000);
    ASSERT_HEARD(ears, ears->t_ms - 4300, {CUE_HELD, 0}, {CUE_HELD, 860}, {CUE_RESUMED, 2200},
                 {CUE_HELD, 2300});
}

static void stopped(void **state)
{
    struct ears *ears = at_block(WORK_1_MS - 2500);

    (void)state;
    ears_press(ears, KEY_STOP);
    ears_pass(ears, 60000);
    ears_press(ears, KEY_STOP);
    ears_pass(ears, 1000);
    assert_int_equal(ears->ride.phase, PHASE_ENDED);
    ASSERT_HEARD(ears, ears->t_ms - 61000, {CUE_END, 0});
}

static void left(void **state)
{
    struct ears *ears = at_block(WORK_1_MS + 5000);

    (void)state;
    ears_press(ears, KEY_LEAVE);
    ears_pass(ears, 10000);
    assert_int_equal(ears->ride.phase, PHASE_ENDED);
    ASSERT_SILENT(ears);
}

static void cut_off(void **state)
{
    struct ears *ears = at_block(WORK_1_MS - 1);

    (void)state;
    ears_pass(ears, 101);
    ears_take(ears, (struct event){.kind = EVENT_STORE, .store = {true}});
    ears_take(ears, (struct event){.kind = EVENT_STATUS, .status = {STATUS_SAFETY_KEY}});
    ears_pass(ears, 60000);
    assert_int_equal(ears->ride.end, END_CUT_OFF);
    /* In the middle of the long tone; nothing else is to be heard after it. */
    ASSERT_HEARD(ears, ears->t_ms - 60100, {CUE_WORK, 0}, {CUE_CUT_OFF, 100});
}

static void nothing_before_the_start(void **state)
{
    static struct ears ears;
    static struct drive drive;

    (void)state;
    drive_init(&drive);
    ears_begin(&ears, &drive.ride.setup.plan);
    ears.count = 0;
    ears_press(&ears, KEY_STOP);
    ears_pass(&ears, 10000);
    assert_int_equal(ears.ride.phase, PHASE_ENDED);
    ASSERT_SILENT(&ears);
}

static void shifted(void **state)
{
    struct ears *ears = at_block(WORK_1_MS + 5000);

    (void)state;
    ears_press(ears, KEY_MORE);
    ears_press(ears, KEY_LESS);
    ears_pass(ears, 5000);
    ASSERT_SILENT(ears);
}

/* A fifth less: 152..168 W of 190..210 W. */
static void a_shift_moves_the_range(void **state)
{
    struct ears *ears = at_block(WORK_1_MS + 5000);

    (void)state;
    for (int i = 0; i < 10; i++)
        ears_press(ears, KEY_LESS);
    ears->off_w = -40;
    ears_pass(ears, 10000);
    ASSERT_SILENT(ears);
    ears->off_w = -20;
    ears_pass(ears, 5000);
    assert_int_equal(ears->heard[0].cue, CUE_RANGE);
}

/* ---- cautions ---- */

/* Saving fails at that time of the block; from when it is to be heard. */
static struct waiting {
    uint32_t at_ms;
    uint32_t heard_ms;
} waiting[] = {
    {WORK_1_MS + 10000, WORK_1_MS + 10000}, /* nothing else is near */
    {WORK_1_MS - 4500, WORK_1_MS - 4500},   /* it has an end before the first short tone */
    {WORK_1_MS - 4000, WORK_1_MS + 1000},   /* it has none: after the long one */
    {WORK_1_MS - 500, WORK_1_MS + 1000},    {REST_1_MS - 1000, REST_1_MS + 800},
};

static void caution_waits_for_a_gap(void **state)
{
    const struct waiting *row = *state;
    struct ears *ears = at_block(row->at_ms);
    const uint64_t began_ms = ears->t_ms - row->at_ms;

    ears_take(ears, (struct event){.kind = EVENT_STORE, .store = {true}});
    ears_pass(ears, 10000);
    for (size_t i = 0; i < ears->count; i++)
        if (ears->heard[i].cue == CUE_CAUTION) {
            assert_int_equal(ears->heard[i].t_ms - began_ms, row->heard_ms);
            return;
        }
    fail_msg("the caution was not heard");
}

/* ---- a program that comes late ---- */

static void late(void **state)
{
    struct ears *ears = at_block(WORK_1_MS - 3500);

    (void)state;
    ears->is_stuck = true; /* over two of the three short tones */
    ears_pass(ears, 1900);
    ears->is_stuck = false;
    ears_pass(ears, 4000);
    ASSERT_HEARD(ears, ears->t_ms - 5900, {CUE_COUNT, 2500}, {CUE_WORK, 3500});
}

static void clock_jumped(void **state)
{
    struct ears *ears = at_block(WORK_1_MS - 3500);

    (void)state;
    ears->is_stuck = true;
    ears_pass(ears, 60000);
    ears->is_stuck = false;
    ears_pass(ears, 10000);
    assert_int_equal(ears->ride.hold, HOLD_CLOCK_JUMP);
    assert_int_equal(ears->count, 1);
    assert_int_equal(ears->heard[0].cue, CUE_HELD);
}

int main(void)
{
    struct CMUnitTest tests[64] = {
        cmocka_unit_test(whole_ride),
        cmocka_unit_test(count_in_broken_off),
        cmocka_unit_test(skipped),
        cmocka_unit_test(work_after_work_and_short_rests),
        cmocka_unit_test(out_of_range),
        cmocka_unit_test(turned_by_hand),
        cmocka_unit_test(the_mark_waits_for_a_gap),
        cmocka_unit_test(out_of_range_at_rest_or_held),
        cmocka_unit_test(readings_that_end_are_not_out_of_range),
        cmocka_unit_test(rest_load_without_the_strap_is_not_out_of_range),
        cmocka_unit_test(held),
        cmocka_unit_test(held_and_at_once_resumed),
        cmocka_unit_test(stopped),
        cmocka_unit_test(left),
        cmocka_unit_test(cut_off),
        cmocka_unit_test(nothing_before_the_start),
        cmocka_unit_test(shifted),
        cmocka_unit_test(a_shift_moves_the_range),
        cmocka_unit_test(late),
        cmocka_unit_test(clock_jumped),
    };
    size_t count = 0;

    while (tests[count].name != NULL)
        count++;
    for (size_t i = 0; i < sizeof waiting / sizeof waiting[0]; i++)
        tests[count++] = (struct CMUnitTest){"caution_waits_for_a_gap", caution_waits_for_a_gap,
                                             NULL, NULL, &waiting[i]};
    return _cmocka_run_group_tests("cues", tests, count, NULL, NULL);
}
