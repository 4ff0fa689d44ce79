/*
 * How a Bluetooth link is to be kept, told to the kernel before connecting: it then sends at an
 * interval that suits several records a second, and forgives silence for seconds. Left alone it
 * gives a link up after 0.42 s, which a body between bike and computer is enough for.
 */
#ifndef IO_LINK_TIMING_H
#define IO_LINK_TIMING_H

#include "base/device.h"
#include "base/result.h"

/* For that device on every adapter; with an unknown type for both. RESULT_REFUSED: needs
 * CAP_NET_ADMIN. RESULT_IO: no management socket, errno says why. */
MUST_USE enum result link_timing_set(const struct device_address *device);
/* The same through a management socket that is open. RESULT_TIMEOUT: no answer. */
MUST_USE enum result link_timing_set_on(int mgmt, const struct device_address *device);

#endif
