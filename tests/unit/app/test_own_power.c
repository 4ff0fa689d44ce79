/* Critical power out of rides in a store, and the reserve that goes by it. Riders are invented. */
#include "support/store_fixture.h"

#include <math.h>

#include "app/own_power.h"
#include "app/reserve_source.h"
#include "support/close.h"
#include "support/ridden.h"

static const uint32_t lengths_s[] = {120, 180, 240, 300, 360, 420};

/* As long as this power can be held by one of 200 W and 15 kJ: P = W' / t + CP. */
static void ride_all_out(struct store *store, size_t count, int32_t critical_w, bool is_fresh)
{
    for (size_t i = 0; i < count; i++) {
        const double power_w = critical_w + 15000.0 / lengths_s[i];
        (void)ridden(store, &(struct ridden){.work_s = lengths_s[i],
                                             .power_w = (int32_t)(power_w + 0.5),
                                             .is_fresh = is_fresh});
    }
}

static void what_the_rider_can_comes_out(void **state)
{
    struct store *store = fixture_open();
    struct critical_power fit;
    (void)state;
    ride_all_out(store, 6, 200, false);
    const struct own_power tired = own_power_collect(store, false);
    assert_int_equal(tired.rides, 6);
    assert_int_equal(own_power_fit(&tired, &fit), RESULT_OK);
    /* Watts are whole, and a reading's rise from the warm-up is in the first quarter of a second.
     */
    assert_close(fit.power_w, 200, 1);
    assert_close(fit.w_prime_j, 15000, 200);
    assert_true(fit.has_errors);
    store_close(store);
}

/* Pedals that read a tenth more than the bike: one ruler at a time, that of the newest. */
static void each_ruler_for_itself(void **state)
{
    struct store *store = fixture_open();
    (void)state;
    ride_all_out(store, 4, 200, false);
    assert_int_equal(own_power_collect(store, false).rides, 4);
    for (int i = 0; i < 2; i++)
        (void)ridden(store, &(struct ridden){
                                .power_w = 283, .power_sensor = "pedals", .sensor_told_pct = 110});
    assert_int_equal(own_power_collect(store, false).rides, 2);
    (void)ridden(store, &(struct ridden){.power_w = 283,
                                         .power_sensor = "pedals",
                                         .sensor_told_pct = 110,
                                         .sensor_falls_silent = true});
    assert_int_equal(own_power_collect(store, false).rides, 2);
    store_close(store);
}

/* A bike that was tried out or played back, and another's bike: nothing of the rider's own. */
static void own_legs_go_before_virtual_ones(void **state)
{
    static const char *const virtual_bikes[] = {"virtual", "unix:/bike", "capture:ride.btsnoop",
                                                "usb:815@/receiver"};
    static const char *const own_bikes[] = {"F0:AA:1B:01:00:01", "usb:815@1-2", "Invented bike"};
    struct store *store = fixture_open();
    (void)state;
    for (size_t own = 0; own < 3; own++) {
        for (size_t i = 0; i < 2; i++)
            (void)ridden(store, &(struct ridden){.bike = own_bikes[own], .power_w = 240});
        for (size_t i = 0; i < 4; i++)
            (void)ridden(store, &(struct ridden){.bike = virtual_bikes[i], .power_w = 400});
        assert_int_equal(own_power_collect(store, false).rides, 2);
    }
    store_close(store);
}

static void each_kind_for_itself(void **state)
{
    struct store *store = fixture_open();
    struct critical_power tired, fresh;
    (void)state;
    ride_all_out(store, 4, 180, false);
    ride_all_out(store, 3, 210, true);
    const struct own_power of_tired = own_power_collect(store, false);
    const struct own_power of_fresh = own_power_collect(store, true);
    assert_int_equal(own_power_fit(&of_tired, &tired), RESULT_OK);
    assert_int_equal(own_power_fit(&of_fresh, &fresh), RESULT_OK);
    assert_close(tired.power_w, 180, 2);
    assert_close(fresh.power_w, 210, 2);
    store_close(store);
}

