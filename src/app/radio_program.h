/*
 * afterset-radio, the small program that may have CAP_NET_ADMIN where this one has not.
 */
#ifndef APP_RADIO_PROGRAM_H
#define APP_RADIO_PROGRAM_H

#include <limits.h>
#include <stdbool.h>

#include "base/device.h"
#include "base/result.h"

/* Its path, whether it has the capability or not. False when it is not there. */
bool radio_program_find(char ret[PATH_MAX]);

/* link_timing_set(), by that program where we have no right to it. RESULT_REFUSED: nor has it.
 * RESULT_NOT_FOUND: it is not there. */
MUST_USE enum result radio_program_set_timing(const struct device_address *device);

#endif
