/* Machine and rider files: what they may say, and the fault to the column when they say else. */
#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "io/virtual_config.h"
#include "support/virtual_ride.h"

struct fault_row {
    const char *text;
    uint32_t line, column;
    const char *says; /* part of the message */
};

static void check_fault(const struct fault_row *row, enum result result,
                        const struct text_fault *fault)
{
    if (result != RESULT_INVALID || fault->line != row->line || fault->column != row->column ||
        strstr(fault->message, row->says) == NULL)
        fail_msg("'%s': %d %u:%u '%s'", row->text, (int)result, fault->line, fault->column,
                 fault->message);
}

static void finds_faults_in_machines(void **state)
{
    static const struct fault_row rows[] = {
        {"colour red", 1, 1, "a key of machine files, found 'colour'"},
        {"# fine\nname A\n  mut 5", 3, 3, "found 'mut'"},
        {"name", 1, 5, "a name"},
        {"name 12345678901234567890123456789012345678901", 1, 6, "40 octets"},
        {"control", 1, 8, "power, level"},
        {"control power steer", 1, 15, "found 'steer'"},
        {"control power power", 1, 15, "found 'power'"},
        {"control none power", 1, 14, "the end of the line"},
        {"features maybe", 1, 10, "yes or no"},
        {"features yes yes", 1, 14, "the end of the line"},
        {"data-rate 4", 1, 12, "Hz"},
        {"data-rate 4 W", 1, 13, "Hz"},
        {"data-rate 0 Hz", 1, 11, "0.2 to 20 Hz"},
        {"data-rate 4,5 Hz", 1, 11, "found '4,5'"},
        {"data-rate -4 Hz", 1, 11, "found '-4'"},
        {"mtu 22 octets", 1, 5, "23 to 517 octets"},
        {"mtu 99999999999 octets", 1, 5, "23 to 517 octets"},
        {"mtu 23.5 octets", 1, 5, "23 to 517 octets"},
        {"power-range 600..0 W step 1", 1, 13, "a range within"},
        {"power-range 0..6000 W step 1", 1, 13, "a range within"},
        {"power-range 0..600 step 1", 1, 20, "W"},
        {"power-range 0..600 W", 1, 21, "step"},
        {"power-range 0..600 W step 0", 1, 27, "a step within"},
        {"power-range 0..600 W step 601", 1, 27, "a step within"},
        {"answer-delay 1500", 1, 18, "s or ms"},
        {"answer-delay 1.5 ms", 1, 14, "a time"},
        {"answer-delay 86401 s", 1, 14, "a time"},
        {"garbage 101 %", 1, 9, "0 to 100 %"},
        {"mtu 23 octets\nmtu 24 octets", 2, 1, "each key once"},
        {"name caf\xC3", 1, 9, "UTF-8"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct virtual_machine_config config = {.mtu = 77};
        struct text_fault fault = {0};
        enum result result =
            virtual_machine_read(rows[i].text, strlen(rows[i].text), &config, &fault);
        check_fault(&rows[i], result, &fault);
        assert_int_equal(config.mtu, 77); /* a faulty file changes nothing */
        assert_string_equal(config.name, "");
    }
}

static void finds_faults_in_riders(void **state)
{
    static const struct fault_row rows[] = {
        {"mtu 23 octets", 1, 1, "a key of rider files"},
        {"critical-power 200 J", 1, 20, "W"},
        {"critical-power 700 W", 1, 16, "20 to 600 W"},
        {"critical-power 500 W\npeak-power 400 W\n", 3, 1, "peak-power above critical-power"},
        {"heart-max 100 bpm\nheart-rest 100 bpm\n", 3, 1, "heart-max above heart-rest"},
        {"rest-at soon", 1, 9, "a time"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct virtual_rider_config config = virtual_rider_default();
        struct text_fault fault = {0};
        enum result result =
            virtual_rider_read(rows[i].text, strlen(rows[i].text), &config, &fault);
        check_fault(&rows[i], result, &fault);
    }
}

static void reads_what_is_written(void **state)
{
    static const char text[] = "name  Two words  # and a comment\n"
                               "control level power\n"
                               "features no\n"
                               "power-range 20..400 W step 5\n"
                               "level-range 1.0..20 step 0.5\n"
                               "data-rate 2.5 Hz\n"
                               "knob 12.5 %\n"
                               "brake-lag 0.25 s\n"
                               "answer-delay 1.5 s\n"
                               "silent-after 1500 ms\n";
    struct virtual_machine_config config = virtual_machine_default();
    struct text_fault fault;
    (void)state;
    assert_int_equal(virtual_machine_read(text, sizeof(text) - 1, &config, &fault), RESULT_OK);
    assert_string_equal(config.name, "Two words");
    assert_true(config.takes_power && config.takes_level && !config.has_feature);
    assert_int_equal(config.power_w.minimum, 20);
    assert_int_equal(config.power_w.maximum, 400);
    assert_int_equal(config.power_w.increment, 5);
    assert_int_equal(config.level_tenths.minimum, 10);
    assert_int_equal(config.level_tenths.maximum, 200);
    assert_int_equal(config.level_tenths.increment, 5);
    assert_int_equal(config.data_interval_ms, 400);
    assert_true(config.knob == 0.125 && config.brake.lag_s == 0.25);
    assert_int_equal(config.answer_delay_ms, 1500);
    assert_int_equal(config.silent_after_ms, 1500);
    assert_int_equal(config.mtu, 247); /* unsaid, so as it was */
}

static bool ends_with(const char *name, const char *ending)
{
    size_t length = strlen(name), tail = strlen(ending);
    return length > tail && strcmp(name + length - tail, ending) == 0;
}

/* The name says that it is invented: nobody may take a file for a product or a person. */
static void check_shipped(const char *path, bool is_machine)
{
    struct virtual_machine_config machine = virtual_machine_default();
    struct virtual_rider_config rider = virtual_rider_default();
    struct text_fault fault = {0};
    size_t length = 0;
    const char *text = ride_file(path, &length);
    enum result result = is_machine ? virtual_machine_read(text, length, &machine, &fault)
                                    : virtual_rider_read(text, length, &rider, &fault);
    if (result != RESULT_OK)
        fail_msg("%s:%u:%u: %s", path, fault.line, fault.column, fault.message);
    assert_non_null(strstr(is_machine ? machine.name : rider.name, "Invented"));
}

static size_t check_folder(const char *folder, const char *ending, bool is_machine)
{
    DIR *directory = opendir(folder);
    size_t count = 0;
    assert_non_null(directory);
    for (struct dirent *entry; (entry = readdir(directory)) != NULL;) {
        char path[512];
        if (!ends_with(entry->d_name, ending))
            continue;
        (void)snprintf(path, sizeof(path), "%s/%s", folder, entry->d_name);
        check_shipped(path, is_machine);
        count++;
    }
    (void)closedir(directory);
    return count;
}

static void reads_every_file_that_ships(void **state)
{
    (void)state;
    assert_in_range(check_folder("tests/machines", ".machine", true), 10, 99);
    assert_in_range(check_folder("tests/riders", ".rider", false), 5, 99);
}

/* Read into nothing, so whatever a built-in file leaves unsaid stays zero and shows. */
static void the_built_in_files_say_everything_that_must_not_be_zero(void **state)
{
    struct virtual_machine_config machine = virtual_machine_default();
    struct virtual_rider_config rider = virtual_rider_default();
    (void)state;
    assert_string_equal(machine.name, "Invented power bike");
    assert_true(machine.takes_power && machine.has_feature && machine.has_strap);
    assert_true(machine.mtu > 0 && machine.data_interval_ms > 0 && machine.knob > 0);
    assert_true(machine.brake.inertia_kgm2 > 0 && machine.brake.gear > 0);
    assert_true(machine.brake.peak_torque_nm > 0 && machine.brake.peak_rpm > 0);
    assert_true(machine.brake.lag_s > 0 && machine.metres_per_turn > 0);
    assert_true(machine.power_noise_memory_s > 0 && machine.level_tenths.maximum > 0);
    assert_true(machine.level_octets > 0);
    assert_string_equal(rider.name, "Invented steady rider");
    assert_true(rider.critical_power_w > 0 && rider.w_prime_j > 0 && rider.cadence_rpm > 0);
    assert_true(rider.peak_cadence_rpm > 0 && rider.effort_rate_nm_s > 0);
    assert_true(rider.heart_rise_s > 0 && rider.heart_fall_s > 0 && rider.heart_rest_bpm > 0);
}

static void survives_any_octets(void **state)
{
    struct virtual_random chance = {.state = 7};
    char text[8192];
    size_t whole = 0;
    const char *file = ride_file("tests/machines/power.machine", &whole);
    (void)state;
    for (int i = 0; i < 3000; i++) {
        struct virtual_machine_config config = {0};
        struct text_fault fault = {0};
        memcpy(text, file, whole);
        for (unsigned k = virtual_random_below(&chance, 4); k > 0; k--)
            text[virtual_random_below(&chance, (uint32_t)whole)] =
                (char)virtual_random_next(&chance);
        size_t length = virtual_random_below(&chance, (uint32_t)whole + 1);
        enum result result = virtual_machine_read(text, length, &config, &fault);
        assert_true(result == RESULT_OK || (fault.line > 0 && fault.column > 0));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_faults_in_machines),
        cmocka_unit_test(finds_faults_in_riders),
        cmocka_unit_test(reads_what_is_written),
        cmocka_unit_test(reads_every_file_that_ships),
        cmocka_unit_test(the_built_in_files_say_everything_that_must_not_be_zero),
        cmocka_unit_test(survives_any_octets),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
