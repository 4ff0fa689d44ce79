/*
 * A cut-off is for the whole ride, and the next ride begins clean.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "support/drive.h"

/* A cut-off is never cleared in its ride. The next one begins clean, and while the cause stands it
 * puts nothing on the brake either: the first readings end it, however early they come. */
static void a_ride_after_a_cut_off_has_no_load_while_the_cause_stands(void **state)
{
    (void)state;
    for (uint32_t wait_ms = 0; wait_ms <= 4000; wait_ms += TICK_MS) {
        struct drive drive;
        bool was_loaded = false;
        drive_init(&drive);
        drive.t_ms = 100000 + wait_ms;
        drive.has_strap = true;
        drive.strap_bpm = 181;
        drive_to(&drive, 0);
        for (int i = 0; i < 80; i++) {
            drive_for(&drive, TICK_MS);
            was_loaded = was_loaded || drive.load.kind != LOAD_RELEASED;
        }
        assert_int_equal(drive.cut_off, CUT_OFF_HEART);
        assert_false(was_loaded);
        /* With a heart that has come down nothing is refused. */
        drive_init(&drive);
        drive.has_strap = true;
        drive.strap_bpm = 120;
        drive_to(&drive, WORK_1_MS + 5000);
        assert_int_equal(drive.cut_off, CUT_OFF_NONE);
        assert_int_equal(drive.load.value, 200);
    }
}

static void no_key_brings_the_load_back_after_a_cut_off(void **state)
{
    static const enum ride_key keys[] = {KEY_HOLD, KEY_PAUSE, KEY_MORE, KEY_SKIP, KEY_HOLD};
    struct drive drive;

    (void)state;
    drive_init(&drive);
    drive_to(&drive, WORK_1_MS + 10000);
    drive.has_strap = true;
    drive.strap_bpm = 181;
    drive_for(&drive, 6000);
    assert_int_equal(drive.cut_off, CUT_OFF_HEART);
    drive.strap_bpm = 120; /* the cause is gone */
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        drive_for(&drive, 10000);
        drive_key(&drive, keys[i]);
        assert_int_equal(drive.load.kind, LOAD_RELEASED);
    }
    drive_status(&drive, STATUS_STARTED);
    drive_for(&drive, 10000);
    assert_int_equal(drive.load.kind, LOAD_RELEASED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ride_after_a_cut_off_has_no_load_while_the_cause_stands),
        cmocka_unit_test(no_key_brings_the_load_back_after_a_cut_off),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
