/*
 * The file of remembered devices, in the data folder.
 */
#ifndef APP_DEVICES_FILE_H
#define APP_DEVICES_FILE_H

#include <stdbool.h>

#include "text/devices.h"

/* No file yet is no fault: no device is remembered then. Complains and gives false when there is
 * one that cannot be read or understood; the file stays as it is. */
bool load_devices(struct devices *ret);

/* Whole or not at all, also when the power fails. Complains and gives false on failure. */
bool save_devices(const struct devices *devices);

#endif
