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
    const bool by_hand = ride_turns_knob(ride);
    enum result result = RESULT_OK;

    /* A ride that taught nothing leaves what was known. */
    if (brake_curve_is_known(&curve) && ride->power_hold.learned_t_ms > 0)
        result = store_keep_brake(store, bike, &curve);
    if (result == RESULT_OK && by_hand)
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
