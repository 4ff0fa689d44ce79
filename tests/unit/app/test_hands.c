/* What wet and hasty hands bring about. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>

#include <cmocka.h>

#include "app/hands.h"

static struct ride riding(void)
{
    struct ride ride = {.phase = PHASE_RIDING, .t_ms = 70000};
    return ride;
}

static void test_keys(void **state)
{
    static const struct {
        uint32_t character;
        enum ride_key key;
    } table[] = {{'s', KEY_STOP}, {'S', KEY_STOP}, {'q', KEY_STOP},  {'Q', KEY_STOP},
                 {' ', KEY_HOLD}, {'+', KEY_MORE}, {'-', KEY_LESS},  {'\n', KEY_NONE},
                 {'n', KEY_NONE}, {'m', KEY_NONE}, {0xE9, KEY_NONE}, {0, KEY_NONE}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        const struct ride ride = riding();
        struct hands hands = {0};
        assert_int_equal(hands_press(&hands, &ride, 1000, table[i].character), table[i].key);
        assert_int_equal(hands.shown.woken_t_ms, 70000);
    }
}

/* A bike that takes nothing, its knob at `position`, or nowhere that is known. */
static struct ride by_hand(bool is_known, int32_t position)
{
    struct ride ride = riding();

    ride.setup.tells_knob = true;
    ride.machine_known = true;
    ride.knob.place = (struct knob_place){is_known, position, 10};
    return ride;
}

static void test_digits_are_the_knob(void **state)
{
    struct ride ride = by_hand(false, 0);
    const struct ride other = riding();
    struct hands hands = {0};
    (void)state;

    assert_int_equal(hands_press(&hands, &other, 1000, '7'), KEY_NONE);
    assert_int_equal(hands_press(&hands, &ride, 1000, '1'), KEY_KNOB);
    assert_int_equal(hands.position, 1);
    assert_int_equal(hands_press(&hands, &ride, 2000, '6'), KEY_KNOB);
    assert_int_equal(hands.position, 16);
    /* Later it is another number, and so is one above the highest. */
    assert_int_equal(hands_press(&hands, &ride, 4000, '9'), KEY_KNOB);
    assert_int_equal(hands.position, 9);
    assert_int_equal(hands_press(&hands, &ride, 4100, '9'), KEY_KNOB);
    assert_int_equal(hands_press(&hands, &ride, 4200, '9'), KEY_KNOB);
    assert_int_equal(hands.position, 9);
}

static void test_knob_one_by_one_and_as_told(void **state)
{
    struct ride ride = by_hand(true, 4), unknown = by_hand(false, 0), top = by_hand(true, 100);
    struct hands hands = {0};
    (void)state;

    assert_int_equal(hands_press(&hands, &unknown, 1000, '+'), KEY_NONE);
    assert_int_equal(hands_press(&hands, &top, 1000, '+'), KEY_NONE);
    assert_int_equal(hands_press(&hands, &ride, 1000, '+'), KEY_KNOB);
    assert_int_equal(hands.position, 5);
    assert_int_equal(hands_press(&hands, &ride, 1000, '-'), KEY_KNOB);
    assert_int_equal(hands.position, 3);
    assert_int_equal(hands_press(&hands, &ride, 1000, '\n'), KEY_NONE);
    ride.knob.has_to = true;
    ride.knob.to = 8;
    assert_int_equal(hands_press(&hands, &ride, 1000, '\n'), KEY_KNOB);
    assert_int_equal(hands.position, 8);
    ride.safety.cut_off = CUT_OFF_HEART;
    assert_int_equal(hands_press(&hands, &ride, 1000, '\n'), KEY_NONE);
    assert_true(hands.shown.saw_cut_off);
}

/* With everything on the screen at once, stop is one key. */
static void test_nothing_swallows_a_stop(void **state)
{
    (void)state;
    for (unsigned phase = 0; phase < PHASE_COUNT; phase++) {
        struct ride ride = riding();
        struct hands hands = {0};
        ride.phase = (enum phase)phase;
        ride.caution_t_ms[CAUTION_HEART_NEAR] = 69000;
        ride.safety.cut_off = CUT_OFF_HEART;
        (void)hands_press(&hands, &ride, 1000, 'n');
        assert_int_equal(hands_press(&hands, &ride, 1001, 's'), KEY_STOP);
        assert_false(hands.shown.saw_cut_off);
    }
}

static void test_skip_takes_two(void **state)
{
    static const struct {
        uint64_t second_ms;
        enum ride_key key;
    } table[] = {{1001, KEY_SKIP}, {4000, KEY_SKIP}, {4001, KEY_NONE}, {60000, KEY_NONE}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        const struct ride ride = riding();
        struct hands hands = {0};
        assert_int_equal(hands_press(&hands, &ride, 1000, 'n'), KEY_NONE);
        assert_true(hands.shown.asks_to_skip);
        assert_int_equal(hands_press(&hands, &ride, table[i].second_ms, 'n'), table[i].key);
        /* The one that came too late is a first one. */
        assert_int_equal(hands.shown.asks_to_skip, table[i].key == KEY_NONE);
    }
}

static void test_skip_is_forgotten(void **state)
{
    const struct ride ride = riding();
    struct hands hands = {0};

    (void)state;
    (void)hands_press(&hands, &ride, 1000, 'n');
    hands_wait(&hands, 4000);
    assert_true(hands.shown.asks_to_skip);
    hands_wait(&hands, 4001);
    assert_false(hands.shown.asks_to_skip);
}

static void test_skip_only_while_riding(void **state)
{
    struct ride ride = riding();
    struct hands hands = {0};

    (void)state;
    ride.phase = PHASE_HELD;
    assert_int_equal(hands_press(&hands, &ride, 1000, 'n'), KEY_NONE);
    assert_false(hands.shown.asks_to_skip);
}

static void test_cut_off_takes_enter(void **state)
{
    struct ride ride = riding();
    struct hands hands = {0};

    (void)state;
    /* Before there is one, Enter is no promise to have seen it. */
    (void)hands_press(&hands, &ride, 1000, '\n');
    assert_false(hands.shown.saw_cut_off);
    ride.safety.cut_off = CUT_OFF_POWER;
    for (const char *key = " +-nmx"; *key != '\0'; key++) {
        (void)hands_press(&hands, &ride, 1000, (uint32_t)*key);
        assert_false(hands.shown.saw_cut_off);
    }
    (void)hands_press(&hands, &ride, 1000, '\n');
    assert_true(hands.shown.saw_cut_off);
}

static void test_mute(void **state)
{
    const struct ride ride = riding();
    struct hands hands = {0};

    (void)state;
    (void)hands_press(&hands, &ride, 1000, 'm');
    assert_true(hands.shown.is_muted);
    (void)hands_press(&hands, &ride, 1000, 'm');
    assert_false(hands.shown.is_muted);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_keys),
        cmocka_unit_test(test_digits_are_the_knob),
        cmocka_unit_test(test_knob_one_by_one_and_as_told),
        cmocka_unit_test(test_nothing_swallows_a_stop),
        cmocka_unit_test(test_skip_takes_two),
        cmocka_unit_test(test_skip_is_forgotten),
        cmocka_unit_test(test_skip_only_while_riding),
        cmocka_unit_test(test_cut_off_takes_enter),
        cmocka_unit_test(test_mute),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
