/*
 * One device's rides under one name, whatever address it shows.
 */
#include "port/device_store.h"

#include <string.h>

#include "port/brake_store.h"
#include "port/store_history.h"
#include "support/store_fixture.h"

#define ADDRESS "F0:AA:1B:01:00:01"
#define ANOTHER "F0:AA:1B:01:00:02"

static void add_ride(struct store *store, const char *bike, const char *power_sensor)
{
    struct store_ride ride = {.started_unix_s = 1750000000,
                              .title = "Twenty on",
                              .state = STORE_BY_HAND,
                              .summary = {.ending = STORE_ENDING_DONE, .duration_s = 480}};
    int64_t id;

    strcpy(ride.bike, bike);
    strcpy(ride.power_sensor, power_sensor);
    assert_int_equal(store_add_begin(store), RESULT_OK);
    assert_int_equal(store_add(store, &ride, NULL, 0, &id), RESULT_OK);
    assert_int_equal(store_add_end(store, true), RESULT_OK);
}

static size_t count_on(struct store *store, const char *bike)
{
    struct store_ride like = {.title = "Twenty on"}, ride = {.id = INT64_MAX};
    size_t count = 0;

    strcpy(like.bike, bike);
    while (store_next_alike(store, &like, ride.id, &ride) == RESULT_OK)
        count++;
    return count;
}

static void assert_called(struct store *store, const char *address, const char *name,
                          const char *expected)
{
    char called[STORE_BIKE_MAX + 1] = "";

    assert_int_equal(store_call_device(store, STORE_BIKE, address, name, called), RESULT_OK);
    assert_string_equal(called, expected);
}

/* At first it has none that stays. Between the pairing and this a ride went under its address. */
static void a_bike_paired_since_is_the_one_it_was(void **state)
{
    struct store *store = fixture_open();

    (void)state;
    assert_called(store, "", "Bike", "Bike");
    add_ride(store, "Bike", "");
    add_ride(store, ADDRESS, "");
    assert_int_equal(count_on(store, "Bike"), 1);
    assert_called(store, ADDRESS, "Bike", "Bike");
    assert_int_equal(count_on(store, "Bike"), 2);
    assert_int_equal(count_on(store, ADDRESS), 0);
    /* The pairing was undone, or it is typed by its address. */
    assert_called(store, "", "Bike", "Bike");
    assert_called(store, ADDRESS, "", "Bike");
    store_close(store);
    store = fixture_open();
    assert_called(store, ADDRESS, "Another name by now", "Bike");
    store_close(store);
}

static void one_whose_address_never_changed_goes_by_its_name_too(void **state)
{
    struct store *store = fixture_open();

    (void)state;
    add_ride(store, ADDRESS, "");
    assert_called(store, ADDRESS, "", ADDRESS);
    assert_called(store, ADDRESS, "Bike", "Bike");
    assert_int_equal(count_on(store, "Bike"), 1);
    store_close(store);
}

/* Two of a model, as in a house and at work. */
static void a_second_bike_of_that_name_is_another(void **state)
{
    struct store *store = fixture_open();

    (void)state;
    add_ride(store, ADDRESS, "");
    add_ride(store, ANOTHER, "");
    assert_called(store, ADDRESS, "Bike", "Bike");
    assert_called(store, ANOTHER, "Bike", ANOTHER);
    assert_called(store, ADDRESS, "Bike", "Bike");
    assert_int_equal(count_on(store, "Bike"), 1);
    assert_int_equal(count_on(store, ANOTHER), 1);
    store_close(store);
}

