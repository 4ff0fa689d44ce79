#include "ride/step.h"

#include <assert.h>

#include "ride/names.h"
#include "ride/plan.h"

#define TEMPO_MAX 9999u

uint32_t reps_duration_ms(struct step_reps reps)
{
    uint32_t seconds = 0;

    if (reps.tempo > TEMPO_MAX)
        return 0;
    /*@ loop variant digits; */
    for (uint32_t digits = reps.tempo; digits > 0; digits /= 10)
        seconds += digits % 10;
    return reps.reps * seconds * 1000;
}

static uint32_t seconds_of(uint16_t tempo, enum rep_part part)
{
    static const uint16_t divisors[REP_PART_COUNT] = {1000, 100, 10, 1};

    return tempo / divisors[part] % 10;
}

struct rep_place reps_place(struct step_reps reps, uint32_t step_ms)
{
    const uint32_t rep_s = reps_duration_ms((struct step_reps){1, reps.tempo}) / 1000;
    const uint32_t at_s = step_ms / 1000;

    assert(rep_s > 0);
    struct rep_place place = {.rep = at_s / rep_s + 1, .second = at_s % rep_s + 1};

    for (enum rep_part part = REP_LOWERS; part < REP_PART_COUNT && place.second > place.seconds;
         part++) {
        place.second -= place.seconds;
        place.part = part;
        place.seconds = seconds_of(reps.tempo, part);
    }
    return place;
}

const char *step_kind_text(enum step_kind kind)
{
    return name_of(&step_names, kind);
}

/* at_ms <= of_ms, and above 0. */
/*@ assigns \nothing;
    ensures from <= \result <= to || to <= \result <= from;
*/
static int32_t between(int32_t from, int32_t to, uint32_t at_ms, uint32_t of_ms)
{
    return (int32_t)(from + ((int64_t)to - from) * at_ms / of_ms);
}

static void lead(struct target_range *range, const struct target_range *to, uint32_t at_ms,
                 uint32_t of_ms)
{
    if (!range->set || !to->set)
        return;
    range->low = between(range->low, to->low, at_ms, of_ms);
    range->high = between(range->high, to->high, at_ms, of_ms);
}

struct step_targets plan_step_targets(const struct plan_step *step, uint32_t step_ms)
{
    struct step_targets targets = step->targets;
    const struct step_targets *to = &step->ramp_to;
    const uint32_t of_ms = step->duration_ms > 0 ? step->duration_ms : 1;
    const uint32_t at_ms = step_ms < of_ms ? step_ms : of_ms;

    lead(&targets.power_w, &to->power_w, at_ms, of_ms);
    lead(&targets.cadence_rpm, &to->cadence_rpm, at_ms, of_ms);
    lead(&targets.heart_bpm, &to->heart_bpm, at_ms, of_ms);
    lead(&targets.level_tenths, &to->level_tenths, at_ms, of_ms);
    lead(&targets.effort, &to->effort, at_ms, of_ms);
    return targets;
}
