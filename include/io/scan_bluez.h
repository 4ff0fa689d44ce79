/*
 * Discovery through bluetoothd's interface on the system bus, which everybody may use.
 *
 * Source: doc/adapter-api.txt and doc/device-api.txt of BlueZ 5.66.
 */
#ifndef IO_SCAN_BLUEZ_H
#define IO_SCAN_BLUEZ_H

#include "io/loop.h"
#include "port/scan.h"

/* Whether bluetoothd is on the bus. It is not started for that. */
bool scan_bluez_runs(void);

enum scan_trouble scan_bluez_open(struct loop *loop, uint16_t index, const struct scan_user *user,
                                  struct scan **ret);

#endif
