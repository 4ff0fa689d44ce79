/*
 * The controller, the machine's peer, the client and the virtual bike together, with nothing but
 * PDUs between, on an air that loses the machine's answers: when the ride is over, the load is off
 * the bike, or the summary says that nobody knows.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "app/stage.h"
#include "io/virtual_config.h"
#include "support/drive.h"

#define RIDES 150

static struct air {
    uint32_t loss_pct, within_ms; /* of a release, until the bike has it */
    uint64_t t_ms;
    uint64_t released_t_ms; /* when a release was last asked for; 0 while a load is */
    bool is_released;       /* the bike, as it is now */
    unsigned lost;
    struct summary summary;
    bool has_ended;
} air;

static uint64_t chance_state;

static uint32_t below(uint32_t limit)
{
    chance_state = chance_state * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(chance_state >> 33) % limit;
}

static void on_event(void *user, const struct event *event)
{
    (void)user;
    air.t_ms = event->t_ms;
}

static bool on_effects(void *user, const struct ride *ride, const struct effects *effects)
{
    (void)user;
    for (size_t i = 0; i < effects->count; i++) {
        const struct effect *effect = &effects->list[i];
        if (effect->kind == EFFECT_SUMMARY)
            air.summary = effect->summary;
        if (effect->kind == EFFECT_COMMAND && effect->command.command == COMMAND_LOAD)
            air.released_t_ms = effect->command.load.kind != LOAD_RELEASED ? 0
                                : air.released_t_ms != 0                   ? air.released_t_ms
                                                                           : air.t_ms;
    }
    air.has_ended = ride->phase == PHASE_ENDED;
    return true;
}

/* An indication that is lost on the way; the machine has obeyed, and takes it for confirmed. */
static bool arrives(void *user, struct virtual_bike *bike, const uint8_t *pdu, size_t length)
{
    const uint8_t confirmation = ATT_CONFIRMATION;

    (void)user;
    (void)length;
    if (pdu[0] != ATT_INDICATION || below(100) >= air.loss_pct)
        return true;
    air.lost++;
    virtual_bike_receive(bike, bike->now_ms, &confirmation, 1);
    return false;
}

static enum ride_key press_by_chance(void *user)
{
    static const enum ride_key keys[] = {KEY_HOLD, KEY_MORE, KEY_LESS,
                                         KEY_SKIP, KEY_STOP, KEY_LEAVE};
    const uint32_t dice = below(600);

    (void)user;
    return dice < sizeof keys / sizeof keys[0] ? keys[dice] : KEY_NONE;
}

/* Down at once, whatever became of the answers before. */
static void settled(void *user, const struct virtual_bike *bike)
{
    (void)user;
    air.is_released = bike->machine.load == VIRTUAL_LOAD_RELEASED || bike->machine.load_value == 0;
    if (air.released_t_ms != 0 && bike->now_ms > air.released_t_ms + air.within_ms)
        assert_true(air.is_released);
}

static void ride(uint32_t answer_delay_ms, uint32_t loss_pct, uint32_t within_ms)
{
    static const struct stage_watch watch = {.event = on_event,
                                             .effects = on_effects,
                                             .key = press_by_chance,
                                             .arrives = arrives,
                                             .settled = settled};
    const struct virtual_rider_config rider = virtual_rider_default();
    struct virtual_machine_config machine = virtual_machine_default();
    static struct drive drive;

    machine.answer_delay_ms = answer_delay_ms;
    air = (struct air){.loss_pct = loss_pct, .within_ms = within_ms};
    drive_init(&drive); /* for its plan */
    assert_int_equal(stage_ride(&drive.ride.setup, &machine, &rider, 1, &watch), RESULT_OK);
    assert_true(air.has_ended);
    assert_true(air.is_released || air.summary.unreleased);
}

static void the_load_comes_off_whatever_is_lost(void **state)
{
    static const uint32_t losses_pct[] = {0, 5, 20, 50, 90};
    unsigned lost = 0, ended_well = 0;

    (void)state;
    chance_state = 11;
    for (int i = 0; i < RIDES; i++) {
        ride(0, losses_pct[i % 5], 0);
        lost += air.lost;
        ended_well += !air.summary.unreleased;
    }
    print_message("%u answers lost, %u of %d rides confirmed\n", lost, ended_well, RIDES);
    assert_true(lost > 200);
    assert_true(ended_well > RIDES / 2);
}

/* A machine that is busy for 1.5 s with each command takes a release when it is free again. */
static void the_load_comes_off_a_slow_machine(void **state)
{
    (void)state;
    chance_state = 12;
    for (int i = 0; i < RIDES; i++)
        ride(1500, i % 2 == 0 ? 0 : 20, 2000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_load_comes_off_whatever_is_lost),
        cmocka_unit_test(the_load_comes_off_a_slow_machine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
