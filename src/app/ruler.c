#include "ruler.h"

#include <math.h>
#include <string.h>

#include "io/link_address.h"

static uint32_t share_pct(const struct store_ride *ride)
{
    if (ride->power_sensor[0] == '\0')
        return 0;
    return ride->state == STORE_RIDING ? 100 : ride->summary.sensor_pct;
}

static bool is_by_sensor(const struct store_ride *ride)
{
    return share_pct(ride) >= RULER_PURE_PCT;
}

bool ruler_is_mixed(const struct store_ride *ride)
{
    return !is_by_sensor(ride) && share_pct(ride) > 100 - RULER_PURE_PCT;
}

bool ruler_is_same(const struct store_ride *a, const struct store_ride *b)
{
    if (ruler_is_mixed(a) || ruler_is_mixed(b) || is_by_sensor(a) != is_by_sensor(b))
        return false;
    return !is_by_sensor(a) || strcmp(a->power_sensor, b->power_sensor) == 0;
}

bool ruler_is_virtual(const struct store_ride *ride)
{
    struct link_address address;

    return strcmp(ride->bike, "virtual") == 0 ||
           (link_address_read(ride->bike, &address) && address.path != NULL);
}

/* Its own ruler over the machine's. */
static bool over_machine(const struct store_ride *ride, double *ret_ratio, double *ret_error_pct)
{
    const struct store_summary *summary = &ride->summary;

    *ret_ratio = 1;
    *ret_error_pct = 0;
    if (!is_by_sensor(ride))
        return !ruler_is_mixed(ride);
    *ret_ratio = 1 + summary->difference_tenths / 1000.0;
    /* The half of a 95 % interval is two standard errors, or more where it was of few windows. */
    *ret_error_pct = summary->difference_error_tenths / 20.0;
    return summary->difference_error_tenths > 0 && *ret_ratio > 0;
}

double ruler_to_machine(const struct store_ride *ride)
{
    const double above = ride->summary.difference_tenths / 1000.0 * share_pct(ride) / 100;

    return above > -1 ? 1 / (1 + above) : 1;
}

bool ruler_factor(const struct store_ride *ride, const struct store_ride *onto, double *ret_factor,
                  double *ret_error_pct)
{
    double from, to, from_error_pct, to_error_pct;

    if (ruler_is_same(ride, onto)) {
        *ret_factor = 1;
        *ret_error_pct = 0;
        return true;
    }
    if (!over_machine(ride, &from, &from_error_pct) || !over_machine(onto, &to, &to_error_pct))
        return false;
    *ret_factor = to / from;
    *ret_error_pct = hypot(from_error_pct, to_error_pct);
    return true;
}

bool ruler_factor_anywhere(const struct store_ride *ride, const struct store_ride *onto,
                           double *ret_factor)
{
    const bool is_same_bike = strcmp(ride->bike, onto->bike) == 0;
    double error_pct;

    if (!is_same_bike && !(is_by_sensor(ride) && ruler_is_same(ride, onto)))
        return false;
    return ruler_factor(ride, onto, ret_factor, &error_pct);
}
