/* A simple brake whose power is known, second by second. */
#include "ride/power_hold.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define SECOND_MS 1000u

static const struct hold_levels levels = {10, 320, 10};
static const struct target_range target = {true, 190, 210};

/* A pad: 15 W and 9 W a level at 80 rpm, the same torque at any speed. */
static int32_t pad_w(int32_t level_tenths, int32_t cadence_rpm)
{
    return (150 + 9 * (level_tenths - 10)) * cadence_rpm / 800;
}

struct bike {
    struct power_hold hold;
    uint64_t t_ms;
    int32_t on_brake_tenths, wobble_w, changes;
};

static void init(struct bike *bike)
{
    *bike = (struct bike){.t_ms = 100000};
    power_hold_init(&bike->hold, &levels, &(struct brake_curve){0});
}

/* One second: what is chosen is on the brake by its end, and read. */
static int32_t second(struct bike *bike, const struct target_range *range, int32_t cadence_rpm)
{
    const int32_t level = power_hold_level(&bike->hold, bike->t_ms, range, 70);

    bike->changes += level != bike->on_brake_tenths;
    bike->on_brake_tenths = level;
    bike->wobble_w = -bike->wobble_w;
    bike->t_ms += SECOND_MS;
    power_hold_reading(&bike->hold, bike->t_ms, level, pad_w(level, cadence_rpm) + bike->wobble_w,
                       cadence_rpm);
    return level;
}

static void seconds(struct bike *bike, int count, const struct target_range *range,
                    int32_t cadence_rpm)
{
    for (int i = 0; i < count; i++)
        (void)second(bike, range, cadence_rpm);
}

static void an_unknown_brake_comes_into_the_range(void **state)
{
    struct bike bike;
    (void)state;

    init(&bike);
    seconds(&bike, 60, &target, 80);
    const int32_t power_w = pad_w(bike.on_brake_tenths, 80);
    assert_in_range(power_w, target.low, target.high);
}

/* The first level of a brake nobody knows is the least, the next one that even a strong brake makes
 * no more than a fourth too hard: six times the usual, 120 W and 2400 W over 31 levels. */
static void an_unknown_brake_is_met_from_below(void **state)
{
    struct bike bike;
    (void)state;

    init(&bike);
    assert_int_equal(second(&bike, &target, 80), 10);
    seconds(&bike, 8, &target, 80);
    assert_in_range(bike.on_brake_tenths, 20, 20 + 310 * (250 - 120) / 2400);
}

/* Five minutes with a wobble inside the range: a few choices at first, then none. */
static void inside_the_range_nothing_is_done(void **state)
{
    struct bike bike;
    (void)state;

    init(&bike);
    seconds(&bike, 60, &target, 80);
    bike.wobble_w = 8;
    bike.changes = 0;
    seconds(&bike, 300, &target, 80);
    assert_int_equal(bike.changes, 0);
}

static void a_new_target_is_met_at_once(void **state)
{
    static const struct target_range easy = {true, 90, 110};
    struct bike bike;
    (void)state;

    init(&bike);
    for (int round = 0; round < 4; round++) {
        seconds(&bike, 20, &target, 80);
        seconds(&bike, 20, &easy, 80);
    }
    const int32_t work_w = pad_w(second(&bike, &target, 80), 80);
    assert_in_range(work_w, target.low - 5, target.high + 5);
    const int32_t rest_w = pad_w(second(&bike, &easy, 80), 80);
    assert_in_range(rest_w, easy.low - 5, easy.high + 5);
}

/* Legs that tire: ever slower, so ever less power. The level does not rise to make up for it. */
static void nobody_is_chased_into_a_stall(void **state)
{
    struct bike bike;
    (void)state;

    init(&bike);
    seconds(&bike, 60, &target, 80);
    const int32_t before = bike.on_brake_tenths;
    for (int32_t cadence_rpm = 69; cadence_rpm >= 42; cadence_rpm--) {
        seconds(&bike, 3, &target, cadence_rpm);
        assert_true(bike.on_brake_tenths <= before);
    }
}

