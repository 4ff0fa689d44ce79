#include "acts.h"
#include "effects.h"

/* A key held down repeats itself faster than legs feel what came of it. */
#define FEEL_EVERY_MS 500u
/* Levels finer than that are felt by nobody; one is 10 W of the usual brake. */
#define FEEL_NUMBERS 40
/* Of the work's number, which an earlier ride left: rests of the usual profile ask for a third of
 * its work. */
#define EASY_PART 3

/* The machine's levels as the numbers of a knob, 0 the least that is a level at all. */
struct numbers {
    int32_t least_tenths, step_tenths, top;
};

static int32_t clamped(int32_t number, int32_t most)
{
    return number < 0 ? 0 : number > most ? most : number;
}

static struct numbers numbers_of(const struct hold_levels *levels)
{
    const int32_t step = levels->step > 0 ? levels->step : 1;
    const int32_t coarse = (levels->maximum - levels->minimum) / FEEL_NUMBERS;
    const int32_t whole = coarse - coarse % step;
    const int32_t by = whole > step ? whole : step;
    const int32_t least = levels->minimum > 0 ? levels->minimum : by;
    const int32_t top = (levels->maximum - least) / by;

    return (struct numbers){least, by, clamped(top, KNOB_TOP_MAX)};
}

/* Within the limit of the rider and of first blocks, so that no press is lost above it. */
static int32_t highest(const struct ride *ride, const struct numbers *numbers)
{
    const int32_t room = ride->limits.load_max_tenths - numbers->least_tenths;

    return clamped(room / numbers->step_tenths, numbers->top);
}

bool ride_goes_by_feel(const struct ride *ride)
{
    const struct step_targets targets = ride_targets(ride);

    return ride_is_felt(ride, &targets);
}

bool ride_is_felt(const struct ride *ride, const struct step_targets *targets)
{
    return ride_is_held_by_levels(ride, targets) && ride->power_hold.brake.ridden_share < 0 &&
           ride_is_powerless(ride);
}

struct load ride_felt_load(const struct ride *ride, enum step_kind kind)
{
    const struct numbers numbers = numbers_of(&ride->power_hold.levels);
    const int32_t number = kind == STEP_WORK ? ride->knob.place.position : ride->felt.easy;

    return (struct load){LOAD_LEVEL,
                         numbers.least_tenths +
                             clamped(number, highest(ride, &numbers)) * numbers.step_tenths};
}

static bool may_rise(const struct ride *ride)
{
    return ride->phase == PHASE_RIDING && !ride->verdict.heart_near && !ride->verdict.strap_lost &&
           ride->t_ms - ride->felt.raised_t_ms >= FEEL_EVERY_MS;
}

void ride_feel(struct ride *ride, int32_t by)
{
    const struct plan_step *step = ride_current_step(ride);
    const struct numbers numbers = numbers_of(&ride->power_hold.levels);
    const int32_t most = highest(ride, &numbers);
    struct knob_place *work = &ride->knob.place;

    if (step == NULL || (by > 0 && !may_rise(ride)))
        return;
    if (by > 0)
        ride->felt.raised_t_ms = ride->t_ms;
    if (step->kind == STEP_WORK) {
        *work = (struct knob_place){true, clamped(work->position + by, most), numbers.top};
        ride->felt.easy = clamped(ride->felt.easy, work->position);
    } else {
        ride->felt.easy = clamped(ride->felt.easy + by, most);
        if (work->position < ride->felt.easy)
            *work = (struct knob_place){true, ride->felt.easy, numbers.top};
    }
}

/* On another scale what was kept says nothing. */
void ride_recall_feel(struct ride *ride)
{
    const struct knob_place *place = &ride->setup.knob;
    const struct numbers numbers = numbers_of(&ride->power_hold.levels);

    if (!ride_holds_power(ride) || ride->knob.place.is_known || !place->is_known ||
        place->top != numbers.top)
        return;
    ride->knob.place = *place;
    ride->felt.easy = place->position / EASY_PART;
}
