#include "ui/words.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "body/heart.h"
#include "body/two_powers.h"
#include "ride/names.h"

static const char *pick(const char *const *list, size_t count, unsigned number)
{
    return number < count && list[number] != NULL ? list[number] : "";
}

#define PICK(list, number) pick(list, sizeof(list) / sizeof((list)[0]), (unsigned)(number))

const char *words_caution(enum caution caution, bool by_hand)
{
    if (by_hand && caution == CAUTION_TWO_POWERS)
        return "Watts far apart: the knob goes by the sensor, not the bike. Calibrate.";
    if (by_hand && caution == CAUTION_STRAP_LOST)
        return "No heart rate any more. Ease the knob to a rest until it is back.";
    static const char *const list[] = {
        [CAUTION_HEART_NEAR] = "Heart rate is close to your limit. Ease off.",
        [CAUTION_STRAP_LOST] = "No heart rate any more. Rest load until it is back.",
        [CAUTION_HEART_FLAT] =
            "Heart rate does not rise with the work. Unwell? Stop. Check the strap.",
        [CAUTION_HEART_STAYS] = "Heart rate hardly falls in rest. Take it easy; unwell, get help.",
        [CAUTION_HEART_FROZEN] = "Heart rate stands still while power changes. Do not trust it.",
        [CAUTION_NO_HEART] = "Nobody watches your heart: no heart rate is received.",
        [CAUTION_NO_CONTROL] = "This bike cannot be told what the profile asks. Set it by hand.",
        [CAUTION_DOUBTFUL] = "The bike sends readings that cannot be true. They do not count.",
        [CAUTION_POWER_FROZEN] = "Power stands still while cadence changes. Do not trust it.",
        [CAUTION_NO_POWER] = "Your legs turn and the bike tells no power: work counts as nothing.",
        [CAUTION_BY_FEEL] = "Nobody measures power: go by feel, + and - set the level.",
        [CAUTION_TWO_CADENCES] =
            "The bike's cadence is twice or half the sensor's. Count: which is right?",
        [CAUTION_TWO_POWERS] =
            "Watts far apart: the load is the bike's, shown the sensor's. Calibrate.",
        [CAUTION_POWER_SENSOR_LOST] =
            "The power sensor fell silent: the bike's own counts until it is back.",
        [CAUTION_CADENCE_SENSOR_LOST] =
            "The cadence sensor fell silent: other readings count until it is back.",
        [CAUTION_LOWERED] = "The target is above a limit and was lowered.",
        [CAUTION_LOAD_REFUSED] = "The bike refused a load. Trying once more.",
        [CAUTION_NOT_SAVED] = "Saving fails. The ride is kept in memory; trying again.",
        [CAUTION_BY_EFFORT] =
            "Medicine slows your heart: go by how hard it feels, not by its rate.",
        [CAUTION_FIRST_BLOCKS] = "One of your first three blocks: short, and 20 % easier.",
        [CAUTION_KEEP_TURNING] = "Keep the legs turning. Dizzy? Lie down with the legs up.",
    };
    return PICK(list, caution);
}

const char *words_cut_off(enum cut_off cut_off)
{
    static const char *const list[] = {
        [CUT_OFF_HEART] = "heart rate over your limit",
        [CUT_OFF_POWER] = "power over the limit",
        [CUT_OFF_CADENCE] = "cadence over the limit",
        [CUT_OFF_NO_DATA] = "no readings from the bike",
        [CUT_OFF_LINK_LOST] = "the link to the bike is lost",
        [CUT_OFF_UNANSWERED] = "the bike does not answer commands",
        [CUT_OFF_REFUSED] = "the bike refuses commands",
        [CUT_OFF_CONTROL_LOST] = "another program has taken the bike",
        [CUT_OFF_SAFETY_KEY] = "the bike's safety key was pulled",
        [CUT_OFF_TIME] = "the ride takes far longer than its plan",
    };
    return PICK(list, cut_off);
}

