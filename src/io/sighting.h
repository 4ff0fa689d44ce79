/*
 * What both ways of discovery make of an advertisement.
 */
#ifndef IO_SIGHTING_H
#define IO_SIGHTING_H

#include "port/scan.h"
#include "wire/advertisement.h"

struct sighting sighting_from(const struct advertisement *said,
                              const struct device_address *address, int16_t signal_dbm);

#endif
