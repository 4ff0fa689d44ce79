/*
 * What is known of a device's attributes, kept from ride to ride: one small file for each device in
 * the cache folder. Nothing depends on it: without it, or with a damaged one, the device is asked.
 */
#ifndef APP_HANDLES_FILE_H
#define APP_HANDLES_FILE_H

#include "base/device.h"
#include "wire/gatt_known.h"

/* Zeroed when nothing (or nothing whole) is kept. Says nothing: the end of the ride mends it. */
void load_handles(const struct device_address *device, struct gatt_known *ret);
/* Does nothing when it is not worth keeping, or what is kept says the same. */
void save_handles(const struct device_address *device, const struct gatt_known *known);

#endif
