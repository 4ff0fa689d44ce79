/* The control procedures by themselves: what a whole ride never comes to, since safety asks for no
 * such load, or does not notice, since its answers come at once. */
#include "ride/control.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "ride/effect.h"

static const struct load released = {LOAD_RELEASED, 0};
static struct limits limits;

static struct load watts(int32_t power_w)
{
    return (struct load){LOAD_POWER, power_w};
}

static struct effects step(struct control *control, uint64_t t_ms, struct load allowed)
{
    static struct effects effects;

    effects = (struct effects){0};
    control_step(control, &limits, t_ms, allowed, &effects);
    return effects;
}

static void assert_says(const struct effects *effects, size_t at, enum machine_command command,
                        struct load load, bool now)
{
    assert_true(at < effects->count);
    const struct effect *effect = &effects->list[at];

    assert_int_equal(effect->kind, EFFECT_COMMAND);
    assert_int_equal(effect->command.command, command);
    assert_int_equal(effect->command.load.kind, load.kind);
    assert_int_equal(effect->command.load.value, load.value);
    assert_int_equal(effect->command.now, now);
}

static void assert_says_alone(struct effects effects, enum machine_command command,
                              struct load load, bool now)
{
    assert_int_equal(effects.count, 1);
    assert_says(&effects, 0, command, load, now);
}

static void assert_says_nothing(struct effects effects)
{
    assert_int_equal(effects.count, 0);
}

/* In control and started, `power_w` on the brake, all of it answered. */
static struct control loaded(int32_t power_w)
{
    return (struct control){.state = CONTROL_HELD,
                            .is_used = true,
                            .asked = 1,
                            .sent = watts(power_w),
                            .accepted = watts(power_w),
                            .has_sent = true,
                            .is_loaded = true};
}

static void control_is_asked_for_once_and_waits_its_turn(void **state)
{
    struct control control = {.is_used = true};

    (void)state;
    assert_says_alone(step(&control, 0, released), COMMAND_REQUEST_CONTROL, released, false);
    assert_says_nothing(step(&control, 250, released));
    assert_says_alone(step(&control, limits.answer_ms, released), COMMAND_REQUEST_CONTROL, released,
                      true);
    assert_says_nothing(step(&control, limits.answer_ms + 250, released));
    assert_int_equal(control.asked, 1);
}

static void control_is_not_asked_for_after_a_fault_or_the_end(void **state)
{
    struct control faulty = {.is_used = true, .fault = CONTROL_REFUSED};
    struct control over = {.is_used = true, .is_over = true};

    (void)state;
    assert_says_nothing(step(&faulty, 0, released));
    assert_says_nothing(step(&over, 0, released));
}

static void control_is_asked_for_once_to_let_go_of_what_a_lost_link_left(void **state)
{
    struct control left = {.is_used = true, .is_over = true, .left_loaded = true};

    (void)state;
    assert_says_alone(step(&left, 0, released), COMMAND_REQUEST_CONTROL, released, false);
    control_ask_again(&left);
    assert_says_alone(step(&left, 250, released), COMMAND_LOAD, released, true);
    assert_int_equal(left.asked, 1);
}

static void what_a_lost_link_left_waits_for_control_and_not_for_ever(void **state)
{
    struct control goes_on = {.is_used = true, .left_loaded = true};
    struct control over = {.is_used = true, .left_loaded = true, .is_over = true};

    (void)state;
    assert_says_alone(step(&goes_on, 0, released), COMMAND_REQUEST_CONTROL, released, false);
    assert_says_nothing(step(&goes_on, 250, released));
    assert_says_alone(step(&over, 0, released), COMMAND_REQUEST_CONTROL, released, false);
    assert_says_nothing(step(&over, 250, released));
    assert_says_alone(step(&over, limits.answer_ms, released), COMMAND_REQUEST_CONTROL, released,
                      true);
    assert_says_alone(step(&over, limits.answer_ms + 250, released), COMMAND_LOAD, released, true);
}

static void what_was_lost_to_another_is_let_go_of_without_asking(void **state)
{
    struct control lost = {.is_used = true, .left_loaded = true, .fault = CONTROL_LOST};

    (void)state;
    assert_says_alone(step(&lost, 0, released), COMMAND_LOAD, released, true);
}

static void a_start_waits_its_turn_and_the_first_release_behind_it(void **state)
{
    struct control control = {.is_used = true};

    (void)state;
    step(&control, 0, released);
    control_answer(&control, 100, COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED, released);
    const struct effects effects = step(&control, 250, released);
    assert_int_equal(effects.count, 2);
    assert_says(&effects, 0, COMMAND_START, released, false);
    assert_says(&effects, 1, COMMAND_LOAD, released, false);
    assert_says_nothing(step(&control, 500, released));
}

