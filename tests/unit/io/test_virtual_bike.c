/* The virtual bike through the real client: what it offers, how it is controlled, how it rides. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "support/virtual_ride.h"
#include "wire/gatt.h"

static struct virtual_ride ride;

static void near(double found, double wanted, double tolerance)
{
    if (!(found >= wanted - tolerance && found <= wanted + tolerance))
        fail_msg("found %.9g, wanted %.9g within %g", found, wanted, tolerance);
}

/* A link without a client on it, for octets written by hand. */
static void begin_by_hand(void)
{
    ride_begin(&ride, NULL, NULL, 1);
    virtual_bike_disconnect(&ride.bike, 0);
    virtual_bike_connect(&ride.bike, 0);
}

/* One request straight to the bike; the answer is what comes first. */
static void ask(const char *request, const char *answer)
{
    uint8_t pdu[ATT_MTU_MAX], found[ATT_MTU_MAX];
    size_t length = octets_from_text(request, pdu, sizeof(pdu));
    virtual_bike_receive(&ride.bike, ride.t_ms, pdu, length);
    length = virtual_bike_next_pdu(&ride.bike, found);
    assert_octets(found, length, answer);
}

static void offers_its_services(void **state)
{
    static const struct {
        uint16_t service, characteristic;
        uint8_t properties;
        bool has_config;
    } rows[] = {
        {0x1800, 0x2A00, GATT_READ, false},
        {0x1800, 0x2A01, GATT_READ, false},
        {0x180A, 0x2A29, GATT_READ, false},
        {0x180A, 0x2A24, GATT_READ, false},
        {0x1826, 0x2ACC, GATT_READ, false},
        {0x1826, 0x2AD2, GATT_NOTIFY, true},
        {0x1826, 0x2AD3, GATT_READ | GATT_NOTIFY, true},
        {0x1826, 0x2AD8, GATT_READ, false},
        {0x1826, 0x2AD9, GATT_WRITE | GATT_INDICATE, true},
        {0x1826, 0x2ADA, GATT_NOTIFY, true},
        {0x180D, 0x2A37, GATT_NOTIFY, true},
        {0x180D, 0x2A38, GATT_READ, false},
    };
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_until(&ride, 1000);
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        const struct gatt_characteristic *found =
            gatt_client_find(&ride.client.gatt, rows[i].service, rows[i].characteristic);
        if (found == NULL || found->properties != rows[i].properties ||
            (found->client_config_handle != 0) != rows[i].has_config)
            fail_msg("%04X in %04X", rows[i].characteristic, rows[i].service);
    }
    assert_null(gatt_client_find(&ride.client.gatt, 0x1826, 0x2AD6)); /* takes no level */
}

/* Request octets to answer octets, built by hand from the tables of the attribute protocol. */
static void speaks_the_octets_of_the_standards(void **state)
{
    (void)state;
    begin_by_hand();
    ask("02 05 02", "03 F7 00");                         /* MTU: 247 of its own */
    ask("06 01 00 FF FF 00 28 26 18", "07 0E 00 1E 00"); /* its Fitness Machine Service */
    ask("0A 10 00", "0B 06 54 00 00 08 00 00 00");       /* features 1, 2, 10, 12, 14; power */
    ask("0A 18 00", "0B 00 00 58 02 01 00");             /* 0 to 600 W step 1 */
    ask("0A 15 00", "0B 00 01");                         /* idle */
    ask("0A 1A 00", "01 0A 1A 00 02");                   /* the control point is not read */
    ask("12 1A 00 00", "01 12 1A 00 FD");                /* its indications are off */
    ask("12 1B 00 02 00", "13");
    ask("12 1A 00", "01 12 1A 00 0D");
}

static void has_a_machine_to_control(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_until(&ride, 1000);
    assert_true(ride.is_ready);
    assert_true(ride.machine.takes_power);
    assert_false(ride.machine.takes_level);
    assert_int_equal(ride.machine.power_w.minimum, 0);
    assert_int_equal(ride.machine.power_w.maximum, 600);
    assert_int_equal(ride.machine.power_w.increment, 1);
}

