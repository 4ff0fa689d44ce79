/* What the page of today says of remembered devices while somebody looks for them. */
#include "app/reach.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

#include "app/discovery.h"

/* The discovery of this test: never finds anything by itself. */
static struct {
    struct scan scan; /* first: the port's handle */
    struct scan_user user;
    enum scan_trouble trouble; /* what the beginning comes to */
    unsigned closed;
} discovery;

static void on_close(struct scan *scan)
{
    assert_ptr_equal(scan, &discovery.scan);
    discovery.closed++;
}

static const struct scan_operations operations = {on_close};

enum scan_trouble discovery_open(struct loop *loop, const struct discovery_wish *wish,
                                 const struct scan_user *user, uint16_t *ret_index,
                                 struct scan **ret)
{
    (void)loop;
    assert_int_equal(wish->way, DISCOVERY_BY_ANY);
    assert_false(wish->has_adapter);
    *ret_index = 0;
    discovery.user = *user;
    discovery.scan.operations = &operations;
    if (discovery.trouble == SCAN_WORKS)
        *ret = &discovery.scan;
    return discovery.trouble;
}

static struct reach reach;
static struct devices devices;
static struct loop *loop;
static unsigned changes;

static void on_changed(void *user)
{
    assert_ptr_equal(user, &changes);
    changes++;
}

static struct sighting sighting_of(enum device_kind kind, int16_t signal_dbm)
{
    return (struct sighting){.address = devices.list[kind].address, .signal_dbm = signal_dbm};
}

static void see(const struct sighting *sighting)
{
    discovery.user.seen(discovery.user.user, sighting);
}

static void assert_says(enum device_kind kind, const char *expected)
{
    char line[REACH_LINE_MAX];
    reach_describe(&reach, &devices, kind, line);
    assert_string_equal(line, expected);
}

static int set_up(void **state)
{
    (void)state;
    memset(&discovery, 0, sizeof discovery);
    memset(&reach, 0, sizeof reach);
    changes = 0;
    devices = (struct devices){0};
    devices.list[DEVICE_MACHINE] =
        (struct device){{{0x9A, 0x78, 0x56, 0x34, 0x12, 0xC0}, ADDRESS_RANDOM}, "Cellar"};
    devices.list[DEVICE_STRAP] =
        (struct device){{{0x01, 0x00, 0x01, 0x1B, 0xAA, 0xF0}, ADDRESS_PUBLIC}, ""};
    loop = loop_new(LOOP_STEPPED, 1e6);
    return loop == NULL;
}

static int tear_down(void **state)
{
    (void)state;
    reach_end(&reach);
    loop_free(loop);
    return 0;
}

static void each_is_told_of_once(void **state)
{
    (void)state;
    const struct sighting bike = sighting_of(DEVICE_MACHINE, -61);
    const struct sighting strap = sighting_of(DEVICE_STRAP, 0);
    struct sighting other = bike;

    assert_says(DEVICE_MACHINE, "Cellar, C0:12:34:56:78:9A, remembered");
    reach_begin(&reach, &devices, loop, on_changed, &changes);
    assert_int_equal(changes, 1);
    assert_says(DEVICE_MACHINE, "Cellar, C0:12:34:56:78:9A, looking for it");
    other.address.type = ADDRESS_PUBLIC; /* the same octets, another device */
    see(&other);
    assert_int_equal(changes, 1);
    see(&bike);
    see(&bike);
    assert_int_equal(changes, 2);
    assert_says(DEVICE_MACHINE, "Cellar, C0:12:34:56:78:9A, in reach (-61 dBm)");
    assert_says(DEVICE_STRAP, "F0:AA:1B:01:00:01, looking for it");
    see(&strap);
    assert_says(DEVICE_STRAP, "F0:AA:1B:01:00:01, in reach");
    reach_end(&reach);
    assert_int_equal(discovery.closed, 1);
}

/* Its name comes in a report of its own. */
static void one_whose_address_changes_is_known_by_its_name(void **state)
{
    struct sighting bike = {.address = {{7, 0, 0, 0, 0, 0x7F}, ADDRESS_RANDOM}, .signal_dbm = -70};

    (void)state;
    devices.list[DEVICE_MACHINE].address.octets[5] = 0x40;
    reach_begin(&reach, &devices, loop, on_changed, &changes);
    strcpy(bike.name, "Cellar");
    see(&bike);
    assert_says(DEVICE_MACHINE, "Cellar, 40:12:34:56:78:9A, looking for it");
    bike.name[0] = '\0';
    bike.offers = 1u << DEVICE_MACHINE;
    see(&bike);
    assert_says(DEVICE_MACHINE, "Cellar, 40:12:34:56:78:9A, in reach (-70 dBm)");
}

static void stop_loop(void *user)
{
    loop_stop(user);
}

static void silence_is_told_of_after_ten_seconds(void **state)
{
    (void)state;
    const struct sighting strap = sighting_of(DEVICE_STRAP, -80);

    reach_begin(&reach, &devices, loop, on_changed, &changes);
    see(&strap);
    (void)loop_set_timer(loop, loop_now_ms(loop) + REACH_SILENT_MS + 1, stop_loop, loop);
    loop_run(loop);
    assert_int_equal(changes, 3);
    assert_says(DEVICE_MACHINE, "Cellar, C0:12:34:56:78:9A, not heard; turn the pedals, or "
                                "wet the strap, to wake it");
    assert_says(DEVICE_STRAP, "F0:AA:1B:01:00:01, in reach (-80 dBm)");
}

static void nobody_looks(void **state)
{
    static const struct {
        enum scan_trouble trouble;
        const char *says;
    } rows[] = {
        {SCAN_NO_ADAPTER, "Cellar, C0:12:34:56:78:9A, out of reach: no Bluetooth adapter "
                          "that works"},
        {SCAN_NOT_ALLOWED, "Cellar, C0:12:34:56:78:9A, remembered; called when you ride"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        discovery.trouble = rows[i].trouble;
        reach_begin(&reach, &devices, loop, on_changed, &changes);
        assert_says(DEVICE_MACHINE, rows[i].says);
        reach_end(&reach);
        assert_int_equal(discovery.closed, 0);
    }
}

static void the_adapter_goes_away(void **state)
{
    (void)state;
    reach_begin(&reach, &devices, loop, on_changed, &changes);
    discovery.user.stopped(discovery.user.user, SCAN_LOST);
    assert_int_equal(changes, 2);
    assert_int_equal(discovery.closed, 0); /* not from within its own call */
    assert_says(DEVICE_MACHINE, "Cellar, C0:12:34:56:78:9A, remembered; called when you ride");
    reach_end(&reach);
    assert_int_equal(discovery.closed, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_is_told_of_once, set_up, tear_down),
        cmocka_unit_test_setup_teardown(one_whose_address_changes_is_known_by_its_name, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(silence_is_told_of_after_ten_seconds, set_up, tear_down),
        cmocka_unit_test_setup_teardown(nobody_looks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_adapter_goes_away, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
