#include "journal_tables.h"

#include "ride/names.h"
#include "ride/ride.h"

#define LIST(array)                               \
    {                                             \
        sizeof(array) / sizeof((array)[0]), array \
    }

#define RIDER(member, type)                                 \
    {                                                       \
#member, offsetof(struct rider, member), type, NULL \
    }
static const struct field rider_fields[] = {
    RIDER(mass_kg, FIELD_TENTHS),       RIDER(age_years, FIELD_U16),
    RIDER(heart_rest_bpm, FIELD_U16),   RIDER(heart_max_bpm, FIELD_U16),
    RIDER(heart_limit_bpm, FIELD_U16),  RIDER(heart_slowed, FIELD_BOOL),
    RIDER(critical_power_w, FIELD_U16), RIDER(w_prime_j, FIELD_U32),
    RIDER(power_limit_w, FIELD_U16),    RIDER(cadence_limit_rpm, FIELD_U16),
    RIDER(is_new, FIELD_BOOL),
};
const struct fields journal_rider = LIST(rider_fields);

#define BRAKE(index)                                                                     \
    {                                                                                    \
        "c" #index "_mw", offsetof(struct brake_curve, terms_mw[index]), FIELD_I32, NULL \
    }
static const struct field brake_fields[] = {
    BRAKE(0),
    BRAKE(1),
    BRAKE(2),
    BRAKE(3),
    {"ridden", offsetof(struct brake_curve, ridden_permille), FIELD_I32, NULL},
};
const struct fields journal_brake = LIST(brake_fields);

#define KNOB(member, type)                                       \
    {                                                            \
#member, offsetof(struct knob_place, member), type, NULL \
    }
static const struct field knob_place_fields[] = {
    KNOB(is_known, FIELD_BOOL),
    KNOB(position, FIELD_I32),
    KNOB(top, FIELD_I32),
};
const struct fields journal_knob = LIST(knob_place_fields);

#define STEP(name, member, type, names)                       \
    {                                                         \
        name, offsetof(struct plan_step, member), type, names \
    }
static const struct field step_fields[] = {
    STEP("kind", kind, FIELD_ENUM, &step_names),
    STEP("duration_ms", duration_ms, FIELD_U32, NULL),
    STEP("power_w", targets.power_w, FIELD_RANGE, NULL),
    STEP("cadence_rpm", targets.cadence_rpm, FIELD_RANGE, NULL),
    STEP("heart_bpm", targets.heart_bpm, FIELD_RANGE, NULL),
    STEP("level_tenths", targets.level_tenths, FIELD_RANGE, NULL),
    STEP("effort", targets.effort, FIELD_RANGE, NULL),
    STEP("to_power_w", ramp_to.power_w, FIELD_RANGE, NULL),
    STEP("to_cadence_rpm", ramp_to.cadence_rpm, FIELD_RANGE, NULL),
    STEP("to_heart_bpm", ramp_to.heart_bpm, FIELD_RANGE, NULL),
    STEP("to_level_tenths", ramp_to.level_tenths, FIELD_RANGE, NULL),
    STEP("to_effort", ramp_to.effort, FIELD_RANGE, NULL),
    STEP("until", end.until, FIELD_ENUM, &until_names),
    STEP("until_value", end.value, FIELD_I32, NULL),
    STEP("reps", reps.reps, FIELD_U16, NULL),
    STEP("tempo", reps.tempo, FIELD_U16, NULL),
    STEP("round", round, FIELD_U16, NULL),
    STEP("rounds", rounds, FIELD_U16, NULL),
};
const struct fields journal_step = LIST(step_fields);

#define AT(structure, member, name, type, names)       \
    {                                                  \
        name, offsetof(structure, member), type, names \
    }
#define EVENT(member, name, type, names)  AT(struct event, member, name, type, names)
#define EFFECT(member, name, type, names) AT(struct effect, member, name, type, names)