/* Fitness Machine Service 1.0.1, tables 4.15 and 4.24. */
static void answers_as_the_service_says(void **state)
{
    static const struct {
        uint8_t opcode;
        int16_t value;
        unsigned result;
    } rows[] = {
        {FTMS_SET_POWER, 100, FTMS_CONTROL_NOT_PERMITTED},
        {FTMS_START_OR_RESUME, 0, FTMS_CONTROL_NOT_PERMITTED},
        {FTMS_REQUEST_CONTROL, 0, FTMS_SUCCESS},
        {FTMS_STOP_OR_PAUSE, 1, FTMS_OPERATION_FAILED}, /* already so */
        {FTMS_START_OR_RESUME, 0, FTMS_SUCCESS},
        {FTMS_START_OR_RESUME, 0, FTMS_OPERATION_FAILED},
        {FTMS_SET_POWER, 0, FTMS_SUCCESS},
        {FTMS_SET_POWER, 600, FTMS_SUCCESS},
        {FTMS_SET_POWER, 601, FTMS_INVALID_PARAMETER},
        {FTMS_SET_POWER, -1, FTMS_INVALID_PARAMETER},
        {FTMS_SET_RESISTANCE, 10, FTMS_NOT_SUPPORTED},
        {FTMS_STOP_OR_PAUSE, 1, FTMS_SUCCESS},
        {FTMS_STOP_OR_PAUSE, 2, FTMS_OPERATION_FAILED},
    };
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_until(&ride, 2000);
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        unsigned result = ride_command(&ride, rows[i].opcode, rows[i].value);
        if (result != rows[i].result)
            fail_msg("row %zu: %#x", i, result);
    }
}

/* Commands that no client of ours sends. */
static void refuses_what_it_does_not_know(void **state)
{
    static const char *const rows[][2] = {
        {"12 1A 00 00", "1D 1A 00 80 00 01"},    {"12 1A 00 08", "1D 1A 00 80 08 03"},
        {"12 1A 00 08 03", "1D 1A 00 80 08 03"}, {"12 1A 00 05 64", "1D 1A 00 80 05 03"},
        {"12 1A 00 13 01", "1D 1A 00 80 13 02"}, {"12 1A 00 80", "1D 1A 00 80 80 02"},
        {"12 1A 00 01", "1D 1A 00 80 01 01"},    {"12 1A 00 05 64 00", "1D 1A 00 80 05 05"},
    };
    (void)state;
    begin_by_hand();
    ask("12 1B 00 02 00", "13");
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        uint8_t pdu[ATT_MTU_MAX];
        ask(rows[i][0], "13");
        assert_octets(pdu, virtual_bike_next_pdu(&ride.bike, pdu), rows[i][1]);
        ask("12 1A 00 00", "01 12 1A 00 FE"); /* not confirmed, so still under way */
        virtual_bike_receive(&ride.bike, ride.t_ms, (const uint8_t[]){0x1E}, 1);
    }
}

/* A procedure ends with its answer, and until then there is no other (4.16.3). */
static void is_busy_until_it_has_answered(void **state)
{
    uint8_t pdu[ATT_MTU_MAX];
    (void)state;
    begin_by_hand();
    ride.bike.machine.config.answer_delay_ms = 500;
    ask("12 1B 00 02 00", "13");
    ask("12 1A 00 00", "13");
    ask("12 1A 00 07", "01 12 1A 00 FE");
    virtual_bike_advance(&ride.bike, 490);
    assert_int_equal(virtual_bike_next_pdu(&ride.bike, pdu), 0);
    virtual_bike_advance(&ride.bike, virtual_bike_next_ms(&ride.bike));
    assert_octets(pdu, virtual_bike_next_pdu(&ride.bike, pdu), "1D 1A 00 80 00 01");
    assert_int_equal(ride.bike.now_ms, 500);
}