static void a_load_rises_from_what_was_accepted(void **state)
{
    struct control control = loaded(1);

    (void)state;
    assert_says_alone(step(&control, 10000, watts(200)), COMMAND_LOAD, watts(1 + limits.step_max_w),
                      false);
}

static void what_falls_goes_past_what_waits(void **state)
{
    struct control sent = loaded(100), had_sent = loaded(100), left = {0};

    (void)state;
    assert_says_alone(step(&sent, 10000, watts(80)), COMMAND_LOAD, watts(80), true);
    /* Control was given anew meanwhile: what was sent before it does not count as sent. */
    had_sent.has_sent = false;
    assert_says_alone(step(&had_sent, 10000, released), COMMAND_LOAD, released, true);
    /* The link was lost under a load. */
    left =
        (struct control){.state = CONTROL_HELD, .is_used = true, .asked = 1, .left_loaded = true};
    assert_says_alone(step(&left, 10000, released), COMMAND_LOAD, released, true);
    /* Sent, and nothing on the brake. */
    struct control idle = {
        .state = CONTROL_HELD, .is_used = true, .asked = 1, .has_sent = true, .sent = watts(50)};
    assert_says_alone(step(&idle, 10000, released), COMMAND_LOAD, released, true);
}

static void nothing_rises_without_control_or_when_it_is_over(void **state)
{
    struct control without = loaded(50), over = loaded(50);

    (void)state;
    without.state = CONTROL_ASKED;
    assert_says_nothing(step(&without, 10000, watts(100)));
    control_over(&over);
    assert_says_nothing(step(&over, 10000, watts(100)));
    assert_says_alone(step(&over, 10250, watts(40)), COMMAND_LOAD, watts(40), true);
}

static void what_is_said_again_goes_past_what_waits(void **state)
{
    struct control control = loaded(50);

    (void)state;
    step(&control, 10000, watts(80));
    assert_says_nothing(step(&control, 10000 + limits.answer_ms - 1, watts(80)));
    assert_says_alone(step(&control, 10000 + limits.answer_ms, watts(80)), COMMAND_LOAD, watts(80),
                      true);
}

static void a_refused_release_is_said_again_soon_and_then_like_any(void **state)
{
    struct control control = loaded(50);
    const uint64_t again_t_ms = 10100 + limits.raise_every_ms;

    (void)state;
    step(&control, 10000, released);
    control_answer(&control, 10100, COMMAND_LOAD, ANSWER_ERROR, released);
    assert_says_nothing(step(&control, again_t_ms - 1, released));
    assert_says_alone(step(&control, again_t_ms, released), COMMAND_LOAD, released, true);
    assert_says_nothing(step(&control, again_t_ms + limits.answer_ms - 1, released));
    assert_says_alone(step(&control, again_t_ms + limits.answer_ms, released), COMMAND_LOAD,
                      released, true);
}

static void who_refuses_the_last_release_twice_is_told_to_stop(void **state)
{
    struct control control = loaded(50);

    (void)state;
    control_over(&control);
    assert_says_alone(step(&control, 10000, released), COMMAND_LOAD, released, true);
    control_answer(&control, 10100, COMMAND_LOAD, ANSWER_ERROR, released);
    assert_says_nothing(step(&control, 10200, released));
    control_answer(&control, 10300, COMMAND_LOAD, ANSWER_ERROR, released);
    assert_says_alone(step(&control, 10400, released), COMMAND_STOP, released, true);
}

static void a_refused_load_is_said_once_more_and_then_a_fault(void **state)
{
    struct control control = loaded(50);

    (void)state;
    step(&control, 10000, watts(80));
    control_answer(&control, 10100, COMMAND_LOAD, ANSWER_ERROR, watts(80));
    assert_int_equal(control.fault, CONTROL_FINE);
    assert_says_alone(step(&control, 10250, watts(80)), COMMAND_LOAD, watts(80), true);
    /* Its silence counts from there. */
    assert_says_nothing(step(&control, 10250 + limits.answer_ms - 1, watts(80)));
    control_answer(&control, 10250 + limits.answer_ms, COMMAND_LOAD, ANSWER_ERROR, watts(80));
    assert_int_equal(control.fault, CONTROL_REFUSED);
}

