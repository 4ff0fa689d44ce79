/*
 * What the rides with a device are kept under, so that they are compared: the one place that says
 * which bike, and which power sensor, a ride was on.
 */
#ifndef APP_CALLED_H
#define APP_CALLED_H

#include "port/device_store.h"
#include "ride_options.h"
#include "text/devices.h"

/* `store` may be NULL, and may fail: then by the name, or by the address where there is none. `ret`
 * has room for STORE_BIKE_MAX and a NUL. */
void called_device(struct store *store, enum store_device kind, const struct device *device,
                   char *ret);
/* What a ride is to be on; a bike that is neither over the air nor behind any receiver that is
 * plugged in, as it was named. */
void called_bike(struct store *store, const struct ride_options *options, char *ret);
/* After ride `id` on the first bike that a receiver on USB heard: it had that number, 0: not told.
 * The ride is kept under it, and `bike`, as called_bike() gave it, becomes it. */
void called_bike_found(struct store *store, int64_t id, const struct ride_options *options,
                       uint16_t number, char *bike);
/* Empty: there is none. */
void called_power_sensor(struct store *store, const struct ride_options *options, char *ret);

#endif