static void tells_its_status(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_start_at(&ride, 3000, FTMS_SET_POWER, 150);
    assert_int_equal(ride.status_count[FTMS_STATUS_STARTED_BY_USER], 1);
    assert_int_equal(ride.last_status.opcode, FTMS_STATUS_POWER_CHANGED);
    assert_int_equal(ride.last_status.parameter, 150);
    assert_int_equal(ride.training_status, 0x0C); /* watt control */
    assert_int_equal(ride_command(&ride, FTMS_STOP_OR_PAUSE, 2), FTMS_SUCCESS);
    assert_int_equal(ride.last_status.opcode, FTMS_STATUS_STOPPED_BY_USER);
    assert_int_equal(ride.last_status.parameter, 2);
    assert_int_equal(ride.training_status, 0x01); /* idle */
    ride_until(&ride, 20000);
    assert_true(ride_mean_power_w(&ride, 15000, 20000) < 100); /* and has let go */
}

/* ---- how it rides ---- */

static void begins_to_pedal_after_a_moment(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_until(&ride, 20000);
    near(ride_mean_cadence_rpm(&ride, 0, 1501), 0, 0);
    assert_true(ride_mean_cadence_rpm(&ride, 2000, 3000) > 0);
    near(ride_mean_cadence_rpm(&ride, 12000, 20000), 88, 4);
    for (size_t i = 0; i < ride.record_count; i++)
        assert_true(ride.records[i].cadence_rpm < 110); /* nobody spins up past all reason */
}

static void sends_four_records_a_second(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_until(&ride, 20000);
    assert_int_equal(ride_records_between(&ride, 10000, 20000), 40);
    assert_int_equal(ride.odd_frame_count, 0);
}

/* 3 to 9 s from a command to 90 % of it in a mean of 3 s: riders on a laboratory ergometer, Weigend
 * et al. 2022; no faster than the mean itself, no slower than those. */
static void takes_seconds_to_a_new_power(void **state)
{
    uint64_t reached_ms = 0;
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_start_at(&ride, 20000, FTMS_SET_POWER, 60);
    ride_until(&ride, 40000);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 200), FTMS_SUCCESS);
    ride_until(&ride, 80000);
    for (uint64_t t_ms = 41000; reached_ms == 0 && t_ms < 80000; t_ms += 250)
        if (ride_mean_power_w(&ride, t_ms - 3000, t_ms) >= 180)
            reached_ms = t_ms - 40000;
    assert_in_range(reached_ms, 2500, 6000);
    near(ride_mean_power_w(&ride, 50000, 80000), 200, 4);
}

/* The same data: deviation of samples of 1 s 4.1 to 14.5 % of power, autocorrelation -0.11 to 0.37;
 * deviation of cadence 0.9 to 5.4 /min. */
static void is_as_unsteady_as_riders_are(void **state)
{
    double power[600], cadence_squares = 0, squares = 0, products = 0;
    size_t count = 0;
    (void)state;
    ride_begin(&ride, NULL, NULL, 3);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 150);
    ride_until(&ride, 330000);
    double mean_w = ride_mean_power_w(&ride, 30000, 330000);
    double mean_rpm = ride_mean_cadence_rpm(&ride, 30000, 330000);
    for (size_t i = 0; i < ride.record_count; i++) {
        if (ride.records[i].t_ms < 30000 || ride.records[i].t_ms % 1000 != 0)
            continue;
        power[count++] = ride.records[i].power_w - mean_w;
        cadence_squares += pow(ride.records[i].cadence_rpm - mean_rpm, 2);
    }
    assert_in_range(count, 290, 310);
    for (size_t i = 0; i < count; i++) {
        squares += power[i] * power[i];
        products += i > 0 ? power[i] * power[i - 1] : 0;
    }
    double deviation = sqrt(squares / (double)count) / mean_w;
    double cadence_deviation = sqrt(cadence_squares / (double)count);
    assert_true(deviation > 0.041 && deviation < 0.145);
    assert_true(products / squares > -0.11 && products / squares < 0.37);
    assert_true(cadence_deviation > 0.9 && cadence_deviation < 5.4);
}

