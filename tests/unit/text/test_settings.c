#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/close.h"
#include "text/settings.h"

/* An invented rider. */
static const char whole[] = "# mine\n"
                            "mass 75.5 kg\nage 41 years\nheart-rest 58bpm\nheart-max 178\n"
                            "heart-limit 165 bpm # from the clinic\nheart-slowed yes\n"
                            "critical-power 205 W\nw-prime 14.2 kJ\npower-limit 2000 W\n"
                            "cadence-limit 120 rpm\nvolume 35 %\nexperienced yes\n"
                            "cautions-read 3\nusb-network-key 00c0ffeeC0FFEE99 # invented\n";

static void assert_whole(const struct settings *settings)
{
    assert_close(settings->rider.mass_kg, 75.5, 1e-9);
    assert_int_equal(settings->rider.age_years, 41);
    assert_int_equal(settings->rider.heart_rest_bpm, 58);
    assert_int_equal(settings->rider.heart_max_bpm, 178);
    assert_int_equal(settings->rider.heart_limit_bpm, 165);
    assert_true(settings->rider.heart_slowed);
    assert_int_equal(settings->rider.critical_power_w, 205);
    assert_int_equal(settings->rider.w_prime_j, 14200);
    assert_int_equal(settings->rider.power_limit_w, 2000);
    assert_int_equal(settings->rider.cadence_limit_rpm, 120);
    assert_int_equal(settings->volume_pct, 35);
    assert_true(settings->is_experienced);
    assert_int_equal(settings->cautions_read, 3);
    assert_true(settings->usb_key == 0x00C0FFEEC0FFEE99u);
}

static void reads_every_setting(void **state)
{
    (void)state;
    struct settings settings;
    struct text_fault fault;
    assert_int_equal(settings_read(whole, strlen(whole), &settings, &fault), RESULT_OK);
    assert_whole(&settings);
}

static void what_is_written_reads_the_same(void **state)
{
    (void)state;
    struct settings settings, again;
    struct text_fault fault;
    char text[SETTINGS_FILE_MAX], text_again[SETTINGS_FILE_MAX];
    assert_int_equal(settings_read(whole, strlen(whole), &settings, &fault), RESULT_OK);
    assert_int_equal(settings_write(&settings, text, sizeof(text)), RESULT_OK);
    assert_non_null(strstr(text, "\nmass 75.5 kg\n"));
    assert_non_null(strstr(text, "\nw-prime 14.2 kJ\n"));
    assert_non_null(strstr(text, "\ncautions-read 3\n"));
    assert_non_null(strstr(text, "\nusb-network-key 00C0FFEEC0FFEE99\n"));
    assert_int_equal(settings_read(text, strlen(text), &again, &fault), RESULT_OK);
    assert_whole(&again);
    assert_int_equal(settings_write(&again, text_again, sizeof(text_again)), RESULT_OK);
    assert_string_equal(text, text_again);
    assert_int_equal(settings_write(&settings, text, strlen(text)), RESULT_FULL);
}

/* Tenths of a kilogram are no binary fractions; none of them may drift. */
static void every_tenth_of_a_kilogram_comes_back(void **state)
{
    (void)state;
    for (unsigned tenths = 250; tenths <= 2500; tenths++) {
        struct settings settings = {.rider.mass_kg = tenths / 10.0};
        char value[16];
        struct text_writer writer = text_writer(value, sizeof(value));
        struct text_fault fault;
        setting_put(&writer, &settings, SETTING_MASS);
        assert_int_equal(settings_set(&settings, "mass", value, &fault), RESULT_OK);
        assert_int_equal((unsigned)(settings.rider.mass_kg * 10 + 0.5), tenths);
    }
}

static void a_volume_of_nothing_is_known(void **state)
{
    (void)state;
    struct settings settings = {0}, again;
    struct text_fault fault;
    char text[SETTINGS_FILE_MAX];
    assert_int_equal(settings_set(&settings, "volume", "0 %", &fault), RESULT_OK);
    assert_true(setting_is_known(&settings, SETTING_VOLUME));
    assert_int_equal(settings_write(&settings, text, sizeof(text)), RESULT_OK);
    assert_non_null(strstr(text, "\nvolume 0 %\n"));
    assert_int_equal(settings_read(text, strlen(text), &again, &fault), RESULT_OK);
    assert_true(again.has_volume);
    assert_int_equal(again.volume_pct, 0);
    assert_int_equal(settings_set(&settings, "volume", "none", &fault), RESULT_OK);
    assert_false(setting_is_known(&settings, SETTING_VOLUME));
}

