/*
 * Chance plans ridden by chance riders: what must hold of the cues of every ride.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "io/virtual_random.h"
#include "support/ears.h"

#define RIDES 400

static struct ears ears;
static struct virtual_random chance;

static uint32_t below(uint32_t limit)
{
    return (uint32_t)(virtual_random_next(&chance) % limit);
}

static struct plan chance_plan(void)
{
    struct plan plan = {.title = "chance"};

    plan.step_count = 2 + below(12);
    /* The first has room for the caution that nobody watches the heart. */
    for (size_t i = 0; i < plan.step_count; i++) {
        const int32_t power_w = 60 + (int32_t)below(150);
        plan.steps[i] = (struct plan_step){
            .kind = (enum step_kind)below(STEP_FLOOR), /* of those on the bike */
            .duration_ms = (i == 0 ? 6000 : 0) + 1000 * (1 + below(below(2) == 0 ? 5 : 30)),
            .targets.power_w = {true, power_w - 10, power_w + 10},
        };
    }
    return plan;
}

/* ---- undisturbed ---- */

static unsigned heard_in(enum cue cue, uint64_t after_ms, uint64_t to_ms)
{
    unsigned count = 0;

    for (size_t i = 0; i < ears.count; i++)
        count += ears.heard[i].cue == cue && ears.heard[i].t_ms > after_ms &&
                 ears.heard[i].t_ms <= to_ms;
    return count;
}

/* The edges are known from the plan alone. Before work there must be 4 s in which nothing else is
 * to be said: the falling tone, or the long one. */
static unsigned check_work_steps(const struct plan *plan, uint64_t start_ms)
{
    uint64_t edge_ms = start_ms, said_ms = start_ms;
    unsigned checked = 0;

    for (size_t i = 0; i < plan->step_count; i++) {
        const bool is_work = plan->steps[i].kind == STEP_WORK;
        const bool was_work = i > 0 && plan->steps[i - 1].kind == STEP_WORK;

        if (is_work || i == 0)
            assert_int_equal(heard_in(CUE_WORK, edge_ms - 1, edge_ms), 1);
        else
            assert_int_equal(heard_in(CUE_EASE, edge_ms - 1, edge_ms), was_work);
        if (is_work && i > 0 && edge_ms - said_ms >= 4000) {
            assert_int_equal(heard_in(CUE_COUNT, edge_ms - 3001, edge_ms), 3);
            assert_int_equal(heard_in(CUE_COUNT, edge_ms - 3001, edge_ms - 3000), 1);
            assert_int_equal(heard_in(CUE_COUNT, edge_ms - 2001, edge_ms - 2000), 1);
            assert_int_equal(heard_in(CUE_COUNT, edge_ms - 1001, edge_ms - 1000), 1);
            checked++;
        }
        if (is_work || was_work)
            said_ms = edge_ms;
        edge_ms += plan->steps[i].duration_ms;
    }
    return checked;
}

static void each_work_step_is_counted_down_to(void **state)
{
    unsigned checked = 0;

    (void)state;
    chance.state = 20260201;
    for (int i = 0; i < RIDES; i++) {
        const struct plan plan = chance_plan();

        ears_begin(&ears, &plan);
        const uint64_t start_ms = ears.t_ms + 3000;
        ears_pass(&ears, 3000 + plan_duration_ms(&plan) + 3000);
        checked += check_work_steps(&plan, start_ms);
        assert_int_equal(heard_in(CUE_END, 0, UINT64_MAX), 1);
        for (size_t k = 1; k < ears.count; k++)
            assert_true(ears.heard[k].t_ms >=
                        ears.heard[k - 1].t_ms + cue_length_ms(ears.heard[k - 1].cue));
    }
    print_message("%u work steps\n", checked);
    assert_true(checked > RIDES / 2);
}

/* ---- disturbed ---- */

static uint64_t caution_ms; /* given and not yet heard; 0 none */

static void disturb(void)
{
    switch (below(8)) {
    case 0: ears_press(&ears, KEY_SKIP); break;
    case 1:
    case 2: ears_press(&ears, KEY_HOLD); break;
    case 3: ears.off_w = below(2) == 0 ? 0 : 50; break;
    case 4: ears_press(&ears, KEY_MORE); break;
    case 5:
        ears.is_stuck = true;
        ears_pass(&ears, below(3000));
        ears.is_stuck = false;
        break;
    case 6:
        if (ears.ride.phase == PHASE_RIDING && below(20) == 0)
            ears_take(&ears, (struct event){.kind = EVENT_STATUS, .status = {STATUS_SAFETY_KEY}});
        break;
    default: {
        const uint64_t given_ms = ears.ride.caution_t_ms[CAUTION_NOT_SAVED];
        ears_take(&ears, (struct event){.kind = EVENT_STORE, .store = {true}});
        if (ears.ride.caution_t_ms[CAUTION_NOT_SAVED] != given_ms && caution_ms == 0)
            caution_ms = ears.t_ms;
    }
    }
}

