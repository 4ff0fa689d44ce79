/* Which bike a ride was on, of those that a receiver on USB hears. All names are invented. */
#include "app/called.h"

#include <string.h>

#include "io/link_address.h"
#include "port/brake_store.h"
#include "support/store_fixture.h"

static char bike[STORE_BIKE_MAX + 1];

static struct ride_options asked_for(const char *text)
{
    struct ride_options options = {.bike = text};

    assert_true(link_address_read(text, &options.bike_address));
    return options;
}

/* A ride on what was said, which then turned out to be that number; its id. */
static int64_t ride_on(struct store *store, const char *text, uint16_t number)
{
    const struct ride_options options = asked_for(text);
    struct store_ride ride = {.title = "Twenty on"};
    int64_t id;

    called_bike(store, &options, bike);
    memcpy(ride.bike, bike, sizeof bike);
    assert_int_equal(store_begin(store, &ride, &id), RESULT_OK);
    called_bike_found(store, id, &options, number, bike);
    assert_int_equal(store_end(store, id, STORE_FINISHED, &(struct store_summary){0}), RESULT_OK);
    return id;
}

static void assert_kept(struct store *store, int64_t id, const char *expected)
{
    struct store_ride ride;

    assert_int_equal(store_get(store, id, &ride), RESULT_OK);
    assert_string_equal(ride.bike, expected);
}

static void assert_called(struct store *store, const char *text, const char *expected)
{
    const struct ride_options options = asked_for(text);

    called_bike(store, &options, bike);
    assert_string_equal(bike, expected);
}

static void the_first_that_is_heard_is_the_one_of_its_number(void **state)
{
    const struct device remembered = {{{0}, ADDRESS_USB}, "Trainer"};
    struct store *store = fixture_open();

    (void)state;
    assert_kept(store, ride_on(store, "usb:815", 815), "usb:815");
    assert_called(store, "usb", "usb");
    assert_kept(store, ride_on(store, "usb", 815), "usb:815");
    assert_string_equal(bike, "usb:815");
    assert_called(store, "usb", "usb:815");
    called_device(store, STORE_BIKE, &remembered, bike);
    assert_string_equal(bike, "usb:815");
    store_close(store);
}

/* As before numbers were kept, and where it was never heard. */
static void what_was_kept_without_a_number_goes_with_the_first(void **state)
{
    const struct brake_curve learned = {{1, 2, 3, 4}, 5};
    struct brake_curve curve;
    struct store *store = fixture_open();

    (void)state;
    const int64_t before = ride_on(store, "usb", 0);
    assert_kept(store, before, "usb");
    assert_int_equal(store_keep_brake(store, "usb", &learned), RESULT_OK);
    (void)ride_on(store, "usb", 815);
    assert_kept(store, before, "usb:815");
    assert_int_equal(store_brake(store, "usb:815", &curve), RESULT_OK);
    assert_memory_equal(&curve, &learned, sizeof curve);
    store_close(store);
}

static void another_bike_is_another_and_is_the_next_that_is_called(void **state)
{
    struct store *store = fixture_open();

    (void)state;
    const int64_t first = ride_on(store, "usb", 815), second = ride_on(store, "usb", 4711);
    assert_kept(store, first, "usb:815");
    assert_kept(store, second, "usb:4711");
    assert_called(store, "usb", "usb:4711");
    assert_kept(store, ride_on(store, "usb", 815), "usb:815");
    assert_kept(store, second, "usb:4711");
    assert_called(store, "usb", "usb:815");
    store_close(store);
}

static void others_are_kept_as_they_were_named(void **state)
{
    const char *const named[] = {"usb:4711", "usb@1-2", "usb@/tmp/receiver", "unix:/tmp/bike"};
    struct store *store = fixture_open();

    (void)state;
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++) {
        assert_kept(store, ride_on(store, named[i], 815), named[i]);
        assert_string_equal(bike, named[i]);
    }
    assert_called(store, "usb", "usb");
    assert_called(NULL, "usb", "usb");
    store_close(store);
}

/* Neither the ride nor what is called so: one without the other would be of another bike. */
static void nothing_is_half_done(void **state)
{
    struct store *store = fixture_open();

    (void)state;
    const int64_t first = ride_on(store, "usb", 815);
    fixture_execute("CREATE TRIGGER refuse BEFORE UPDATE OF bike ON ride WHEN NEW.bike = 'usb:9' "
                    "BEGIN SELECT RAISE(FAIL, 'refused'); END");
    assert_kept(store, ride_on(store, "usb", 9), "usb:815");
    assert_string_equal(bike, "usb:815");
    assert_called(store, "usb", "usb:815");
    assert_kept(store, first, "usb:815");
    store_close(store);
}

#define TEST(test) cmocka_unit_test_setup_teardown(test, fixture_set_up, fixture_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_first_that_is_heard_is_the_one_of_its_number),
        TEST(what_was_kept_without_a_number_goes_with_the_first),
        TEST(another_bike_is_another_and_is_the_next_that_is_called),
        TEST(others_are_kept_as_they_were_named),
        TEST(nothing_is_half_done),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
