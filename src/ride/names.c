#include "ride/names.h"

#include "ride/effect.h"

#define TABLE(name)                            \
    {                                          \
        sizeof(name) / sizeof((name)[0]), name \
    }

static const char *const event_list[] = {
    [EVENT_TICK] = "tick",       [EVENT_KEY] = "key",        [EVENT_LINK] = "link",
    [EVENT_MACHINE] = "machine", [EVENT_TELEMETRY] = "data", [EVENT_HEART] = "heart",
    [EVENT_ANSWER] = "answer",   [EVENT_STATUS] = "status",  [EVENT_STORE] = "store",
    [EVENT_SENSOR] = "sensor",
};
const struct names event_names = TABLE(event_list);

static const char *const effect_list[] = {
    [EFFECT_COMMAND] = "command", [EFFECT_PHASE] = "phase",     [EFFECT_STEP] = "step",
    [EFFECT_SAMPLE] = "sample",   [EFFECT_HOLD] = "hold",       [EFFECT_SHIFT] = "shift",
    [EFFECT_CAUTION] = "caution", [EFFECT_CUT_OFF] = "cut_off", [EFFECT_SUMMARY] = "summary",
    [EFFECT_KNOB] = "knob",
};
const struct names effect_names = TABLE(effect_list);

static const char *const step_list[] = {
    [STEP_WARM_UP] = "warm-up",     [STEP_WORK] = "work",   [STEP_REST] = "rest",
    [STEP_COOL_DOWN] = "cool-down", [STEP_FLOOR] = "floor",
};
const struct names step_names = TABLE(step_list);

static const char *const until_list[] = {
    [UNTIL_TIME] = "time",
    [UNTIL_WORK] = "work",
    [UNTIL_DISTANCE] = "distance",
    [UNTIL_HEART] = "heart",
};
const struct names until_names = TABLE(until_list);

static const char *const command_list[] = {
    [COMMAND_NONE] = "none",   [COMMAND_REQUEST_CONTROL] = "request_control",
    [COMMAND_START] = "start", [COMMAND_LOAD] = "load",
    [COMMAND_STOP] = "stop",
};
const struct names command_names = TABLE(command_list);

static const char *const load_list[] = {
    [LOAD_RELEASED] = "released",
    [LOAD_POWER] = "power",
    [LOAD_LEVEL] = "level",
};
const struct names load_names = TABLE(load_list);

static const char *const key_list[] = {
    [KEY_NONE] = "none",           [KEY_STOP] = "stop", [KEY_HOLD] = "hold", [KEY_PAUSE] = "pause",
    [KEY_MORE] = "more",           [KEY_LESS] = "less", [KEY_SKIP] = "skip", [KEY_LEAVE] = "leave",
    [KEY_UNGUARDED] = "unguarded", [KEY_KNOB] = "knob",
};
const struct names key_names = TABLE(key_list);

static const char *const link_list[] = {
    [LINK_MACHINE] = "machine",
    [LINK_STRAP] = "strap",
    [LINK_POWER] = "power",
    [LINK_CADENCE] = "cadence",
};
const struct names link_names = TABLE(link_list);

static const char *const contact_list[] = {
    [CONTACT_UNKNOWN] = "unknown",
    [CONTACT_NONE] = "none",
    [CONTACT_GOOD] = "good",
};
const struct names contact_names = TABLE(contact_list);

static const char *const answer_list[] = {
    [ANSWER_ACCEPTED] = "accepted", [ANSWER_ALREADY] = "already",
    [ANSWER_REFUSED] = "refused",   [ANSWER_NOT_PERMITTED] = "not_permitted",
    [ANSWER_ERROR] = "error",
};
const struct names answer_names = TABLE(answer_list);

static const char *const status_list[] = {
    [STATUS_NONE] = "none",
    [STATUS_STOPPED] = "stopped",
    [STATUS_PAUSED] = "paused",
    [STATUS_STARTED] = "started",
    [STATUS_SAFETY_KEY] = "safety_key",
    [STATUS_CONTROL_LOST] = "control_lost",
    [STATUS_RESET] = "reset",
};
const struct names status_names = TABLE(status_list);