static void counts_time_and_distance(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 100);
    ride_until(&ride, 70000);
    const struct ride_record *last = &ride.records[ride.record_count - 1];
    near(last->elapsed_s, 60, 1);
    /* 6 m a turn; 60 s at 88 /min are 528 m. */
    size_t before = ride.record_count - 241;
    near(last->distance_m - ride.records[before].distance_m, 528, 15);
}

static void the_heart_follows_the_work(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_start_at(&ride, 5000, FTMS_SET_POWER, 240);
    ride_until(&ride, 185000);
    unsigned at_begin_bpm = ride.records[20].heart_bpm;
    unsigned hard_bpm = ride.records[ride.record_count - 1].heart_bpm;
    assert_in_range(at_begin_bpm, 55, 80);
    assert_in_range(hard_bpm, 160, 190);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 50), FTMS_SUCCESS);
    ride_until(&ride, 245000);
    unsigned rested_bpm = ride.records[ride.record_count - 1].heart_bpm;
    assert_in_range(hard_bpm - rested_bpm, 20, 60); /* 14 to 40 in 60 s is common; more is fit */
}

/* ---- links and chance ---- */

static void forgets_a_central_that_left(void **state)
{
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_start_at(&ride, 10000, FTMS_SET_POWER, 250);
    ride_until(&ride, 30000);
    ride_reconnect(&ride);
    size_t frames = ride.frame_count;
    ride_until(&ride, 50000);
    assert_true(ride.frame_count > frames); /* the client subscribed anew */
    assert_true(ride_mean_power_w(&ride, 40000, 50000) < 100);
    assert_int_equal(ride_command(&ride, FTMS_SET_POWER, 250), FTMS_CONTROL_NOT_PERMITTED);
    assert_int_equal(ride_command(&ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(&ride, FTMS_START_OR_RESUME, 0), FTMS_SUCCESS);
}

static void is_quiet_until_subscribed(void **state)
{
    uint8_t pdu[ATT_MTU_MAX];
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    ride_until(&ride, 5000);
    virtual_bike_disconnect(&ride.bike, 5000);
    assert_true(virtual_bike_next_ms(&ride.bike) == VIRTUAL_BIKE_NEVER);
    virtual_bike_advance(&ride.bike, 7000);
    assert_int_equal(virtual_bike_next_pdu(&ride.bike, pdu), 0);
    virtual_bike_connect(&ride.bike, 8000);
    virtual_bike_advance(&ride.bike, 10000);
    assert_int_equal(virtual_bike_next_pdu(&ride.bike, pdu), 0);
}

static uint64_t octets_of_seed(uint64_t seed)
{
    ride_begin(&ride, "garbage", NULL, seed);
    ride_until(&ride, 60000);
    return ride.octets_hash;
}

static void the_same_seed_gives_the_same_octets(void **state)
{
    (void)state;
    uint64_t first = octets_of_seed(42);
    assert_true(octets_of_seed(42) == first);
    assert_true(octets_of_seed(43) != first);
}

/* In one stride or in many: a ride depends on what is asked when, not on how often one looks. */
static void a_long_sleep_is_no_different(void **state)
{
    static struct virtual_bike often;
    const struct virtual_machine_config *machine = &ride.bike.machine.config;
    const struct virtual_rider_config *rider = &ride.bike.rider.config;
    (void)state;
    ride_begin(&ride, NULL, NULL, 5);
    assert_int_equal(virtual_bike_init(&often, machine, rider, 5), RESULT_OK);
    virtual_bike_connect(&often, 0);
    for (uint64_t t_ms = 0; t_ms <= 300000; t_ms += 7)
        virtual_bike_advance(&often, t_ms);
    virtual_bike_advance(&often, 300000);
    virtual_bike_advance(&ride.bike, 300000);
    near(ride.bike.machine.distance_m, often.machine.distance_m, 0);
    near(ride.bike.rider.reserve_j, often.rider.reserve_j, 0);
    ride.bike.control.started = true;
    ride.bike.machine.config.stopped_at_ms = 895000;
    virtual_bike_advance(&ride.bike, UINT64_MAX / 2); /* ends: of such a gap ten minutes count */
    assert_true(virtual_bike_next_ms(&ride.bike) > UINT64_MAX / 2 - 2000);
    assert_false(ride.bike.control.started);
}

/* A response or an indication would speak for the server: strays have even opcodes. */
static void strays_speak_for_nobody(void **state)
{
    uint8_t pdu[ATT_MTU_MAX];
    unsigned strays = 0;
    (void)state;
    begin_by_hand();
    ride.bike.machine.config.garbage_share = 0.5;
    ask("12 13 00 01 00", "13");
    for (uint64_t t_ms = 0; t_ms < 100000; t_ms += 50) {
        virtual_bike_advance(&ride.bike, t_ms);
        for (size_t length; (length = virtual_bike_next_pdu(&ride.bike, pdu)) > 0;) {
            assert_true(length <= ATT_MTU_DEFAULT);
            assert_true(pdu[0] == ATT_NOTIFICATION || pdu[0] % 2 == 0);
            strays += pdu[0] != ATT_NOTIFICATION;
        }
    }
    assert_in_range(strays, 150, 300);
}

static void survives_any_octets(void **state)
{
    struct virtual_random chance = {.state = 1826};
    uint8_t pdu[ATT_PDU_BUFFER], sent[ATT_MTU_MAX];
    (void)state;
    ride_begin(&ride, NULL, NULL, 1);
    for (uint64_t t_ms = 0; t_ms < 40000; t_ms++) {
        size_t length = virtual_random_below(&chance, t_ms % 16 == 0 ? sizeof(pdu) : 24);
        for (size_t i = 0; i < length; i++)
            pdu[i] = (uint8_t)virtual_random_next(&chance);
        if (length > 2 && t_ms % 3 != 0) { /* mostly writes, mostly where something is */
            pdu[0] = t_ms % 7 == 0 ? ATT_CONFIRMATION : ATT_WRITE_REQUEST;
            pdu[1] = (uint8_t)(0x12 + pdu[1] % 16);
            pdu[2] = 0;
        }
        virtual_bike_receive(&ride.bike, t_ms, pdu, length);
        while (t_ms % 5 != 0 && virtual_bike_next_pdu(&ride.bike, sent) > 0)
            ;
    }
    double omega = ride.bike.machine.brake.omega;
    assert_true(omega >= 0 && omega < 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(offers_its_services),
        cmocka_unit_test(speaks_the_octets_of_the_standards),
        cmocka_unit_test(has_a_machine_to_control),
        cmocka_unit_test(answers_as_the_service_says),
        cmocka_unit_test(refuses_what_it_does_not_know),
        cmocka_unit_test(is_busy_until_it_has_answered),
        cmocka_unit_test(tells_its_status),
        cmocka_unit_test(begins_to_pedal_after_a_moment),
        cmocka_unit_test(sends_four_records_a_second),
        cmocka_unit_test(takes_seconds_to_a_new_power),
        cmocka_unit_test(is_as_unsteady_as_riders_are),
        cmocka_unit_test(counts_time_and_distance),
        cmocka_unit_test(the_heart_follows_the_work),
        cmocka_unit_test(forgets_a_central_that_left),
        cmocka_unit_test(is_quiet_until_subscribed),
        cmocka_unit_test(the_same_seed_gives_the_same_octets),
        cmocka_unit_test(a_long_sleep_is_no_different),
        cmocka_unit_test(strays_speak_for_nobody),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