/* A new target while the legs are slow is worked out for the cadence that the step asks for. */
static void slow_legs_get_the_level_of_legs_that_turn(void **state)
{
    static const struct target_range more = {true, 230, 250};
    struct bike bike;
    (void)state;

    init(&bike);
    seconds(&bike, 60, &target, 80);
    seconds(&bike, 3, &target, 45);
    const int32_t level = second(&bike, &more, 45);
    assert_true(pad_w(level, 70) <= 250 + 15);
}

static void levels_are_those_of_the_machine(void **state)
{
    static const struct hold_levels coarse = {0, 160, 40};
    struct power_hold hold;
    (void)state;

    power_hold_init(&hold, &coarse, &(struct brake_curve){0});
    for (int32_t power_w = 0; power_w < 1500; power_w += 7) {
        const int32_t level = power_hold_level_for(&hold, 1000, power_w, 0);
        assert_in_range(level, 0, 160);
        assert_int_equal(level % 40, 0);
    }
}

static void without_a_range_nothing_can_be_held(void **state)
{
    struct power_hold hold;
    (void)state;

    power_hold_init(&hold, &(struct hold_levels){0}, &(struct brake_curve){0});
    assert_false(power_hold_is_able(&hold));
    power_hold_reading(&hold, 5000, 0, 200, 80);
    power_hold_reading(&hold, 15000, 10, 200, 80);
    power_hold_init(&hold, &levels, &(struct brake_curve){0});
    assert_true(power_hold_is_able(&hold));
}

/* Without a load, as while held, there is nothing to be learned of a level. */
/* A journal may say anything: the next level, one such step further, is beyond every number. */
static void by_a_step_that_no_machine_has_nothing_can_be_held(void **state)
{
    static const int32_t steps[] = {INT32_MAX, HOLD_LEVEL_MAX + 1, -1};
    struct bike bike;
    (void)state;

    init(&bike);
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        power_hold_init(&bike.hold, &(struct hold_levels){10, 320, steps[i]},
                        &(struct brake_curve){0});
        assert_false(power_hold_is_able(&bike.hold));
    }
}

static void a_released_brake_teaches_nothing(void **state)
{
    struct power_hold hold;
    (void)state;

    power_hold_init(&hold, &levels, &(struct brake_curve){0});
    const struct brake_model before = hold.brake;
    for (uint64_t t_ms = 1000; t_ms < 60000; t_ms += SECOND_MS)
        power_hold_reading(&hold, t_ms, 0, 60, 80);
    assert_memory_equal(&hold.brake, &before, sizeof before);
}

/* A level that has just changed says nothing yet. */
static void a_brake_on_its_way_teaches_nothing(void **state)
{
    struct power_hold hold;
    (void)state;

    power_hold_init(&hold, &levels, &(struct brake_curve){0});
    const struct brake_model before = hold.brake;
    for (uint64_t t_ms = 1000; t_ms < 60000; t_ms += SECOND_MS)
        power_hold_reading(&hold, t_ms, t_ms / 3000 % 2 == 0 ? 100 : 200, 60, 80);
    assert_memory_equal(&hold.brake, &before, sizeof before);
}

/* ---- readings that are wrong, brakes that are another's ---- */

/* A second of legs on the pad, whatever the sensor says of it. */
static void misread(struct bike *bike, const struct target_range *range, int32_t power_w)
{
    const int32_t level = power_hold_level(&bike->hold, bike->t_ms, range, 70);

    bike->on_brake_tenths = level;
    bike->t_ms += SECOND_MS;
    power_hold_reading(&bike->hold, bike->t_ms, level, power_w, 80);
}

/* A sensor that fails in mid-work, or before the first level, while the legs turn: nothing shows
 * that the brake is weak. What the legs get stays within a fourth of what they had in range. */