static void an_empty_file_knows_nothing(void **state)
{
    (void)state;
    struct settings settings;
    struct text_fault fault;
    char text[SETTINGS_FILE_MAX];
    memset(&settings, 0x5A, sizeof(settings));
    assert_int_equal(settings_read("", 0, &settings, &fault), RESULT_OK);
    for (enum setting i = SETTING_MASS; i < SETTING_COUNT; i++) {
        struct text_writer writer = text_writer(text, sizeof(text));
        assert_false(setting_is_known(&settings, i));
        setting_put(&writer, &settings, i);
        const bool is_yes_or_no = i == SETTING_HEART_SLOWED || i == SETTING_EXPERIENCED;
        assert_string_equal(text, is_yes_or_no ? "no" : "none");
    }
    assert_int_equal(settings_write(&settings, text, sizeof(text)), RESULT_OK);
    assert_ptr_equal(strchr(text, '\n'), text + strlen(text) - 1); /* the comment alone */
}

struct faulty {
    const char *text;
    uint32_t line, column;
    const char *message;
};

static struct faulty faulty_texts[] = {
    {"mass", 1, 5,
     "expected mass 25 to 250 kg (tenths allowed) or none, found the end of the line"},
    {"mass 24.9 kg", 1, 6, "expected mass 25 to 250 kg (tenths allowed) or none, found '24.9 kg'"},
    {"\nmass 250.1", 2, 6, "expected mass 25 to 250 kg (tenths allowed) or none, found '250.1'"},
    {"mass 75.55", 1, 6, "expected mass 25 to 250 kg (tenths allowed) or none, found '75.55'"},
    {"mass 75 lb", 1, 6, "expected mass 25 to 250 kg (tenths allowed) or none, found '75 lb'"},
    {"mass 75 kg kg", 1, 6,
     "expected mass 25 to 250 kg (tenths allowed) or none, found '75 kg kg'"},
    {"mass none kg", 1, 6, "expected mass 25 to 250 kg (tenths allowed) or none, found 'none kg'"},
    {"age 40.5", 1, 5, "expected age 10 to 100 years or none, found '40.5'"},
    {"age 9", 1, 5, "expected age 10 to 100 years or none, found '9'"},
    {"age 101", 1, 5, "expected age 10 to 100 years or none, found '101'"},
    {"age -40", 1, 5, "expected age 10 to 100 years or none, found '-40'"},
    {"age 65576", 1, 5, "expected age 10 to 100 years or none, found '65576'"},
    {"age 4294967336", 1, 5, "expected age 10 to 100 years or none, found '4294967336'"},
    {"heart-rest 24", 1, 12, "expected heart-rest 25 to 99 bpm or none, found '24'"},
    {"heart-max 231", 1, 11, "expected heart-max 100 to 230 bpm or none, found '231'"},
    {"heart-limit 59", 1, 13, "expected heart-limit 60 to 230 bpm or none, found '59'"},
    {"heart-slowed 1", 1, 14, "expected heart-slowed yes or no, found '1'"},
    {"heart-slowed yes sir", 1, 14, "expected heart-slowed yes or no, found 'yes sir'"},
    {"critical-power 601", 1, 16, "expected critical-power 30 to 600 W or none, found '601'"},
    {"w-prime 15000 J", 1, 9,
     "expected w-prime 1 to 60 kJ (tenths allowed) or none, found '15000 J'"},
    {"power-limit 2001", 1, 13, "expected power-limit 20 to 2000 W or none, found '2001'"},
    {"cadence-limit 39", 1, 15, "expected cadence-limit 40 to 200 rpm or none, found '39'"},
    {"volume -1", 1, 8, "expected volume 0 to 100 % or none, found '-1'"},
    {"volume 101 %", 1, 8, "expected volume 0 to 100 % or none, found '101 %'"},
    {"usb-network-key", 1, 16,
     "expected usb-network-key 16 hexadecimal digits or none, found the end of the line"},
    {"usb-network-key 00C0FFEEC0FFEE9", 1, 17,
     "expected usb-network-key 16 hexadecimal digits or none, found something else"},
    {"usb-network-key 00C0FFEEC0FFEE999", 1, 17,
     "expected usb-network-key 16 hexadecimal digits or none, found something else"},
    {"usb-network-key 00C0FFEEC0FFEE9G", 1, 17,
     "expected usb-network-key 16 hexadecimal digits or none, found something else"},
    {"usb-network-key 0000000000000000", 1, 17,
     "expected usb-network-key 16 hexadecimal digits or none, found something else"},
    {"usb-network-key FFFFFFFFFFFFFFFF", 1, 17,
     "expected usb-network-key 16 hexadecimal digits or none, found something else"},
    {"cautions-read 0", 1, 15, "expected cautions-read 1 to 9999 or none, found '0'"},
    {"cautions-read 1 W", 1, 15, "expected cautions-read 1 to 9999 or none, found '1 W'"},
    {"weight 75", 1, 1, "expected the name of a setting, found 'weight'"},
    {"age 40\n  age 41", 2, 3, "expected each setting once, found a second one of that name"},
    {"age 40\nmass 7\x1B", 2, 7,
     "expected UTF-8 text, found a control character or a broken octet"},
};