static void too_little_is_no_fit(void **state)
{
    struct store *store = fixture_open();
    struct critical_power fit;
    (void)state;
    struct own_power efforts = own_power_collect(store, false);
    assert_int_equal(efforts.rides, 0);
    assert_int_equal(own_power_fit(&efforts, &fit), RESULT_NEED_MORE);
    ride_all_out(store, 2, 200, false);
    efforts = own_power_collect(store, false);
    assert_int_equal(own_power_fit(&efforts, &fit), RESULT_NEED_MORE);
    /* Other lengths at the same power were held, not spent. */
    (void)ridden(store, &(struct ridden){.work_s = 420, .power_w = 325});
    efforts = own_power_collect(store, false);
    assert_int_equal(own_power_fit(&efforts, &fit), RESULT_RANGE);
    store_close(store);
}

/* ---- the reserve ---- */

static struct ride_setup setup;
static struct reserve_run run;

static const char *source(struct store *store, uint16_t critical_w, uint32_t w_prime_j,
                          bool is_fresh)
{
    setup.rider.critical_power_w = critical_w;
    setup.rider.w_prime_j = w_prime_j;
    run = (struct reserve_run){0};
    return reserve_source_find(store, &setup, true, is_fresh, &run);
}

static void the_reserve_goes_by_what_is_known(void **state)
{
    struct store *store = fixture_open();
    (void)state;
    assert_null(source(NULL, 0, 0, false));
    assert_null(source(store, 210, 0, false)); /* W' is not known */
    assert_null(source(store, 0, 12000, false));
    assert_false(reserve_run_is_known(&run));
    assert_string_equal(source(store, 210, 12000, false), "as you set them");
    assert_close(run.reserve.critical_power_w, 210, 0);
    assert_close(run.reserve.w_prime_j, 12000, 0);
    ride_all_out(store, 4, 190, true);
    assert_null(source(store, 0, 0, false));
    assert_string_equal(source(store, 0, 0, true), "from your own best efforts when fresh");
    assert_close(run.reserve.critical_power_w, 190, 1);
    assert_close(run.reserve.w_prime_j, 15000, 200);
    assert_string_equal(source(store, 210, 12000, true), "as you set them");
    store_close(store);
}

/* Four efforts of which one is far from the others' line: W' is off by more than half of itself. */
static void too_rough_a_fit_is_left_out(void **state)
{
    struct store *store = fixture_open();
    struct critical_power fit;
    (void)state;
    ride_all_out(store, 2, 200, false);
    (void)ridden(store, &(struct ridden){.work_s = 240, .power_w = 320});
    (void)ridden(store, &(struct ridden){.work_s = 300, .power_w = 262});
    const struct own_power efforts = own_power_collect(store, false);
    assert_int_equal(own_power_fit(&efforts, &fit), RESULT_RANGE);
    assert_null(source(store, 0, 0, false));
    store_close(store);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_the_rider_can_comes_out, fixture_set_up,
                                        fixture_tear_down),
        cmocka_unit_test_setup_teardown(each_kind_for_itself, fixture_set_up, fixture_tear_down),
        cmocka_unit_test_setup_teardown(own_legs_go_before_virtual_ones, fixture_set_up,
                                        fixture_tear_down),
        cmocka_unit_test_setup_teardown(each_ruler_for_itself, fixture_set_up, fixture_tear_down),
        cmocka_unit_test_setup_teardown(too_little_is_no_fit, fixture_set_up, fixture_tear_down),
        cmocka_unit_test_setup_teardown(the_reserve_goes_by_what_is_known, fixture_set_up,
                                        fixture_tear_down),
        cmocka_unit_test_setup_teardown(too_rough_a_fit_is_left_out, fixture_set_up,
                                        fixture_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
