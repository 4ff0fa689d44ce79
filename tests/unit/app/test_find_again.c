/*
 * Remembered devices that have another address by now: what a ride calls, and what is remembered.
 */
#include "app/find_again.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <unistd.h>

#include "app/devices_file.h"
#include "app/discovery.h"

#define REPORTS_MAX 3u

static char folder[] = "/tmp/test_find_again.XXXXXX";

/* The discovery of this test: reports what is there, and comes to its end. */
static struct {
    struct scan scan; /* first: the port's handle */
    struct scan_user user;
    struct sighting reports[REPORTS_MAX];
    size_t count;
    unsigned opened, closed;
    enum scan_trouble trouble;
} discovery;

static void on_close(struct scan *scan)
{
    assert_ptr_equal(scan, &discovery.scan);
    discovery.closed++;
}

static const struct scan_operations operations = {on_close};

static void report_all(void *user)
{
    (void)user;
    for (size_t i = 0; i < discovery.count; i++)
        discovery.user.seen(discovery.user.user, &discovery.reports[i]);
    discovery.user.stopped(discovery.user.user, SCAN_LOST);
}

enum scan_trouble discovery_open(struct loop *loop, const struct discovery_wish *wish,
                                 const struct scan_user *user, uint16_t *ret_index,
                                 struct scan **ret)
{
    assert_int_equal(wish->way, DISCOVERY_BY_ANY);
    *ret_index = 0;
    discovery.opened++;
    discovery.user = *user;
    discovery.scan.operations = &operations;
    if (discovery.trouble != SCAN_WORKS)
        return discovery.trouble;
    *ret = &discovery.scan;
    (void)loop_set_timer(loop, 0, report_all, NULL);
    return SCAN_WORKS;
}

static struct device_address private_address(uint8_t last_octet)
{
    return (struct device_address){{last_octet, 0, 0, 0, 0, 0x40}, ADDRESS_RANDOM};
}

static const struct device_address identity = {{1, 2, 3, 4, 5, 6}, ADDRESS_PUBLIC};

static void add_report(struct device_address address, enum device_kind kind, const char *name)
{
    struct sighting report = {.address = address, .offers = 1u << kind};
    strcpy(report.name, name);
    discovery.reports[discovery.count++] = report;
}

static struct ride_options options;

static void recall(void)
{
    static char ride[] = "ride", profile[] = "x.profile";
    char *arguments[] = {ride, profile, NULL};

    assert_int_equal(ride_options_read(2, arguments, &options), 0);
}

static void remember(struct device_address machine, struct device_address power,
                     struct device_address cadence)
{
    const struct devices devices = {.list = {[DEVICE_MACHINE] = {machine, "Bike"},
                                             [DEVICE_POWER] = {power, "Pedals"},
                                             [DEVICE_CADENCE] = {cadence, "Pedals"}}};
    assert_true(save_devices(&devices));
}

static void assert_remembered(enum device_kind kind, struct device_address address)
{
    struct devices devices;
    assert_true(load_devices(&devices));
    assert_true(device_address_is(&devices.list[kind].address, &address));
}

static int set_up(void **state)
{
    (void)state;
    memset(&discovery, 0, sizeof discovery);
    remember(private_address(1), private_address(2), private_address(2));
    return 0;
}

/* Names go with kinds, and a device that is two kinds has one address. */
static void what_has_another_address_is_called_there(void **state)
{
    (void)state;
    add_report(identity, DEVICE_MACHINE, "Bike");
    add_report(private_address(9), DEVICE_POWER, "Pedals");
    add_report(private_address(8), DEVICE_STRAP, "Bike");
    recall();
    assert_string_equal(options.bike, "Bike");
    find_again(&options);
    assert_int_equal(discovery.opened, 1);
    assert_int_equal(discovery.closed, 1);
    assert_true(device_address_is(&options.bike_address.device, &identity));
    assert_remembered(DEVICE_MACHINE, identity);
    assert_remembered(DEVICE_POWER, private_address(9));
    assert_remembered(DEVICE_CADENCE, private_address(9));
}

static void two_of_a_name_are_not_guessed_at(void **state)
{
    (void)state;
    add_report(private_address(7), DEVICE_MACHINE, "Bike");
    add_report(private_address(8), DEVICE_MACHINE, "Bike");
    recall();
    find_again(&options);
    assert_remembered(DEVICE_MACHINE, private_address(1));
    const struct device_address before = private_address(1);
    assert_true(device_address_is(&options.bike_address.device, &before));
}

static void where_nobody_may_look_it_is_called_as_before(void **state)
{
    (void)state;
    discovery.trouble = SCAN_NOT_ALLOWED;
    recall();
    find_again(&options);
    assert_int_equal(discovery.opened, 1);
    assert_remembered(DEVICE_MACHINE, private_address(1));
}

static void an_address_that_stays_is_not_looked_for(void **state)
{
    (void)state;
    remember(identity, identity, identity);
    recall();
    find_again(&options);
    assert_int_equal(discovery.opened, 0);
    assert_string_equal(options.bike, "Bike");
}

/* Paired while it was ridden, it was called there last. */
static void the_address_that_it_keeps_is_remembered(void **state)
{
    (void)state;
    struct ride_links links = {.bike.address.device = identity};
    recall();
    find_again_keep(&options, &links);
    assert_remembered(DEVICE_MACHINE, identity);
    assert_remembered(DEVICE_POWER, private_address(2));
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) == NULL ? -1 : setenv("XDG_DATA_HOME", folder, 1);
}

static int remove_folder(void **state)
{
    char path[96];

    (void)state;
    (void)snprintf(path, sizeof path, "%s/afterset/devices", folder);
    (void)unlink(path);
    (void)snprintf(path, sizeof path, "%s/afterset", folder);
    (void)rmdir(path);
    return rmdir(folder);
}

#define TEST(test) cmocka_unit_test_setup(test, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(what_has_another_address_is_called_there),
        TEST(two_of_a_name_are_not_guessed_at),
        TEST(where_nobody_may_look_it_is_called_as_before),
        TEST(an_address_that_stays_is_not_looked_for),
        TEST(the_address_that_it_keeps_is_remembered),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
