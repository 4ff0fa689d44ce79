#include "brake.h"

#include "app/command.h"
#include "port/brake_store.h"

void brake_recall(struct store *store, const char *bike, struct brake_curve *ret)
{
    struct brake_curve known;

    if (store != NULL && store_brake(store, bike, &known) == RESULT_OK)
        *ret = known;
}

void brake_keep(struct store *store, const char *bike, const struct ride *ride)
{
    if (store == NULL || !ride_holds_power(ride))
        return;

    const struct brake_curve curve = brake_model_curve(&ride->power_hold.brake);

    if (store_keep_brake(store, bike, &curve) != RESULT_OK)
        complain("what was learned of the bike's brake could not be saved: %s",
                 store_problem(store));
}
