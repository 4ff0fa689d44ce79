#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "body/progress.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Common practice, as the header says; the rise itself is that of Ratamess et al. 2009, MSSE
 * 41:687: 250 W by 2 to 10 % is 255 to 275 W. */
#define BLOCK(done, range, said, how_hard)                                              \
    {                                                                                   \
        .is_done = (done), .has_in_range = true, .in_range_pct = (range), .asked = 250, \
        .length_s = 240, .has_effort = (said), .effort = (how_hard)                     \
    }
#define FULL   BLOCK(true, 85, false, 0)
#define PARTLY BLOCK(true, 50, false, 0)
#define MISSED BLOCK(true, 30, false, 0)
#define BROKEN BLOCK(false, 100, false, 0)
#define UNMEASURED                                                                            \
    {                                                                                         \
        .is_done = true, .unjudged = PROGRESS_UNMEASURED, .has_in_range = true, .asked = 250, \
        .length_s = 240                                                                       \
    }
#define FELT(how_hard) BLOCK(true, 85, true, how_hard)

static const struct progress_room room = {.asked_max = 400, .round_s = 30, .length_max_s = 420};

static void what_counts_as_full(void **state)
{
    (void)state;
    static const struct {
        struct progress_block block;
        enum progress_outcome outcome;
    } rows[] = {
        {BLOCK(true, 100, false, 0), PROGRESS_FULL},
        {BLOCK(true, 60, false, 0), PROGRESS_FULL},
        {BLOCK(true, 59, false, 0), PROGRESS_PARTLY},
        {BLOCK(true, 40, false, 0), PROGRESS_PARTLY},
        {BLOCK(true, 39, false, 0), PROGRESS_MISSED},
        {BLOCK(false, 100, false, 0), PROGRESS_MISSED},
        {{.is_done = true}, PROGRESS_FULL},
        {UNMEASURED, PROGRESS_PARTLY},
        {{.unjudged = PROGRESS_UNMEASURED}, PROGRESS_MISSED},
        {{.is_done = false}, PROGRESS_MISSED},
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_int_equal(progress_outcome(&rows[i].block), rows[i].outcome);
}

static void two_blocks_decide(void **state)
{
    (void)state;
    static const struct {
        size_t count;
        struct progress_block blocks[3];
        struct progress next;
    } rows[] = {
        {0, {FULL}, {PROGRESS_AS_WRITTEN, PROGRESS_NO_BLOCKS, 0, 0, 0}},
        {1, {FULL}, {PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 250, 240}},
        {1, {MISSED}, {PROGRESS_REPEAT, PROGRESS_ONE_MISSED, 0, 250, 240}},
        {2, {FULL, FULL}, {PROGRESS_RAISE, PROGRESS_TWO_FULL, 3, 258, 240}},
        {3, {MISSED, FULL, FULL}, {PROGRESS_RAISE, PROGRESS_TWO_FULL, 3, 258, 240}},
        {3, {FULL, FULL, MISSED}, {PROGRESS_REPEAT, PROGRESS_ONE_MISSED, 0, 250, 240}},
        {2, {MISSED, FULL}, {PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 250, 240}},
        {2, {PARTLY, FULL}, {PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 250, 240}},
        {2, {FULL, PARTLY}, {PROGRESS_REPEAT, PROGRESS_NOT_FULL, 0, 250, 240}},
        {2, {PARTLY, PARTLY}, {PROGRESS_REPEAT, PROGRESS_NOT_FULL, 0, 250, 240}},
        {2, {MISSED, MISSED}, {PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED, -5, 238, 240}},
        {2, {BROKEN, MISSED}, {PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED, -5, 238, 240}},
        {2, {MISSED, UNMEASURED}, {PROGRESS_REPEAT, PROGRESS_UNMEASURED, 0, 250, 240}},
        {2, {UNMEASURED, UNMEASURED}, {PROGRESS_REPEAT, PROGRESS_UNMEASURED, 0, 250, 240}},
        {2, {UNMEASURED, FULL}, {PROGRESS_REPEAT, PROGRESS_FIRST_FULL, 0, 250, 240}},
        {2, {MISSED, PARTLY}, {PROGRESS_REPEAT, PROGRESS_NOT_FULL, 0, 250, 240}},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct progress next = progress_next(rows[i].blocks, rows[i].count, &room);
        assert_int_equal(next.ask, rows[i].next.ask);
        assert_int_equal(next.reason, rows[i].next.reason);
        assert_int_equal(next.change_pct, rows[i].next.change_pct);
        assert_int_equal(next.asked, rows[i].next.asked);
        assert_int_equal(next.length_s, rows[i].next.length_s);
    }
}

static void the_rise_goes_by_the_harder_effort(void **state)
{
    (void)state;
    static const struct {
        struct progress_block blocks[2];
        int32_t change_pct;
        uint32_t asked;
    } rows[] = {
        {{FELT(3), FELT(6)}, 5, 263}, {{FELT(7), FELT(6)}, 3, 258}, {{FELT(6), FELT(8)}, 3, 258},
        {{FELT(9), FELT(6)}, 2, 255}, {{FELT(6), FULL}, 3, 258},    {{FULL, FELT(9)}, 2, 255},
        {{FELT(10), FULL}, 2, 255},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct progress next = progress_next(rows[i].blocks, 2, &room);
        assert_int_equal(next.ask, PROGRESS_RAISE);
        assert_int_equal(next.change_pct, rows[i].change_pct);
        assert_int_equal(next.asked, rows[i].asked);
    }
}

/* Full at 250 W, raised to 258 W, full: that is the first one there. */
static void a_raise_starts_the_count_anew(void **state)
{
    (void)state;
    struct progress_block blocks[2] = {FULL, FULL};
    blocks[1].asked = 258;
    assert_int_equal(progress_next(blocks, 2, &room).reason, PROGRESS_FIRST_FULL);
    blocks[1].asked = 252; /* within a hundredth */
    assert_int_equal(progress_next(blocks, 2, &room).reason, PROGRESS_TWO_FULL);
    blocks[1].length_s = 270;
    assert_int_equal(progress_next(blocks, 2, &room).reason, PROGRESS_FIRST_FULL);
}

static struct progress_block warned(struct progress_block block)
{
    block.has_warned = true;
    return block;
}

static struct progress_block eased(struct progress_block block)
{
    block.is_eased = true;
    return block;
}

static struct progress_block cut_off(void)
{
    return (struct progress_block){.is_cut_off = true,
                                   .has_in_range = true,
                                   .in_range_pct = 90,
                                   .asked = 250,
                                   .length_s = 240};
}

static struct progress_block overruled(struct progress_block block)
{
    block.proposed = 258;
    return block;
}

/* Only the last is left to say why; whatever stands before it. */
static void what_keeps_it_from_going_up(void **state)
{
    (void)state;
    const struct progress_block full = FULL, partly = PARTLY, missed = MISSED;
    struct progress_block chosen_length = FULL;
    chosen_length.proposed_length_s = 270;
    const struct {
        struct progress_block before, last;
        enum progress_ask ask;
        enum progress_reason reason;
    } rows[] = {
        {full, warned(full), PROGRESS_REPEAT, PROGRESS_HAS_WARNED},
        {warned(full), full, PROGRESS_REPEAT, PROGRESS_FIRST_FULL},
        {full, warned(partly), PROGRESS_REPEAT, PROGRESS_HAS_WARNED},
        {full, warned(missed), PROGRESS_REPEAT, PROGRESS_HAS_WARNED},
        {missed, warned(missed), PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED},
        {full, cut_off(), PROGRESS_REPEAT, PROGRESS_WAS_CUT_OFF},
        {cut_off(), full, PROGRESS_REPEAT, PROGRESS_FIRST_FULL},
        {missed, cut_off(), PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED},
        {full, eased(full), PROGRESS_REPEAT, PROGRESS_WAS_EASED},
        {eased(full), full, PROGRESS_REPEAT, PROGRESS_FIRST_FULL},
        {eased(full), eased(full), PROGRESS_REPEAT, PROGRESS_WAS_EASED},
        {full, overruled(full), PROGRESS_REPEAT, PROGRESS_FIRST_FULL},
        {overruled(full), full, PROGRESS_RAISE, PROGRESS_TWO_FULL},
        {full, chosen_length, PROGRESS_REPEAT, PROGRESS_FIRST_FULL},
        {missed, overruled(missed), PROGRESS_STEP_BACK, PROGRESS_TWO_MISSED},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct progress_block blocks[] = {rows[i].before, rows[i].last};
        const struct progress next = progress_next(blocks, 2, &room);
        assert_int_equal(next.ask, rows[i].ask);
        assert_int_equal(next.reason, rows[i].reason);
    }
    assert_int_equal(progress_next(&rows[0].last, 1, &room).reason, PROGRESS_HAS_WARNED);
}

static void longer_where_it_cannot_be_harder(void **state)
{
    (void)state;
    const struct progress_block full[2] = {FULL, FULL};
    struct progress_block unasked[2] = {FULL, FULL};
    struct progress_room narrow = room;
    narrow.asked_max = 257;
    struct progress next = progress_next(full, 2, &narrow);
    assert_int_equal(next.ask, PROGRESS_LENGTHEN);
    assert_int_equal(next.length_s, 270);
    assert_int_equal(next.asked, 250);
    assert_int_equal(next.change_pct, 0);

    unasked[0].asked = unasked[1].asked = 0;
    assert_int_equal(progress_next(unasked, 2, &room).ask, PROGRESS_LENGTHEN);

    narrow.length_max_s = 269;
    next = progress_next(full, 2, &narrow);
    assert_int_equal(next.ask, PROGRESS_REPEAT);
    assert_int_equal(next.reason, PROGRESS_TWO_FULL_NO_ROOM);
    narrow = (struct progress_room){0}; /* nothing known of the profile: the target has no limit */
    assert_int_equal(progress_next(full, 2, &narrow).ask, PROGRESS_RAISE);
    assert_int_equal(progress_next(unasked, 2, &narrow).reason, PROGRESS_TWO_FULL_NO_ROOM);
}

/* 3 % of 250 W are 8 W. */
static void no_rise_below_a_step_of_the_brake(void **state)
{
    (void)state;
    static const struct {
        uint32_t step, length_max_s;
        bool is_by_legs;
        struct progress next;
    } rows[] = {
        {8, 420, true, {PROGRESS_RAISE, PROGRESS_TWO_FULL, 3, 258, 240}},
        {9, 420, true, {PROGRESS_LENGTHEN, PROGRESS_TWO_FULL_COARSE, 0, 250, 270}},
        {9, 240, true, {PROGRESS_RAISE, PROGRESS_TWO_FULL_BY_LEGS, 3, 258, 240}},
        {9, 240, false, {PROGRESS_REPEAT, PROGRESS_TWO_FULL_COARSE, 0, 250, 240}},
    };
    const struct progress_block full[2] = {FULL, FULL};

    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct progress_room coarse = {.step = rows[i].step,
                                             .is_by_legs = rows[i].is_by_legs,
                                             .round_s = 30,
                                             .length_max_s = rows[i].length_max_s};
        const struct progress next = progress_next(full, 2, &coarse);
        assert_int_equal(next.ask, rows[i].next.ask);
        assert_int_equal(next.reason, rows[i].next.reason);
        assert_int_equal(next.change_pct, rows[i].next.change_pct);
        assert_int_equal(next.asked, rows[i].next.asked);
        assert_int_equal(next.length_s, rows[i].next.length_s);
    }
    /* What may not rise at all is not for want of a step. */
    const struct progress_room narrow = {.asked_max = 257, .step = 9, .is_by_legs = true};
    assert_int_equal(progress_next(full, 2, &narrow).reason, PROGRESS_TWO_FULL_NO_ROOM);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_counts_as_full),
        cmocka_unit_test(two_blocks_decide),
        cmocka_unit_test(the_rise_goes_by_the_harder_effort),
        cmocka_unit_test(a_raise_starts_the_count_anew),
        cmocka_unit_test(what_keeps_it_from_going_up),
        cmocka_unit_test(longer_where_it_cannot_be_harder),
        cmocka_unit_test(no_rise_below_a_step_of_the_brake),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