static void a_refusal_ends_a_silence(void **state)
{
    struct control control = loaded(50);
    const uint64_t refused_t_ms = 10100 + limits.answer_ms;

    (void)state;
    step(&control, 10000, released);
    step(&control, 10000 + limits.answer_ms, released);
    control_answer(&control, refused_t_ms, COMMAND_LOAD, ANSWER_ERROR, released);
    control_watch(&control, &limits, refused_t_ms + limits.answer_ms);
    assert_int_equal(control.fault, CONTROL_FINE);
}

static void a_release_refused_twice_is_said_again_like_any(void **state)
{
    struct control control = loaded(50);

    (void)state;
    step(&control, 10000, released);
    control_answer(&control, 10100, COMMAND_LOAD, ANSWER_ERROR, released);
    control_answer(&control, 10200, COMMAND_LOAD, ANSWER_ERROR, released);
    assert_int_equal(control.fault, CONTROL_REFUSED);
    assert_says_nothing(step(&control, 10200 + limits.answer_ms - 1, released));
    assert_says_alone(step(&control, 10200 + limits.answer_ms, released), COMMAND_LOAD, released,
                      true);
}

static void only_refusals_in_a_row_are_a_fault(void **state)
{
    struct control control = loaded(50);

    (void)state;
    step(&control, 10000, watts(80));
    control_answer(&control, 10100, COMMAND_LOAD, ANSWER_ERROR, watts(80));
    step(&control, 10250, watts(80));
    control_answer(&control, 10300, COMMAND_LOAD, ANSWER_ACCEPTED, watts(80));
    step(&control, 10500, watts(60));
    control_answer(&control, 10600, COMMAND_LOAD, ANSWER_ERROR, watts(60));
    assert_int_equal(control.fault, CONTROL_FINE);
}

static void who_answers_an_older_load_is_not_silent(void **state)
{
    struct control control = loaded(50);

    (void)state;
    step(&control, 10000, watts(40));
    step(&control, 11000, watts(30));
    control_answer(&control, 12000, COMMAND_LOAD, ANSWER_ACCEPTED, watts(40));
    assert_says_nothing(step(&control, 12000 + limits.answer_ms - 1, watts(30)));
    assert_says_alone(step(&control, 12000 + limits.answer_ms, watts(30)), COMMAND_LOAD, watts(30),
                      true);
}

static void an_answer_to_no_request_says_nothing(void **state)
{
    struct control held = loaded(50), unasked = {.is_used = true};

    (void)state;
    control_answer(&held, 0, COMMAND_REQUEST_CONTROL, ANSWER_ERROR, released);
    assert_int_equal(held.fault, CONTROL_FINE);
    control_answer(&unasked, 0, COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED, released);
    assert_int_equal(unasked.state, CONTROL_NONE);
}

static void control_that_comes_late_lets_go_anew(void **state)
{
    struct control over = {.is_used = true, .left_loaded = true, .is_over = true};
    const uint64_t said_t_ms = limits.answer_ms + 250;

    (void)state;
    step(&over, 0, released);
    step(&over, limits.answer_ms, released);
    step(&over, said_t_ms, released);
    control_answer(&over, said_t_ms + 100, COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED, released);
    assert_says_alone(step(&over, said_t_ms + 250, released), COMMAND_LOAD, released, true);
    assert_says_nothing(step(&over, said_t_ms + 249 + limits.answer_ms, released));
}

static void what_was_out_when_control_went_waits_no_more(void **state)
{
    struct control lost = {.is_used = true}, forgotten = loaded(50);

    (void)state;
    step(&lost, 0, released);
    control_lost(&lost);
    assert_says_nothing(step(&lost, limits.answer_ms, released));
    step(&forgotten, 10000, watts(30));
    control_answer(&forgotten, 10100, COMMAND_LOAD, ANSWER_NOT_PERMITTED, watts(30));
    const struct effects effects = step(&forgotten, 10250, watts(30));
    assert_int_equal(effects.count, 2);
    assert_says(&effects, 0, COMMAND_REQUEST_CONTROL, released, false);
    assert_says(&effects, 1, COMMAND_LOAD, watts(30), true);
    assert_says_nothing(step(&forgotten, 10249 + limits.answer_ms, watts(30)));
}

static void control_that_was_forgotten_begins_at_nothing(void **state)
{
    struct control control = loaded(100);

    (void)state;
    control_ask_again(&control);
    step(&control, 10000, watts(100));
    control_answer(&control, 10100, COMMAND_REQUEST_CONTROL, ANSWER_ACCEPTED, released);
    const struct effects effects = step(&control, 10250, watts(200));
    assert_int_equal(effects.count, 2);
    assert_says(&effects, 0, COMMAND_START, released, false);
    assert_says(&effects, 1, COMMAND_LOAD, watts(limits.step_max_w), true);
}

