#include "support/screens.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

const struct ride_facts screens_facts = {.ride_id = 1, .version = "0", .bike = "virtual"};
const struct screen_hands screens_no_hands = {0};

static void add_step(struct plan *plan, enum step_kind kind, uint32_t seconds, int32_t low_w,
                     int32_t high_w, uint16_t round)
{
    struct plan_step *step = &plan->steps[plan->step_count++];

    *step = (struct plan_step){.kind = kind, .duration_ms = seconds * 1000, .round = round};
    step->rounds = round > 0 ? 8 : 0;
    step->targets.power_w = (struct target_range){true, low_w, high_w};
    if (kind == STEP_WORK)
        step->targets.cadence_rpm = (struct target_range){true, 85, 110};
}

void screens_init(struct drive *drive)
{
    struct ride_setup setup = {.rider = {.heart_limit_bpm = 175}, .strap_expected = true};
    struct plan *plan = &setup.plan;

    strcpy(plan->title, "20/10 x 8");
    add_step(plan, STEP_WARM_UP, 60, 80, 110, 0);
    for (uint16_t round = 1; round <= 8; round++) {
        add_step(plan, STEP_WORK, 20, 234, 262, round);
        add_step(plan, STEP_REST, 10, 60, 100, round);
    }
    add_step(plan, STEP_COOL_DOWN, 180, 50, 80, 0);
    drive_init(drive);
    ride_init(&drive->ride, &setup);
    drive->reserve = reserve_run_of(plan, 205, 12500, 0);
    drive->has_strap = true;
    drive->strap_bpm = 96;
}

enum brake { BY_POWER, BY_LEVELS, BY_HAND };

static void connect(struct drive *drive, enum brake brake)
{
    static const struct machine machines[] = {
        [BY_POWER] = {.takes_power = true, .power_max_w = 600},
        [BY_LEVELS] = {.takes_level = true, .level_max_tenths = 200, .level_step_tenths = 5},
        [BY_HAND] = {0},
    };
    const struct event machine = {.kind = EVENT_MACHINE, .machine = machines[brake]};

    drive->ride.setup.tells_knob = true;
    drive->ride.setup.holds_power = true;
    if (brake == BY_LEVELS) /* all of it ridden before */
        drive->ride.setup.brake = (struct brake_curve){{20000, 650000, 250000, 0}, 1000};
    drive_link(drive, true);
    drive_event(drive, &machine);
    drive->power_w = 0;
    drive->cadence_rpm = 0;
    drive_for(drive, 2000);
}

/* In the third work step, ten seconds into it, a little under the range. */
static void ride_into_work(struct drive *drive)
{
    drive->power_w = 97;
    drive->cadence_rpm = 88;
    drive_to(drive, 60000);
    drive->power_w = 248;
    drive->cadence_rpm = 92;
    drive->strap_bpm = 151;
    drive_to(drive, 127000);
    drive->power_w = 222;
    drive_to(drive, 130000);
}

static void turn_to(struct drive *drive, int32_t position, int32_t power_w, uint32_t block_ms)
{
    const struct event event = {.kind = EVENT_KEY, .key = {KEY_KNOB, position}};

    if (drive->ride.phase == PHASE_RIDING)
        drive_event(drive, &event);
    drive->power_w = power_w;
    drive_to(drive, block_ms);
}

/* Some 31 W a number, each of them told; in the third work step too little, eight seconds into it.
 */
static void turn_into_work(struct drive *drive)
{
    drive->cadence_rpm = 88;
    turn_to(drive, 3, 97, 1000);
    turn_to(drive, 3, 97, 60000);
    drive->cadence_rpm = 92;
    drive->strap_bpm = 151;
    turn_to(drive, 8, 248, 80000);
    turn_to(drive, 2, 66, 90000);
    turn_to(drive, 8, 248, 110000);
    turn_to(drive, 2, 66, 120000);
    turn_to(drive, 6, 190, 128000);
}

/* Goes past the prefix that tells it. */
static enum brake brake_of(const char **moment)
{
    static const char *const prefixes[] = {[BY_LEVELS] = "by-levels-", [BY_HAND] = "by-hand-"};

    for (enum brake brake = BY_LEVELS; brake <= BY_HAND; brake++)
        if (strncmp(*moment, prefixes[brake], strlen(prefixes[brake])) == 0) {
            *moment += strlen(prefixes[brake]);
            return brake;
        }
    return BY_POWER;
}

void screens_ride_to(struct drive *drive, const char *moment)
{
    const enum brake brake = brake_of(&moment);
    const bool by_hand = brake == BY_HAND;

    connect(drive, brake);
    if (strcmp(moment, "ready") == 0)
        return;
    if (by_hand)
        turn_into_work(drive);
    else
        ride_into_work(drive);
    if (by_hand && strcmp(moment, "edge") == 0) {
        turn_to(drive, 8, 248, 138000);
    } else if (by_hand && strcmp(moment, "nearest") == 0) {
        turn_to(drive, 8, 267, 134500);
        drive->ride.knob.is_nearest = true; /* as where its numbers lie wider apart */
    } else if (strcmp(moment, "held") == 0) {
        drive_key(drive, KEY_HOLD);
        drive->power_w = 41;
        drive_for(drive, 8000);
    } else if (strcmp(moment, "sensor-lost") == 0) {
        drive->sensor_w = 251;
        drive_for(drive, 1000);
        drive->sensor_w = 0;
        drive_for(drive, 4000);
    } else if (strcmp(moment, "strap-lost") == 0) {
        drive->has_strap = false;
        drive->power_w = 80;
        drive_for(drive, 7000);
    } else if (strcmp(moment, "powerless") == 0) {
        drive->ride.setup.is_watched = true;
        drive->power_w = 0;
        drive->cadence_rpm = 81;
        drive_to(drive, 161000);
    } else if (strcmp(moment, "cut-off") == 0) {
        drive->strap_bpm = 178;
        drive_for(drive, 8000);
        drive->power_w = 35;
        drive_for(drive, 4000);
    } else if (strcmp(moment, "work") != 0) {
        fail_msg("there is no moment '%s'", moment);
    }
}

static size_t dump(const struct canvas *canvas, char *ret, size_t size)
{
    size_t length = 0;

    for (int row = 0; row < canvas->rows; row++) {
        char text[CANVAS_ROW_TEXT_MAX];
        canvas_row_text(canvas, row, text, sizeof text);
        length += (size_t)snprintf(ret + length, size - length, "%s\n", text);
        assert_true(length < size);
    }
    return length;
}

void screens_compare(const struct canvas *canvas, const char *path)
{
    static char drawn[100000], expected[100000];
    const size_t length = dump(canvas, drawn, sizeof drawn);
    const bool writes = getenv("AFTERSET_WRITE_SCREENS") != NULL;
    FILE *file = fopen(path, writes ? "w" : "r");

    if (file == NULL)
        fail_msg("%s cannot be opened", path);
    if (writes) {
        assert_int_equal(fwrite(drawn, 1, length, file), length);
    } else {
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
        if (strcmp(drawn, expected) != 0)
            fail_msg("%s is not what is drawn:\n%s", path, drawn);
    }
    assert_int_equal(fclose(file), 0);
}