static void what_was_learned_of_its_brake_goes_with_it(void **state)
{
    const struct brake_curve before = {{1, 2, 3, 4}, 5}, since = {{5, 6, 7, 8}, 9};
    const struct knob_place place = {true, 3, 16};
    struct brake_curve curve;
    struct knob_place knob;
    struct store *store = fixture_open();

    (void)state;
    assert_int_equal(store_keep_brake(store, "Bike", &before), RESULT_OK);
    assert_int_equal(store_keep_brake(store, ADDRESS, &since), RESULT_OK);
    assert_int_equal(store_keep_knob(store, ADDRESS, &place), RESULT_OK);
    assert_called(store, ADDRESS, "Bike", "Bike");
    assert_int_equal(store_brake(store, "Bike", &curve), RESULT_OK);
    assert_memory_equal(&curve, &since, sizeof curve);
    assert_int_equal(store_knob(store, "Bike", &knob), RESULT_OK);
    assert_int_equal(knob.position, 3);
    assert_int_equal(store_brake(store, ADDRESS, &curve), RESULT_NOT_FOUND);
    store_close(store);
}

static void a_power_sensor_is_called_likewise_and_apart(void **state)
{
    char called[STORE_BIKE_MAX + 1] = "";
    struct store *store = fixture_open();
    struct store_ride ride;

    (void)state;
    add_ride(store, "Pedals", ADDRESS);
    assert_called(store, ANOTHER, "Pedals", "Pedals");
    assert_int_equal(store_call_device(store, STORE_POWER_SENSOR, ADDRESS, "Pedals", called),
                     RESULT_OK);
    assert_string_equal(called, "Pedals");
    assert_int_equal(store_next_older(store, INT64_MAX, &ride), RESULT_OK);
    assert_string_equal(ride.power_sensor, "Pedals");
    store_close(store);
}

static void nothing_is_half_done(void **state)
{
    char called[STORE_BIKE_MAX + 1] = "as it was";
    struct store *store = fixture_open();

    (void)state;
    add_ride(store, ADDRESS, "");
    assert_int_equal(sqlite3_exec(fixture_database, "DROP TABLE knob", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_not_equal(store_call_device(store, STORE_BIKE, ADDRESS, "Bike", called), RESULT_OK);
    assert_string_equal(called, "as it was");
    assert_int_equal(count_on(store, ADDRESS), 1);
    assert_int_equal(fixture_ask(fixture_database, "SELECT count(*) FROM device"), 0);
    assert_int_equal(sqlite3_exec(fixture_database, "DROP TABLE device", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_not_equal(store_call_device(store, STORE_BIKE, ADDRESS, "Bike", called), RESULT_OK);
    store_close(store);
}

/* A store of the version before, in which addresses stand as they were typed after --bike. */
static void typed_addresses_become_one(void **state)
{
    struct store *store = fixture_open();

    (void)state;
    add_ride(store, "f0:aa:1b:01:00:01/random", "");
    add_ride(store, "F0:AA:1B:01:00:01/public", "f0:aa:1b:01:00:02");
    add_ride(store, "unix:f0:aa:1b:01:00", "");
    add_ride(store, "F0:AA:1B:01:00:01 of old", "");
    store_close(store);
    fixture_execute("ALTER TABLE brake DROP COLUMN ridden_permille;"
                    "INSERT INTO brake VALUES ('F0:AA:1B:01:00:01/random', 1, 2, 3, 4);"
                    "DROP TABLE device; PRAGMA user_version = 7");
    store = fixture_open();
    assert_int_equal(count_on(store, ADDRESS), 2);
    assert_int_equal(count_on(store, "unix:f0:aa:1b:01:00"), 1);
    assert_int_equal(count_on(store, "F0:AA:1B:01:00:01 of old"), 1);
    assert_int_equal(fixture_ask(fixture_database, "SELECT count(*) FROM ride WHERE "
                                                   "power_sensor = '" ANOTHER "'"),
                     1);
    assert_int_equal(
        fixture_ask(fixture_database, "SELECT count(*) FROM brake WHERE bike = '" ADDRESS "'"), 1);
    store_close(store);
}

#define TEST(test) cmocka_unit_test_setup_teardown(test, fixture_set_up, fixture_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_bike_paired_since_is_the_one_it_was),
        TEST(one_whose_address_never_changed_goes_by_its_name_too),
        TEST(a_second_bike_of_that_name_is_another),
        TEST(what_was_learned_of_its_brake_goes_with_it),
        TEST(a_power_sensor_is_called_likewise_and_apart),
        TEST(nothing_is_half_done),
        TEST(typed_addresses_become_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