static const char *const phase_list[] = {
    [PHASE_CONNECTING] = "connecting",
    [PHASE_FLOOR] = "floor",
    [PHASE_READY] = "ready",
    [PHASE_COUNT_IN] = "count_in",
    [PHASE_RIDING] = "riding",
    [PHASE_HELD] = "held",
    [PHASE_EASY] = "easy",
    [PHASE_LEAVING] = "leaving",
    [PHASE_ENDED] = "ended",
};
const struct names phase_names = TABLE(phase_list);

static const char *const hold_list[] = {
    [HOLD_NONE] = "none",
    [HOLD_RIDER] = "rider",
    [HOLD_LINK] = "link",
    [HOLD_NO_DATA] = "no_data",
    [HOLD_CADENCE] = "cadence",
    [HOLD_PAUSED] = "paused",
    [HOLD_CLOCK_JUMP] = "clock_jump",
};
const struct names hold_names = TABLE(hold_list);

static const char *const caution_list[] = {
    [CAUTION_NONE] = "none",
    [CAUTION_HEART_NEAR] = "heart_near",
    [CAUTION_STRAP_LOST] = "strap_lost",
    [CAUTION_HEART_FLAT] = "heart_flat",
    [CAUTION_HEART_STAYS] = "heart_stays",
    [CAUTION_HEART_FROZEN] = "heart_frozen",
    [CAUTION_NO_HEART] = "no_heart",
    [CAUTION_NO_CONTROL] = "no_control",
    [CAUTION_DOUBTFUL] = "doubtful",
    [CAUTION_POWER_FROZEN] = "power_frozen",
    [CAUTION_NO_POWER] = "no_power",
    [CAUTION_BY_FEEL] = "by_feel",
    [CAUTION_TWO_CADENCES] = "two_cadences",
    [CAUTION_TWO_POWERS] = "two_powers",
    [CAUTION_POWER_SENSOR_LOST] = "power_sensor_lost",
    [CAUTION_CADENCE_SENSOR_LOST] = "cadence_sensor_lost",
    [CAUTION_LOWERED] = "lowered",
    [CAUTION_LOAD_REFUSED] = "load_refused",
    [CAUTION_NOT_SAVED] = "not_saved",
    [CAUTION_BY_EFFORT] = "by_effort",
    [CAUTION_FIRST_BLOCKS] = "first_blocks",
    [CAUTION_KEEP_TURNING] = "keep_turning",
};
const struct names caution_names = TABLE(caution_list);

static const char *const turn_list[] = {
    [KNOB_LEAVE] = "leave",   [KNOB_UP] = "up",         [KNOB_DOWN] = "down",
    [KNOB_FASTER] = "faster", [KNOB_SLOWER] = "slower",
};
const struct names turn_names = TABLE(turn_list);

static const char *const cut_off_list[] = {
    [CUT_OFF_NONE] = "none",
    [CUT_OFF_HEART] = "heart",
    [CUT_OFF_POWER] = "power",
    [CUT_OFF_CADENCE] = "cadence",
    [CUT_OFF_NO_DATA] = "no_data",
    [CUT_OFF_LINK_LOST] = "link_lost",
    [CUT_OFF_UNANSWERED] = "unanswered",
    [CUT_OFF_REFUSED] = "refused",
    [CUT_OFF_CONTROL_LOST] = "control_lost",
    [CUT_OFF_SAFETY_KEY] = "safety_key",
    [CUT_OFF_TIME] = "time",
};
const struct names cut_off_names = TABLE(cut_off_list);

static const char *const end_list[] = {
    [END_NONE] = "none",
    [END_DONE] = "done",
    [END_STOPPED] = "stopped",
    [END_CUT_OFF] = "cut_off",
};
const struct names end_names = TABLE(end_list);

static const char *const reason_list[] = {
    [REASON_NONE] = "none",
    [REASON_PLAN_DONE] = "plan_done",
    [REASON_STOP_KEY] = "stop_key",
    [REASON_LEFT] = "left",
    [REASON_MACHINE_STOP] = "machine_stop",
    [REASON_HELD_TOO_LONG] = "held_too_long",
    [REASON_NOT_STARTED] = "not_started",
    [REASON_NO_MACHINE] = "no_machine",
    [REASON_RECOVERED] = "recovered",
    [REASON_CUT_OFF] = "cut_off",
    [REASON_UNGUARDED] = "unguarded",
};
const struct names reason_names = TABLE(reason_list);

const char *name_of(const struct names *names, unsigned number)
{
    return number < names->count ? names->list[number] : "unknown";
}
