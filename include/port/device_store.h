/*
 * What devices are called: one device's rides are kept under one name, whatever address it shows.
 *
 * A name belongs to the first address that stays which came with it; another device of that name is
 * kept under its own address. Results and words for failures are those of port/store.h.
 */
#ifndef PORT_DEVICE_STORE_H
#define PORT_DEVICE_STORE_H

#include "port/store.h"

enum store_device { STORE_BIKE, STORE_POWER_SENSOR };

/* What rides with that device are kept under from now on; rides that were kept under its address,
 * and what was learned of its brake, are under it as well afterwards. `address` as
 * device_address_put() writes it, or empty: it changes. `name`: as it is called, or empty; one of
 * both is not. `ret` has room for STORE_BIKE_MAX and a NUL. */
MUST_USE enum result store_call_device(struct store *store, enum store_device kind,
                                       const char *address, const char *name, char *ret);

/* The bike of ride `id` turned out to be `name`, where `address` is a call that any bike answers:
 * the ride is kept under it, and what is called so is that bike until another one answers. Rides
 * that were kept under the call itself, and the brake, go with the first that answers. */
MUST_USE enum result store_bike_answered(struct store *store, int64_t id, const char *address,
                                         const char *name);

#endif