const char *words_load_at(enum cut_off cut_off, bool by_hand)
{
    if (by_hand)
        return "Turn the knob right down, at once.";
    switch (cut_off) {
    case CUT_OFF_LINK_LOST:
    case CUT_OFF_UNANSWERED:
    case CUT_OFF_REFUSED:
    case CUT_OFF_CONTROL_LOST: return "It may still brake: ease off and turn it down by hand.";
    case CUT_OFF_NONE:
    case CUT_OFF_HEART:
    case CUT_OFF_POWER:
    case CUT_OFF_CADENCE:
    case CUT_OFF_NO_DATA:
    case CUT_OFF_SAFETY_KEY:
    case CUT_OFF_TIME:
    case CUT_OFF_COUNT: break;
    }
    return "The load is taken off.";
}

static const char *hold_by_hand(enum hold hold)
{
    static const char *const list[] = {
        [HOLD_NONE] = "Going on.",
        [HOLD_RIDER] = "Held: ease the knob. Space goes on, within 2 minutes.",
        [HOLD_LINK] = "Held: the link to the bike is lost. Waiting for it, a minute at most.",
        [HOLD_NO_DATA] = "Held: no readings from the bike. Ease the knob.",
        [HOLD_CADENCE] = "Held: the legs stopped. Ease the knob, pedal to go on within 2 minutes.",
        [HOLD_PAUSED] = "Held at the bike. Start it there or press space, within 2 minutes.",
        [HOLD_CLOCK_JUMP] = "Held: the computer was asleep. Space goes on.",
    };
    return PICK(list, hold);
}

const char *words_hold(enum hold hold, bool by_hand)
{
    if (by_hand)
        return hold_by_hand(hold);
    static const char *const list[] = {
        [HOLD_NONE] = "Going on.",
        [HOLD_RIDER] = "Held, load off. Space goes on, within 2 minutes.",
        [HOLD_LINK] = "Held: the link to the bike is lost. Waiting for it, a minute at most.",
        [HOLD_NO_DATA] = "Held, load off: no readings from the bike.",
        [HOLD_CADENCE] = "Held, load off: the legs stopped. Pedal to go on, within 2 minutes.",
        [HOLD_PAUSED] = "Held at the bike. Start it there or press space, within 2 minutes.",
        [HOLD_CLOCK_JUMP] = "Held, load off: the computer was asleep. Space goes on.",
    };
    return PICK(list, hold);
}

const char *words_reason(enum end_reason reason)
{
    static const char *const list[] = {
        [REASON_PLAN_DONE] = "the plan was ridden to its end",
        [REASON_STOP_KEY] = "by your key",
        [REASON_LEFT] = "the program was told to end",
        [REASON_MACHINE_STOP] = "at the bike",
        [REASON_HELD_TOO_LONG] = "it was held for too long",
        [REASON_NOT_STARTED] = "nobody pedalled",
        [REASON_NO_MACHINE] = "the bike did not become ready",
        [REASON_RECOVERED] = "the program ended in mid-ride; this is what was saved",
        [REASON_CUT_OFF] = "cut off",
        [REASON_UNGUARDED] = "the guard of the ride was gone",
    };
    return PICK(list, reason);
}

/* Cole et al. 1999 (NEJM 341:1351), through body/heart.h. */
const char *words_heart_fall(int32_t fall_bpm)
{
    return heart_fall_is_low_1_min(fall_bpm)
               ? "clinics call up to 12 low, but one ride proves nothing"
               : "more than the 12 that clinics call low";
}

const char *words_heart_way(int32_t fall_bpm)
{
    return fall_bpm < 0 ? "up" : "down";
}

/* The errors are those of body/heart.h. */
const char *words_heart_basis(const struct rider *rider)
{
    if (rider->heart_max_bpm > 0)
        return "your measured maximum";
    if (rider->heart_slowed && rider->age_years > 0)
        return "164 - 0.7 x age, with medicine that slows the heart (Brawner 2004). It may be 20 "
               "beats off: ask your doctor for a limit, and go by how hard it feels";
    if (rider->heart_slowed)
        return "set low, since medicine slows the heart and the age is not known. Ask your doctor "
               "for a limit, and go by how hard it feels";
    if (rider->age_years > 0)
        return "208 - 0.7 x age (Tanaka 2001). Its standard error is 11 beats: one in three "
               "people of an age is further away than that. Better is a maximum that was measured";
    return "the program, which knows neither your age nor a measured maximum";
}