static void a_sensor_that_fails_does_not_raise_the_level(void **state)
{
    static const struct target_range easy = {true, 90, 110};
    static const int32_t stuck_w[] = {-5, 0, 30, 80, 120, 150};
    (void)state;

    for (size_t i = 0; i < sizeof stuck_w / sizeof stuck_w[0]; i++)
        for (int good_s = 0; good_s <= 60; good_s += 60) {
            struct bike bike;
            int32_t most_w = 0;

            init(&bike);
            seconds(&bike, good_s, &target, 80);
            for (int second = 0; second < 240; second++) {
                misread(&bike, second / 60 % 2 == 0 ? &target : &easy, stuck_w[i]);
                if (pad_w(bike.on_brake_tenths, 80) > most_w)
                    most_w = pad_w(bike.on_brake_tenths, 80);
            }
            assert_in_range(most_w, 1, 200 * 5 / 4 + 10);
        }
}

/* A level that is higher and a power that is the same to the watt: it is none of this brake's, and
 * the level comes down again with what was learned of it. */
static void what_a_frozen_power_taught_is_forgotten(void **state)
{
    struct bike bike;
    bool was_raised = false, was_forgotten = false;
    (void)state;

    init(&bike);
    seconds(&bike, 90, &target, 80);
    const int32_t before = bike.on_brake_tenths;
    const double known_w = brake_model_power_w(&bike.hold.brake, 0.5, 80);
    for (int second = 0; second < 60; second++) {
        misread(&bike, &target, 120);
        was_raised = was_raised || bike.on_brake_tenths > before;
        was_forgotten =
            was_forgotten || (was_raised && bike.on_brake_tenths == before &&
                              brake_model_power_w(&bike.hold.brake, 0.5, 80) > known_w - 2);
    }
    assert_true(was_raised);
    assert_true(was_forgotten);
}

/* Power far below the range, by slower legs here, may be a sensor's fault as well: among the levels
 * that were ridden one choice goes up by a quarter and a sixteenth of the range. */
static void one_choice_raises_by_no_more_than_a_quarter(void **state)
{
    const int32_t range = levels.maximum - levels.minimum;
    struct bike bike;
    (void)state;

    init(&bike);
    seconds(&bike, 90, &(struct target_range){true, 260, 280}, 80);
    seconds(&bike, 30, &target, 110);
    const int32_t before = bike.on_brake_tenths;
    for (int i = 0; i < 20 && bike.on_brake_tenths == before; i++)
        (void)second(&bike, &target, 70);
    assert_in_range(bike.on_brake_tenths, before + levels.step,
                    levels.minimum + (before - levels.minimum) * 5 / 4 + range / 16);
    /* It is only the first of them. */
    seconds(&bike, 20, &target, 70);
    assert_in_range(pad_w(bike.on_brake_tenths, 70), target.low, target.high);
}

/* Chance from a seed: Numerical Recipes' linear congruential generator. */
static uint32_t chance(uint32_t *seed, uint32_t below)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (*seed >> 8) % below;
}

/* The feet stand for a second while the cadence, which a sensor makes of whole turns, still reads
 * what it was: a twentieth to a third of the power. Every 10 to 20 s of three minutes. */
static void a_dip_of_power_is_no_weak_brake(void **state)
{
    (void)state;

    for (uint32_t first = 1; first <= 50; first++) {
        struct bike bike;
        uint32_t seed = first;
        int32_t most_w = 0;

        init(&bike);
        seconds(&bike, 120, &target, 80);
        for (int round = 0; round < 12; round++) {
            for (uint32_t s = 10 + chance(&seed, 11); s > 0; s--) {
                const int32_t power_w = pad_w(second(&bike, &target, 80), 80);
                most_w = power_w > most_w ? power_w : most_w;
            }
            misread(&bike, &target,
                    pad_w(bike.on_brake_tenths, 80) * (int32_t)(5 + chance(&seed, 29)) / 100);
        }
        assert_in_range(most_w, target.low, target.high + 10);
    }
}