static void who_leaves_lets_go_stops_and_raises_nothing(void **state)
{
    struct control control = loaded(50);

    (void)state;
    control_leave(&control);
    const struct effects effects = step(&control, 10000, released);
    assert_int_equal(effects.count, 2);
    assert_says(&effects, 0, COMMAND_LOAD, released, true);
    assert_says(&effects, 1, COMMAND_STOP, released, true);
    control_answer(&control, 10100, COMMAND_LOAD, ANSWER_ACCEPTED, released);
    assert_false(control_has_left(&control));
    control_answer(&control, 10200, COMMAND_STOP, ANSWER_ACCEPTED, released);
    assert_true(control_has_left(&control));
    assert_says_nothing(step(&control, 10250, watts(50)));
}

static void who_had_control_or_a_load_is_told_to_stop(void **state)
{
    struct control held = {.is_used = true, .state = CONTROL_HELD, .asked = 1};
    struct control with_load = {.is_used = true, .asked = 1, .is_loaded = true};
    struct control neither = {.is_used = true, .state = CONTROL_ASKED, .asked = 1};

    (void)state;
    control_leave(&held);
    assert_false(control_has_left(&held));
    const struct effects of_held = step(&held, 10000, released);
    assert_says(&of_held, 1, COMMAND_STOP, released, true);
    control_leave(&with_load);
    const struct effects of_load = step(&with_load, 10000, released);
    assert_says(&of_load, 1, COMMAND_STOP, released, true);
    control_leave(&neither);
    assert_true(control_has_left(&neither));
    assert_says_nothing(step(&neither, 10000, released));
}

/* What is out at 0 and has no answer. */
static void assert_second_silence_is_a_fault(struct control control, struct load allowed)
{
    const uint64_t silent_ms = limits.answer_ms;

    control_watch(&control, &limits, silent_ms);
    step(&control, silent_ms, allowed);
    control_watch(&control, &limits, 2 * silent_ms - 1);
    assert_int_equal(control.fault, CONTROL_FINE);
    control_watch(&control, &limits, 2 * silent_ms);
    assert_int_equal(control.fault, CONTROL_UNANSWERED);
}

static void the_second_silence_is_a_fault(void **state)
{
    struct control asking = {.is_used = true}, loading = loaded(50);

    (void)state;
    step(&asking, 0, released);
    assert_second_silence_is_a_fault(asking, released);
    step(&loading, 0, watts(20));
    assert_second_silence_is_a_fault(loading, watts(20));
}

int main(void)
{
    const struct rider rider = {0};
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(control_is_asked_for_once_and_waits_its_turn),
        cmocka_unit_test(control_is_not_asked_for_after_a_fault_or_the_end),
        cmocka_unit_test(control_is_asked_for_once_to_let_go_of_what_a_lost_link_left),
        cmocka_unit_test(what_a_lost_link_left_waits_for_control_and_not_for_ever),
        cmocka_unit_test(what_was_lost_to_another_is_let_go_of_without_asking),
        cmocka_unit_test(a_start_waits_its_turn_and_the_first_release_behind_it),
        cmocka_unit_test(a_load_rises_from_what_was_accepted),
        cmocka_unit_test(what_falls_goes_past_what_waits),
        cmocka_unit_test(nothing_rises_without_control_or_when_it_is_over),
        cmocka_unit_test(what_is_said_again_goes_past_what_waits),
        cmocka_unit_test(a_refused_release_is_said_again_soon_and_then_like_any),
        cmocka_unit_test(a_refused_load_is_said_once_more_and_then_a_fault),
        cmocka_unit_test(a_refusal_ends_a_silence),
        cmocka_unit_test(a_release_refused_twice_is_said_again_like_any),
        cmocka_unit_test(only_refusals_in_a_row_are_a_fault),
        cmocka_unit_test(who_answers_an_older_load_is_not_silent),
        cmocka_unit_test(an_answer_to_no_request_says_nothing),
        cmocka_unit_test(control_that_comes_late_lets_go_anew),
        cmocka_unit_test(what_was_out_when_control_went_waits_no_more),
        cmocka_unit_test(control_that_was_forgotten_begins_at_nothing),
        cmocka_unit_test(who_leaves_lets_go_stops_and_raises_nothing),
        cmocka_unit_test(who_had_control_or_a_load_is_told_to_stop),
        cmocka_unit_test(the_second_silence_is_a_fault),
        cmocka_unit_test(who_refuses_the_last_release_twice_is_told_to_stop),
    };

    limits_set(&rider, NULL, 0, &limits);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