const char *words_phase(enum phase phase)
{
    static const char *const list[] = {
        [PHASE_CONNECTING] = "Connecting", [PHASE_FLOOR] = "Floor",     [PHASE_READY] = "Ready",
        [PHASE_COUNT_IN] = "Get going",    [PHASE_RIDING] = "Riding",   [PHASE_HELD] = "Held",
        [PHASE_EASY] = "Riding out",       [PHASE_LEAVING] = "Leaving", [PHASE_ENDED] = "Ended",
    };
    return PICK(list, phase);
}

const char *words_to_do(enum phase phase, bool by_hand)
{
    if (by_hand && phase == PHASE_EASY)
        return "Turn the knob right down, pedal for 3 minutes; a stop once more leaves.";
    if (by_hand && phase == PHASE_READY)
        return "The bike is ready. Type the number its knob stands at; pedal to start.";
    static const char *const list[] = {
        [PHASE_CONNECTING] = "Waiting for the bike. Turn the pedals to wake it.",
        [PHASE_FLOOR] = "Off the bike first; it begins by itself, the bike comes after it.",
        [PHASE_READY] = "The bike is ready. Pedal to start.",
        [PHASE_COUNT_IN] = "Starting in 3 seconds.",
        [PHASE_EASY] = "Pedal easily for 3 minutes; a stop once more leaves.",
        [PHASE_LEAVING] = "Waiting until the bike has let go.",
    };
    return PICK(list, phase);
}

const char *words_countdown(enum phase phase)
{
    static const char *const list[] = {
        [PHASE_COUNT_IN] = "to the start",
        [PHASE_FLOOR] = "left",
        [PHASE_RIDING] = "left",
        [PHASE_HELD] = "until it ends",
        [PHASE_EASY] = "of easy pedalling",
    };
    return PICK(list, phase);
}

const char *words_stand(enum stand stand)
{
    static const char *const list[] = {
        [STAND_LOW] = "low",
        [STAND_IN_RANGE] = "in range",
        [STAND_HIGH] = "high",
    };
    return PICK(list, stand);
}

const char *words_acknowledge(void)
{
    return "Press Enter when you have read this.";
}

const char *words_sound(bool is_muted)
{
    return is_muted ? "Sound off; m brings it back." : "Sound on.";
}

const char *words_skipped(int32_t skipped, char *ret)
{
    (void)snprintf(ret, WORDS_SKIPPED_SIZE, "%" PRId32 " %s skipped", skipped,
                   skipped == 1 ? "step was" : "steps were");
    return ret;
}

const char *words_no_power(const struct summary *summary)
{
    return summary->work_j == 0 && summary->max_power_w <= 0 ? "nothing told the power" : "";
}

const char *words_difference(int32_t tenths, int32_t error_tenths, char *ret)
{
    const int digits = error_tenths < 10 ? 1 : 0;

    (void)snprintf(ret, WORDS_SENSOR_SIZE, "%.*f %% %s the bike (+- %.*f)", digits,
                   fabs(tenths / 10.0), tenths < 0 ? "below" : "above", digits,
                   error_tenths / 10.0);
    return ret;
}

const char *words_far_off(int32_t tenths, int32_t error_tenths)
{
    const struct power_difference difference = {tenths, error_tenths};

    if (!power_difference_is_far(&difference))
        return "";
    return "That is too far: a bike that is told watts goes by its own, shown are the sensor's. "
           "Calibrate both (sensor: zero offset), or ride with --power bike.";
}