/* The curve of a bike ten times as weak, as after a new firmware: the legs are not left with it. */
static void a_curve_of_another_brake_is_given_up_soon(void **state)
{
    static const struct brake_curve weak = {{15000, 40000, 0, 0}, 1000};
    (void)state;

    for (int32_t strength = 2; strength <= 4; strength++) {
        struct bike bike;
        int32_t too_hard_s = 0;

        init(&bike);
        power_hold_init(&bike.hold, &levels, &weak);
        for (int s = 0; s < 60; s++) {
            const int32_t wish = power_hold_level(&bike.hold, bike.t_ms, &target, 70);
            const int32_t climb = bike.on_brake_tenths + 100; /* as safety lets it */

            bike.on_brake_tenths = wish < climb ? wish : climb;
            bike.t_ms += SECOND_MS;
            const int32_t power_w = strength * pad_w(bike.on_brake_tenths, 80);
            power_hold_reading(&bike.hold, bike.t_ms, bike.on_brake_tenths, power_w, 80);
            too_hard_s += power_w > target.high * 3 / 2;
        }
        assert_in_range(too_hard_s, 1, 4);
        assert_in_range(strength * pad_w(bike.on_brake_tenths, 80), target.low - 20, target.high);
    }
}

/* In a ramp the target is new with every second, and with fine steps the level is, too: what the
 * brake costs is learned all the same. Half as strong again as the usual bike. */
static void a_ramp_is_no_reason_to_learn_nothing(void **state)
{
    static const struct hold_levels fine = {10, 320, 1};
    struct bike bike;
    (void)state;

    init(&bike);
    power_hold_init(&bike.hold, &fine, &(struct brake_curve){0});
    for (int32_t s = 0; s < 300; s++) {
        const int32_t middle_w = 100 + s * 2 / 3;
        const struct target_range now = {true, middle_w - 10, middle_w + 10};
        const int32_t level = power_hold_level(&bike.hold, bike.t_ms, &now, 70);
        const int32_t power_w = 30 + (level - 10) * 600 / 310;

        bike.t_ms += SECOND_MS;
        power_hold_reading(&bike.hold, bike.t_ms, level, power_w, 80);
        if (s >= 60)
            assert_in_range(power_w, middle_w * 9 / 10, middle_w * 11 / 10);
    }
}

/* Work of five seconds is over before its level has taught anything. It is climbed to all the same,
 * from one to the next. */
static void steps_of_a_few_seconds_come_up_too(void **state)
{
    static const struct target_range easy = {true, 90, 110}, hard = {true, 250, 290};
    struct bike bike;
    (void)state;

    init(&bike);
    seconds(&bike, 60, &easy, 80);
    seconds(&bike, 5, &hard, 80);
    assert_true(pad_w(bike.on_brake_tenths, 80) < hard.low);
    for (int round = 0; round < 5; round++) {
        seconds(&bike, 10, &easy, 80);
        seconds(&bike, 5, &hard, 80);
        assert_true(pad_w(bike.on_brake_tenths, 80) <= hard.high);
    }
    assert_true(pad_w(bike.on_brake_tenths, 80) >= hard.low);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_unknown_brake_comes_into_the_range),
        cmocka_unit_test(an_unknown_brake_is_met_from_below),
        cmocka_unit_test(inside_the_range_nothing_is_done),
        cmocka_unit_test(a_new_target_is_met_at_once),
        cmocka_unit_test(nobody_is_chased_into_a_stall),
        cmocka_unit_test(slow_legs_get_the_level_of_legs_that_turn),
        cmocka_unit_test(levels_are_those_of_the_machine),
        cmocka_unit_test(without_a_range_nothing_can_be_held),
        cmocka_unit_test(by_a_step_that_no_machine_has_nothing_can_be_held),
        cmocka_unit_test(a_released_brake_teaches_nothing),
        cmocka_unit_test(a_brake_on_its_way_teaches_nothing),
        cmocka_unit_test(a_sensor_that_fails_does_not_raise_the_level),
        cmocka_unit_test(what_a_frozen_power_taught_is_forgotten),
        cmocka_unit_test(one_choice_raises_by_no_more_than_a_quarter),
        cmocka_unit_test(a_dip_of_power_is_no_weak_brake),
        cmocka_unit_test(a_curve_of_another_brake_is_given_up_soon),
        cmocka_unit_test(a_ramp_is_no_reason_to_learn_nothing),
        cmocka_unit_test(steps_of_a_few_seconds_come_up_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