static bool may_cut(enum cue cue, enum cue other)
{
    switch (cue) {
    case CUE_RANGE:
    case CUE_KNOB_UP:
    case CUE_KNOB_DOWN:
    case CUE_MARK: return false;
    case CUE_COUNT: return other <= CUE_COUNT; /* a skipped step begins another count */
    case CUE_RESUMED: return other < CUE_RESUMED;
    case CUE_EASE:
    case CUE_WORK: return other <= CUE_WORK;
    case CUE_HELD: return other < CUE_HELD;
    case CUE_END: return other < CUE_END;
    case CUE_CAUTION: return other < CUE_CAUTION;
    case CUE_CUT_OFF: return true;
    case CUE_BEAT: /* none of these rides has a floor */
    case CUE_LOWER:
    case CUE_LIFT:
    case CUE_NONE:
    case CUE_KIND_COUNT: break;
    }
    return false;
}

static unsigned check_disturbed(void)
{
    unsigned cuts = 0;

    for (size_t i = 1; i < ears.count; i++) {
        const struct heard *before = &ears.heard[i - 1], *heard = &ears.heard[i];
        if (heard->t_ms >= before->t_ms + cue_length_ms(before->cue))
            continue;
        cuts++;
        if (!may_cut(heard->cue, before->cue))
            fail_msg("%s cut off %s", cue_name(heard->cue), cue_name(before->cue));
    }
    return cuts;
}

/* A caution is heard within 5 s, and the one before it, unless the ride was cut off meanwhile. */
static void check_caution(void)
{
    if (caution_ms == 0)
        return;
    if (heard_in(CUE_CAUTION, caution_ms - 1, ears.t_ms) > 0 ||
        heard_in(CUE_CUT_OFF, 0, ears.t_ms) > 0)
        caution_ms = 0;
    else
        assert_true(ears.t_ms - caution_ms <= 5000 + cue_length_ms(CUE_CAUTION) + 3000);
}

static void no_two_at_once(void **state)
{
    unsigned cuts = 0;

    (void)state;
    chance.state = 20260202;
    for (int i = 0; i < RIDES; i++) {
        const struct plan plan = chance_plan();

        if (i % 3 == 0)
            ears_begin_by_hand(&ears, &plan);
        else
            ears_begin(&ears, &plan);
        caution_ms = 0;
        for (int k = 0; k < 60; k++) {
            ears_pass(&ears, 1 + below(3000));
            check_caution();
            disturb();
            if (below(10) == 0)
                cues_pass_mark(&ears.cues);
        }
        cuts += check_disturbed();
    }
    print_message("%u cut off by what was more important\n", cuts);
    assert_true(cuts > 50);
}

/* ---- told apart ---- */

static void every_score_is_fit_to_play(void **state)
{
    (void)state;
    for (enum cue cue = CUE_NONE + 1; cue < CUE_KIND_COUNT; cue++) {
        const struct cue_score *score = cue_score(cue);
        uint32_t free_ms = 0;

        assert_true(score->count > 0 && score->count <= CUE_NOTES_MAX);
        assert_int_equal(score->notes[0].at_ms, 0);
        for (size_t i = 0; i < score->count; i++) {
            const struct cue_note *note = &score->notes[i];
            assert_true(note->at_ms >= free_ms);
            assert_true(note->length_ms >= 100);
            /* IEC 60601-1-8: 150 to 1000 Hz */
            assert_in_range(note->from_hz, 150, 1000);
            assert_in_range(note->to_hz, 150, 1000);
            free_ms = (uint32_t)note->at_ms + note->length_ms;
        }
        assert_int_equal(cue_length_ms(cue), free_ms);
    }
    /* A step has 1 s at least, and what sounds at one edge must be over at the next. */
    assert_true(cue_length_ms(CUE_WORK) < 1000 && cue_length_ms(CUE_EASE) < 1000);
    assert_int_equal(cue_score(CUE_NONE)->count, 0);
    assert_int_equal(cue_length_ms(CUE_NONE), 0);
}

static bool differs(uint32_t a, uint32_t b, uint32_t per_cent)
{
    return (a > b ? a - b : b - a) * 100 >= per_cent * (a < b ? a : b);
}

/* By the ear: the number of notes, or when one of them begins or how long it is. */
static bool has_other_rhythm(const struct cue_score *a, const struct cue_score *b)
{
    if (a->count != b->count)
        return true;
    for (size_t i = 0; i < a->count; i++)
        if (differs(a->notes[i].length_ms, b->notes[i].length_ms, 15) ||
            differs(a->notes[i].at_ms, b->notes[i].at_ms, 15))
            return true;
    return false;
}

/* A semitone is 6 %; here a whole tone at least, somewhere, or a glide. */
static bool has_other_pitch(const struct cue_score *a, const struct cue_score *b)
{
    for (size_t i = 0; i < a->count && i < b->count; i++)
        if (differs(a->notes[i].from_hz, b->notes[i].from_hz, 12) ||
            differs(a->notes[i].to_hz, b->notes[i].to_hz, 12))
            return true;
    return false;
}

static void each_differs_in_pitch_and_in_rhythm(void **state)
{
    (void)state;
    for (enum cue a = CUE_NONE + 1; a < CUE_KIND_COUNT; a++)
        for (enum cue b = a + 1; b < CUE_KIND_COUNT; b++)
            if (!has_other_rhythm(cue_score(a), cue_score(b)) ||
                !has_other_pitch(cue_score(a), cue_score(b)))
                fail_msg("%s sounds like %s", cue_name(a), cue_name(b));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_work_step_is_counted_down_to),
        cmocka_unit_test(no_two_at_once),
        cmocka_unit_test(every_score_is_fit_to_play),
        cmocka_unit_test(each_differs_in_pitch_and_in_rhythm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