static const struct field key_fields[] = {
    EVENT(key.key, "key", FIELD_ENUM, &key_names),
    EVENT(key.position, "position", FIELD_I32, NULL),
};
static const struct field link_fields[] = {
    EVENT(link.source, "source", FIELD_ENUM, &link_names),
    EVENT(link.up, "up", FIELD_BOOL, NULL),
};
static const struct field machine_fields[] = {
    EVENT(machine.takes_power, "takes_power", FIELD_BOOL, NULL),
    EVENT(machine.takes_level, "takes_level", FIELD_BOOL, NULL),
    EVENT(machine.power_min_w, "power_min_w", FIELD_I32, NULL),
    EVENT(machine.power_max_w, "power_max_w", FIELD_I32, NULL),
    EVENT(machine.level_min_tenths, "level_min_tenths", FIELD_I32, NULL),
    EVENT(machine.level_max_tenths, "level_max_tenths", FIELD_I32, NULL),
    EVENT(machine.level_step_tenths, "level_step_tenths", FIELD_I32, NULL),
};
static const struct field telemetry_fields[] = {
    EVENT(telemetry.has, "has", FIELD_U32, NULL),
    EVENT(telemetry.power_w, "power_w", FIELD_I32, NULL),
    EVENT(telemetry.cadence_rpm, "cadence_rpm", FIELD_I32, NULL),
    EVENT(telemetry.distance_m, "distance_m", FIELD_I32, NULL),
    EVENT(telemetry.heart_bpm, "heart_bpm", FIELD_I32, NULL),
};
static const struct field heart_fields[] = {
    EVENT(heart.heart_bpm, "heart_bpm", FIELD_I32, NULL),
    EVENT(heart.contact, "contact", FIELD_ENUM, &contact_names),
};
static const struct field answer_fields[] = {
    EVENT(answer.command, "command", FIELD_ENUM, &command_names),
    EVENT(answer.answer, "answer", FIELD_ENUM, &answer_names),
    EVENT(answer.load.kind, "kind", FIELD_ENUM, &load_names),
    EVENT(answer.load.value, "value", FIELD_I32, NULL),
};
static const struct field status_fields[] = {
    EVENT(status.status, "status", FIELD_ENUM, &status_names)};
static const struct field store_fields[] = {EVENT(store.failed, "failed", FIELD_BOOL, NULL)};
static const struct field sensor_fields[] = {
    EVENT(sensor.source, "source", FIELD_ENUM, &link_names),
    EVENT(sensor.has, "has", FIELD_U32, NULL),
    EVENT(sensor.power_w, "power_w", FIELD_I32, NULL),
    EVENT(sensor.cadence_rpm, "cadence_rpm", FIELD_I32, NULL),
};

const struct fields journal_events[EVENT_KIND_COUNT] = {
    [EVENT_TICK] = {0, NULL},
    [EVENT_KEY] = LIST(key_fields),
    [EVENT_LINK] = LIST(link_fields),
    [EVENT_MACHINE] = LIST(machine_fields),
    [EVENT_TELEMETRY] = LIST(telemetry_fields),
    [EVENT_HEART] = LIST(heart_fields),
    [EVENT_ANSWER] = LIST(answer_fields),
    [EVENT_STATUS] = LIST(status_fields),
    [EVENT_STORE] = LIST(store_fields),
    [EVENT_SENSOR] = LIST(sensor_fields),
};