static void names_every_fault_and_its_place(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof(faulty_texts) / sizeof(faulty_texts[0]); i++) {
        const struct faulty *row = &faulty_texts[i];
        struct settings settings = {.cautions_read = 77};
        struct text_fault fault = {0};
        assert_int_equal(settings_read(row->text, strlen(row->text), &settings, &fault),
                         RESULT_INVALID);
        assert_string_equal(fault.message, row->message);
        assert_int_equal(fault.line, row->line);
        assert_int_equal(fault.column, row->column);
        assert_int_equal(settings.cautions_read, 77);
    }
}

static void sets_one_from_words(void **state)
{
    (void)state;
    struct settings settings = {0};
    struct text_fault fault;
    assert_int_equal(settings_set(&settings, "mass", "80", &fault), RESULT_OK);
    assert_close(settings.rider.mass_kg, 80, 1e-9);
    assert_int_equal(settings_set(&settings, "w-prime", " 15.5kJ ", &fault), RESULT_OK);
    assert_int_equal(settings.rider.w_prime_j, 15500);
    assert_int_equal(settings_set(&settings, "heart-slowed", "yes", &fault), RESULT_OK);
    assert_true(settings.rider.heart_slowed);
    assert_int_equal(settings_set(&settings, "heart-slowed", "none", &fault), RESULT_OK);
    assert_false(settings.rider.heart_slowed);
    assert_int_equal(settings_set(&settings, "mass", "none", &fault), RESULT_OK);
    assert_false(setting_is_known(&settings, SETTING_MASS));
}

static void a_wrong_word_changes_nothing(void **state)
{
    (void)state;
    struct settings settings = {.rider.age_years = 40};
    struct text_fault fault;
    assert_int_equal(settings_set(&settings, "Age", "41", &fault), RESULT_NOT_FOUND);
    assert_string_equal(fault.message, "expected the name of a setting, found 'Age'");
    assert_int_equal(settings_set(&settings, "age", "400", &fault), RESULT_INVALID);
    assert_string_equal(fault.message, "expected age 10 to 100 years or none, found '400'");
    assert_int_equal(fault.line, 0);
    assert_int_equal(fault.column, 0);
    assert_int_equal(settings_set(&settings, "age", "", &fault), RESULT_INVALID);
    assert_string_equal(fault.message, "expected age 10 to 100 years or none, found nothing");
    assert_int_equal(settings_set(&settings, "age", "\x1B[2J\xFF", &fault), RESULT_INVALID);
    assert_string_equal(fault.message, "expected age 10 to 100 years or none, found '?[2J?'");
    assert_int_equal(settings.rider.age_years, 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_every_setting),
        cmocka_unit_test(what_is_written_reads_the_same),
        cmocka_unit_test(every_tenth_of_a_kilogram_comes_back),
        cmocka_unit_test(a_volume_of_nothing_is_known),
        cmocka_unit_test(an_empty_file_knows_nothing),
        cmocka_unit_test(names_every_fault_and_its_place),
        cmocka_unit_test(sets_one_from_words),
        cmocka_unit_test(a_wrong_word_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
