#include "brake.h"

#include "app/command.h"
#include "port/brake_store.h"

void brake_recall(struct store *store, const char *bike, struct ride_setup *setup)
{
    struct brake_curve curve;
    struct knob_place place;

    if (store != NULL && store_brake(store, bike, &curve) == RESULT_OK)
        setup->brake = curve;
    if (store != NULL && store_knob(store, bike, &place) == RESULT_OK)
        setup->knob = place;
}

static enum result keep(struct store *store, const char *bike, const struct ride *ride)
{
    const struct brake_curve curve = brake_model_curve(&ride->power_hold.brake);
    /* By feel a place is known once a key moved it, or an earlier ride left it. */
    const bool has_place = ride->knob.place.is_known;
    enum result result = RESULT_OK;

    /* A ride that taught nothing leaves what was known. */
    if (brake_curve_is_known(&curve) && ride->power_hold.learned_t_ms > 0)
        result = store_keep_brake(store, bike, &curve);
    if (result == RESULT_OK && has_place)
        result = store_keep_knob(store, bike, &ride->knob.place);
    return result;
}

void brake_keep(struct store *store, const char *bike, const struct ride *ride)
{
    const bool has_learned =
        ride_holds_power(ride) || (ride_turns_knob(ride) && ride->knob.place.is_known);

    if (store != NULL && has_learned && keep(store, bike, ride) != RESULT_OK)
        complain("what was learned of the bike's brake could not be saved: %s",
                 store_problem(store));
}

uint32_t brake_step_w(const struct ride *ride, uint32_t power_w)
{
    const struct power_hold *hold = &ride->power_hold;
    const struct hold_levels *levels = &hold->levels;
    const double range = levels->maximum - levels->minimum;
    const double from_w = power_w, doubt_w = from_w / BRAKE_DOUBT_PART;

    if (!(ride_holds_power(ride) || ride_turns_knob(ride)) || range <= 0 || levels->step <= 0)
        return 0;
    for (int32_t above = levels->step; above <= range; above += levels->step) {
        const double share = above / range;
        const double at_w = brake_model_power_w(&hold->brake, share, BRAKE_USUAL_RPM);
        const double below_w =
            brake_model_power_w(&hold->brake, (above - levels->step) / range, BRAKE_USUAL_RPM);

        if (at_w <= from_w)
            continue;
        return brake_model_variance_w2(&hold->brake, share, BRAKE_USUAL_RPM) <= doubt_w * doubt_w
                   ? (uint32_t)(at_w - below_w + 0.5)
                   : 0;
    }
    return 0;
}