const char *words_power_sensor(int32_t sensor_pct, int32_t tenths, int32_t error_tenths, char *ret)
{
    struct text_writer writer = text_writer(ret, WORDS_SENSOR_SIZE);

    if (sensor_pct == 0) {
        text_put(&writer, "not heard, the power is the bike's");
    } else if (sensor_pct == 100) {
        text_put(&writer, "the whole time");
    } else {
        text_put(&writer, "for ");
        text_put_signed(&writer, sensor_pct);
        text_put(&writer, " % of the time, else the bike");
    }
    if (error_tenths > 0) {
        char difference[WORDS_SENSOR_SIZE];
        text_put(&writer, "; reads ");
        text_put(&writer, words_difference(tenths, error_tenths, difference));
    }
    return ret;
}

const char *words_skip_again(void)
{
    return "n once more goes to the next step.";
}

const char *words_ending(const char *name)
{
    for (unsigned i = 0; i < reason_names.count; i++)
        if (strcmp(name, reason_names.list[i]) == 0)
            return words_reason((enum end_reason)i);
    for (unsigned i = 0; i < cut_off_names.count; i++)
        if (strcmp(name, cut_off_names.list[i]) == 0)
            return words_cut_off((enum cut_off)i);
    return name;
}

/* After the general reasons to stop exercise that ACSM and ACC/AHA list, and what is known of
 * fainting after hard efforts and of muscle breakdown after unaccustomed ones; wording our own. */
const char words_first_cautions[] =
    "Before the first ride\n"
    "\n"
    "Hard intervals on tired legs are a heavy strain. This is training software,\n"
    "not a medical device. What your doctor says and what the machine's manual\n"
    "says goes before what it says.\n"
    "\n"
    "Ask a doctor first if you have, or think you may have, a heart, circulation,\n"
    "metabolic or kidney disease, if effort has given you chest pain, fainting or\n"
    "unusual breathlessness, or if you have not been exercising regularly.\n"
    "\n"
    "Stop at once, and get help if it does not pass, on: pain or pressure in the\n"
    "chest, arm, neck or jaw; dizziness, confusion, blurred sight; cold sweat,\n"
    "grey or blue skin, nausea; breath that does not fit the effort, wheezing; a\n"
    "heartbeat that stumbles or races without reason; cramp or pain in the calf.\n"
    "You may stop for any reason, or for none.\n"
    "\n"
    "Never stop dead after a hard step: keep the legs turning without load for\n"
    "some minutes. Dizzy? Get down and lie with the legs up. Breathe on; don't\n"
    "hold your breath as in lifting. Mind shaking legs when you get on and off.\n"
    "Never brake a turning flywheel with your legs.\n"
    "\n"
    "In the days after: pain or weakness far beyond soreness, swollen tight\n"
    "thighs, or urine as dark as cola: stop training and see a doctor at once.\n"
    "\n"
    "If you take medicine that slows the heart, limits estimated from age are\n"
    "wrong for you: ask your doctor for a personal limit and set it with\n"
    "'afterset rider heart-limit'.\n";

const char words_each_ride[] = "Stop at once on chest pain, dizziness or a stumbling heart.\n"
                               "Keep the legs turning after hard work.\n";

/* Blood that stays in the legs when hard work stops: Halliwill et al. 2014 (Eur J Appl Physiol
 * 114:561); three minutes, common practice. Muscle breakdown after group cycling: Brogan et al.
 * 2017 (Am J Med). */
const char words_after_block[] =
    "After the work\n"
    "\n"
    "Pedal easily, without load, for three minutes or more, also after a stop or a\n"
    "cut-off: the turning legs bring the blood back, and standing still may make\n"
    "you faint. Get off slowly. Dizzy? Get down and lie with the legs up until it\n"
    "has passed; get help if it does not. Chest pain, a faint, or breath or a\n"
    "heartbeat that does not settle: call for help at once.\n"
    "\n"
    "In the next days soreness is usual. Pain or weakness far beyond it, swollen\n"
    "tight thighs, urine as dark as tea or cola, or nausea may be muscle that\n"
    "breaks down: stop training and get medical care at once. The first blocks,\n"
    "heat, thirst and some medicine against cholesterol make it likelier.\n";
