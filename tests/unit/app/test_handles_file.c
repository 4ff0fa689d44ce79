/*
 * What is kept of a device's handles in the cache folder, and what becomes of files that are not
 * what was kept. The device and its octets are invented.
 */
#include "app/handles_file.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#define FILE_MAX 4096u

static const struct device_address bike = {{0x01, 0x00, 0x01, 0x1B, 0xAA, 0xF0}, ADDRESS_RANDOM};
static const struct device_address other = {{0x02, 0x00, 0x01, 0x1B, 0xAA, 0xF0}, ADDRESS_RANDOM};
static char folder[64], path[128];

static struct gatt_known a_bike(void)
{
    struct gatt_known known = {.service_count = 1, .characteristic_count = 1, .has_hash = true};
    known.services[0] = (struct gatt_service){{.assigned = 0x1826}, 1, 9};
    known.characteristics[0] =
        (struct gatt_characteristic){{.assigned = 0x2AD2}, 0, GATT_NOTIFY, 2, 3, 4};
    memset(known.hash, 0x5A, sizeof known.hash);
    return known;
}

static int set_up(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/test_handles_file.XXXXXX");
    if (mkdtemp(folder) == NULL)
        return -1;
    snprintf(path, sizeof path, "%s/afterset/handles-F0:AA:1B:01:00:01", folder);
    return setenv("XDG_CACHE_HOME", folder, 1);
}

static int tear_down(void **state)
{
    char command[96];
    (void)state;
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static size_t read_whole(uint8_t *ret)
{
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    const size_t length = fread(ret, 1, FILE_MAX, file);
    fclose(file);
    return length;
}

static void write_whole(const uint8_t *octets, size_t length)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(octets, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
}

static bool is_kept(const struct device_address *device)
{
    struct gatt_known known;
    memset(&known, 0xEE, sizeof known);
    load_handles(device, &known);
    if (known.has_hash)
        return true;
    assert_int_equal(known.service_count + known.characteristic_count, 0);
    return false;
}

static void is_kept_for_that_device_alone(void **state)
{
    const struct gatt_known known = a_bike();
    struct gatt_known read;
    (void)state;
    assert_false(is_kept(&bike));
    save_handles(&bike, &known);
    assert_false(is_kept(&other));
    load_handles(&bike, &read);
    assert_int_equal(read.characteristics[0].client_config_handle, 4);
    assert_memory_equal(read.hash, known.hash, sizeof known.hash);
}

static void nothing_is_written_without_need(void **state)
{
    struct gatt_known known = a_bike();
    struct stat before, after;
    (void)state;
    known.has_hash = false;
    save_handles(&bike, &known);
    assert_int_equal(access(path, F_OK), -1);
    known.has_hash = true;
    save_handles(&bike, &known);
    assert_int_equal(stat(path, &before), 0);
    assert_int_equal(before.st_mode & 0777, 0600);
    save_handles(&bike, &known);
    assert_int_equal(stat(path, &after), 0);
    assert_int_equal(before.st_ino, after.st_ino);
    known.hash[0] ^= 1;
    save_handles(&bike, &known);
    assert_int_equal(stat(path, &after), 0);
    assert_int_not_equal(before.st_ino, after.st_ino);
}

static void damage_counts_as_nothing(void **state)
{
    const struct gatt_known known = a_bike();
    uint8_t whole[FILE_MAX], damaged[FILE_MAX];
    (void)state;
    save_handles(&bike, &known);
    const size_t length = read_whole(whole);
    for (size_t cut = 0; cut < length; cut++) {
        write_whole(whole, cut);
        assert_false(is_kept(&bike));
    }
    for (size_t at = 0; at < length; at++) {
        memcpy(damaged, whole, length);
        damaged[at] ^= 0x10;
        write_whole(damaged, length);
        assert_false(is_kept(&bike));
    }
    memset(damaged, 0, sizeof damaged);
    memcpy(damaged, whole, length);
    write_whole(damaged, length + 1);
    assert_false(is_kept(&bike));
    write_whole(damaged, sizeof damaged); /* more than there can be */
    assert_false(is_kept(&bike));
    save_handles(&bike, &known); /* and the next ride mends it */
    assert_true(is_kept(&bike));
}

static void what_is_no_file_is_not_waited_for(void **state)
{
    const struct gatt_known known = a_bike();
    (void)state;
    save_handles(&bike, &known);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_false(is_kept(&bike));
    assert_int_equal(unlink(path), 0);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_false(is_kept(&bike));
    assert_int_equal(rmdir(path), 0);
    assert_int_equal(symlink("/dev/zero", path), 0);
    assert_false(is_kept(&bike));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(is_kept_for_that_device_alone, set_up, tear_down),
        cmocka_unit_test_setup_teardown(nothing_is_written_without_need, set_up, tear_down),
        cmocka_unit_test_setup_teardown(damage_counts_as_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_no_file_is_not_waited_for, set_up, tear_down),
    };
    return cmocka_run_group_tests_name("handles_file", tests, NULL, NULL);
}
