#include "support/ridden.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "app/recorder.h"
#include "support/drive.h"

enum { WARM_UP_MS = 10000, COOL_DOWN_MS = 5000, EASY_W = 50 };

static void record(void *user, const struct event *event, const struct effects *effects)
{
    recorder_event(user, event);
    recorder_effects(user, effects);
}

static struct target_range around(int32_t middle)
{
    return (struct target_range){middle > 0, middle - 10, middle + 10};
}

static void plan_it(const struct ridden *how, struct ride_setup *setup)
{
    struct plan *plan = &setup->plan;

    (void)snprintf(plan->title, sizeof plan->title, "%s",
                   how->title != NULL ? how->title : "Invented");
    plan->step_count = 3;
    plan->steps[0] = (struct plan_step){.kind = STEP_WARM_UP, .duration_ms = WARM_UP_MS};
    plan->steps[1] = (struct plan_step){
        .kind = STEP_WORK, .duration_ms = (how->work_s > 0 ? how->work_s : 180) * 1000};
    plan->steps[2] = (struct plan_step){.kind = STEP_COOL_DOWN, .duration_ms = COOL_DOWN_MS};
    plan->steps[1].targets.power_w = around(how->asked_w);
    plan->steps[1].targets.level_tenths = around(how->level);
    setup->is_watched = setup->counts_recovery = setup->tells_sources = true;
    setup->compares_powers = true;
    setup->rider.critical_power_w = how->critical_power_w;
    setup->strap_expected = how->strap_bpm > 0;
    setup->holds_power = setup->tells_knob = true;
    if (how->level_step_tenths > 0)
        setup->brake = (struct brake_curve){{20000, 650000, 250000, 0}, 1000};
}

static void connect(const struct ridden *how, struct drive *drive)
{
    struct event machine = {.kind = EVENT_MACHINE};

    machine.machine = (struct machine){.takes_level = how->level_step_tenths > 0,
                                       .level_max_tenths = 200,
                                       .level_step_tenths = how->level_step_tenths};
    if (how->level_step_tenths == 0 && how->knob == 0)
        return; /* as drive_to() does it */
    drive_link(drive, true);
    drive_event(drive, &machine);
}

static void turn(const struct ridden *how, struct drive *drive, int32_t position)
{
    const struct event event = {.kind = EVENT_KEY, .key = {KEY_KNOB, position}};

    if (how->knob > 0)
        drive_event(drive, &event);
}

static void pedal(const struct ridden *how, struct drive *drive, int32_t power_w)
{
    drive->sensor_w = power_w * how->sensor_told_pct / 100;
    drive->power_w = how->bike_has_no_power ? 0 : power_w;
}

static void ride_it(const struct ridden *how, struct drive *drive)
{
    const uint32_t work_ms = drive->ride.setup.plan.steps[1].duration_ms;

    drive->has_strap = how->strap_bpm > 0;
    drive->strap_bpm = RIDDEN_EASY_BPM;
    pedal(how, drive, EASY_W);
    connect(how, drive);
    turn(how, drive, 1);
    drive_to(drive, WARM_UP_MS);
    for (int32_t i = 0; i < how->shifts_up; i++)
        drive_key(drive, KEY_MORE);
    turn(how, drive, how->knob);
    drive->strap_bpm = how->strap_bpm;
    pedal(how, drive, how->power_w);
    if (how->sensor_falls_silent) {
        drive_to(drive, WARM_UP_MS + work_ms / 2);
        drive->sensor_w = 0;
    }
    drive_to(drive, WARM_UP_MS + (how->stops ? work_ms / 2 : work_ms));
    pedal(how, drive, EASY_W);
    if (how->sensor_falls_silent)
        drive->sensor_w = 0;
    if (how->stops) {
        drive_key(drive, KEY_STOP);
        drive_key(drive, KEY_STOP);
    }
    for (int seconds = 0; drive->ride.phase != PHASE_ENDED && seconds < 300; seconds++)
        drive_for(drive, 1000);
    assert_int_equal(drive->ride.phase, PHASE_ENDED);
}

int64_t ridden(struct store *store, const struct ridden *how)
{
    static struct drive drive;
    static struct ride_setup setup;
    struct recorder recorder = {.store = store};
    struct store_ride about = {.is_fresh = how->is_fresh,
                               .feel = how->feel,
                               .proposed = how->proposed,
                               .proposed_length_ms = how->proposed_length_ms};

    (void)snprintf(about.bike, sizeof about.bike, "%s", how->bike != NULL ? how->bike : "virtual");
    (void)snprintf(about.power_sensor, sizeof about.power_sensor, "%s",
                   how->power_sensor != NULL ? how->power_sensor : "");
    (void)snprintf(about.profile, sizeof about.profile, "%s",
                   how->profile != NULL ? how->profile : "");
    memset(&setup, 0, sizeof setup);
    plan_it(how, &setup);
    drive_init(&drive);
    ride_init(&drive.ride, &setup);
    assert_int_equal(recorder_begin(&recorder, &setup, &about), RESULT_OK);
    drive.watch = record;
    drive.user = &recorder;
    ride_it(how, &drive);
    assert_int_equal(recorder_end(&recorder, &drive.summary), RESULT_OK);
    const int64_t id = recorder.ride_id;
    recorder_free(&recorder);
    return id;
}
