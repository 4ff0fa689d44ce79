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
    assert_int_equal(control.asked, 1);
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

int main(void)
{
    const struct rider rider = {0};
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(control_is_asked_for_once_and_waits_its_turn),
        cmocka_unit_test(a_start_waits_its_turn_and_the_first_release_behind_it),
        cmocka_unit_test(a_load_rises_from_what_was_accepted),
        cmocka_unit_test(what_falls_goes_past_what_waits),
        cmocka_unit_test(nothing_rises_without_control_or_when_it_is_over),
        cmocka_unit_test(what_is_said_again_goes_past_what_waits),
        cmocka_unit_test(a_refused_release_is_said_again_soon_and_then_like_any),
    };

    limits_set(&rider, NULL, 0, &limits);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