static const struct field command_fields[] = {
    EFFECT(command.command, "command", FIELD_ENUM, &command_names),
    EFFECT(command.load.kind, "kind", FIELD_ENUM, &load_names),
    EFFECT(command.load.value, "value", FIELD_I32, NULL),
    EFFECT(command.now, "now", FIELD_BOOL, NULL),
};
static const struct field phase_fields[] = {EFFECT(phase.phase, "phase", FIELD_ENUM, &phase_names)};
static const struct field index_fields[] = {EFFECT(step.index, "index", FIELD_I32, NULL)};
static const struct field sample_fields[] = {
    EFFECT(sample.has, "has", FIELD_U32, NULL),
    EFFECT(sample.power_w, "power_w", FIELD_I32, NULL),
    EFFECT(sample.cadence_rpm, "cadence_rpm", FIELD_I32, NULL),
    EFFECT(sample.distance_m, "distance_m", FIELD_I32, NULL),
    EFFECT(sample.heart_bpm, "heart_bpm", FIELD_I32, NULL),
};
static const struct field hold_fields[] = {EFFECT(hold.hold, "hold", FIELD_ENUM, &hold_names)};
static const struct field shift_fields[] = {EFFECT(shift.shift_pct, "shift_pct", FIELD_I32, NULL)};
static const struct field caution_fields[] = {
    EFFECT(caution.caution, "caution", FIELD_ENUM, &caution_names)};
static const struct field knob_fields[] = {
    EFFECT(knob.turn, "turn", FIELD_ENUM, &turn_names),
    EFFECT(knob.by_w, "by_w", FIELD_I32, NULL),
    EFFECT(knob.in_ms, "in_ms", FIELD_U32, NULL),
    EFFECT(knob.has_to, "has_to", FIELD_BOOL, NULL),
    EFFECT(knob.to, "to", FIELD_I32, NULL),
};
static const struct field cut_off_fields[] = {
    EFFECT(cut_off.cut_off, "cut_off", FIELD_ENUM, &cut_off_names)};
#define SUMMARY(member, type, names) EFFECT(summary.member, #member, type, names)
static const struct field summary_fields[] = {
    SUMMARY(end, FIELD_ENUM, &end_names),
    SUMMARY(reason, FIELD_ENUM, &reason_names),
    SUMMARY(cut_off, FIELD_ENUM, &cut_off_names),
    SUMMARY(unreleased, FIELD_BOOL, NULL),
    SUMMARY(skipped, FIELD_I32, NULL),
    SUMMARY(duration_ms, FIELD_U32, NULL),
    SUMMARY(work_j, FIELD_I64, NULL),
    SUMMARY(average_power_w, FIELD_I32, NULL),
    SUMMARY(work_power_w, FIELD_I32, NULL),
    SUMMARY(distance_m, FIELD_I32, NULL),
    SUMMARY(in_range_s, FIELD_I32, NULL),
    SUMMARY(work_s, FIELD_I32, NULL),
    SUMMARY(average_heart_bpm, FIELD_I32, NULL),
    SUMMARY(max_heart_bpm, FIELD_I32, NULL),
    SUMMARY(heart_fall_bpm, FIELD_I32, NULL),
    SUMMARY(max_power_w, FIELD_I32, NULL),
    SUMMARY(best_5s_w, FIELD_I32, NULL),
    SUMMARY(best_30s_w, FIELD_I32, NULL),
    SUMMARY(best_60s_w, FIELD_I32, NULL),
    SUMMARY(best_180s_w, FIELD_I32, NULL),
    SUMMARY(sensor_pct, FIELD_I32, NULL),
    SUMMARY(difference_tenths, FIELD_I32, NULL),
    SUMMARY(difference_error_tenths, FIELD_I32, NULL),
};

const struct fields journal_effects[EFFECT_KIND_COUNT] = {
    [EFFECT_COMMAND] = LIST(command_fields), [EFFECT_PHASE] = LIST(phase_fields),
    [EFFECT_STEP] = LIST(index_fields),      [EFFECT_SAMPLE] = LIST(sample_fields),
    [EFFECT_HOLD] = LIST(hold_fields),       [EFFECT_SHIFT] = LIST(shift_fields),
    [EFFECT_CAUTION] = LIST(caution_fields), [EFFECT_CUT_OFF] = LIST(cut_off_fields),
    [EFFECT_SUMMARY] = LIST(summary_fields), [EFFECT_KNOB] = LIST(knob_fields),
};
