/*
 * Which rides count as first blocks: whole rides in a store of their own, ridden, skipped through
 * and held.
 */
#include "app/first_blocks.h"

#include <stdlib.h>
#include <string.h>

#include "app/recorder.h"
#include "support/store_fixture.h"

/* ---- the ride: two work steps of 100 s, a minute before, between and after them, and one more to
 * cool down: without any work it is longer than the three minutes that make a block ---- */

static struct recorder recorder;
static struct ride ride;
static struct summary summary;
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
            summary = effects.list[i].summary;
}

static void press(enum ride_key key)
{
    post((struct event){.kind = EVENT_KEY, .key = {key}});
}

/* A bike that takes no commands. */
static void pass(unsigned seconds)
{
    for (unsigned i = 0; i < 4 * seconds && ride.phase != PHASE_ENDED; i++) {
        now_ms += TICK_MS;
        post((struct event){.kind = EVENT_TICK});
        post((struct event){.kind = EVENT_TELEMETRY,
                            .telemetry = {HAS_POWER | HAS_CADENCE, 100, 90, 0, 0}});
    }
}

static void ride_all(void)
{
    pass(500);
}

static void skip_half_of_the_work(void)
{
    pass(60 + 100 + 30);
    press(KEY_SKIP); /* the rest */
    press(KEY_SKIP);
    pass(500);
}

static void skip_a_little_of_the_work(void)
{
    pass(60 + 100 + 60 + 10);
    press(KEY_SKIP);
    pass(500);
}

static void skip_all_work(void)
{
    pass(60);
    press(KEY_SKIP);
    pass(60);
    press(KEY_SKIP);
    pass(500);
}

/* Held for longer than ridden: what counts is what was ridden. */
static void hold_in_the_work(void)
{
    pass(60 + 10);
    press(KEY_HOLD);
    pass(110);
    press(KEY_HOLD);
    press(KEY_SKIP);
    pass(60 + 80);
    press(KEY_SKIP);
    pass(500);
}

static void stop_near_the_end(void)
{
    pass(60 + 100 + 60 + 95);
    press(KEY_STOP);
    pass(500);
}

static const struct ride_setup *setup_of_rides(void)
{
    static struct ride_setup setup;
    const struct plan plan = {.title = "invented",
                              .step_count = 6,
                              .steps = {{.kind = STEP_WARM_UP, .duration_ms = 60000},
                                        {.kind = STEP_WORK, .duration_ms = 100000},
                                        {.kind = STEP_REST, .duration_ms = 60000},
                                        {.kind = STEP_WORK, .duration_ms = 100000},
                                        {.kind = STEP_REST, .duration_ms = 60000},
                                        {.kind = STEP_COOL_DOWN, .duration_ms = 60000}}};

    setup.plan = plan;
    return &setup;
}

static void ride_once(struct store *store, const char *bike, void (*way)(void))
{
    struct store_ride about = {0};

    strcpy(about.bike, bike);
    recorder = (struct recorder){.store = store};
    assert_int_equal(recorder_begin(&recorder, setup_of_rides(), &about), RESULT_OK);
    ride_init(&ride, setup_of_rides());
    now_ms = 0;
    post((struct event){.kind = EVENT_LINK, .link = {LINK_MACHINE, true}});
    post((struct event){.kind = EVENT_MACHINE});
    while (ride.phase != PHASE_RIDING)
        pass(1);
    way();
    assert_int_equal(ride.phase, PHASE_ENDED);
    assert_int_equal(recorder_end(&recorder, &summary), RESULT_OK);
    recorder_free(&recorder);
}

/* ---- what counts ---- */

#define AIR "C0:12:34:56:78:9A/random"

struct row {
    const char *name, *bike;
    void (*way)(void);
    const char *sql; /* what happened to the file since; NULL: nothing */
    bool counts;
};

static struct row rows[] = {
    {"ridden", AIR, ride_all, NULL, true},
    {"a little skipped", AIR, skip_a_little_of_the_work, NULL, true},
    {"half skipped", AIR, skip_half_of_the_work, NULL, false},
    {"all work skipped", AIR, skip_all_work, NULL, false},
    {"held in the work, and skipped", AIR, hold_in_the_work, NULL, false},
    {"stopped near the end", AIR, stop_near_the_end, NULL, false},
    {"on a virtual bike", "virtual", ride_all, NULL, false},
    {"behind a socket", "unix:/tmp/bike", ride_all, NULL, false},
    {"a store of old, which has no seconds of work", AIR, ride_all,
     "UPDATE ride SET work_s = NULL, work_power_w = NULL, length_ms = NULL", true},
    {"the same, skipped through", AIR, skip_all_work,
     "UPDATE ride SET work_s = NULL, work_power_w = NULL, length_ms = NULL", false},
    {"a journal that cannot be read", AIR, ride_all, "UPDATE journal SET packed = x'00'", false},
};

static void counts_or_not(void **state)
{
    static const struct settings new_rider;
    const struct row *row = *state;
    struct store *store = fixture_open();

    for (int i = 0; i < 3; i++) {
        assert_true(first_blocks_go_on(&new_rider, store));
        ride_once(store, row->bike, row->way);
    }
    store_close(store);
    if (row->sql != NULL)
        fixture_execute(row->sql);
    store = fixture_open();
    assert_int_equal(first_blocks_go_on(&new_rider, store), !row->counts);
    store_close(store);
}

static void experienced_riders_have_none(void **state)
{
    const struct settings experienced = {.is_experienced = true};
    (void)state;

    assert_false(first_blocks_go_on(&experienced, NULL));
}

int main(void)
{
    struct CMUnitTest tests[sizeof rows / sizeof rows[0] + 1];
    size_t count = 0;

    for (; count < sizeof rows / sizeof rows[0]; count++)
        tests[count] = (struct CMUnitTest){rows[count].name, counts_or_not, fixture_set_up,
                                           fixture_tear_down, &rows[count]};
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(experienced_riders_have_none);
    return _cmocka_run_group_tests("first blocks", tests, count, NULL, NULL);
}
