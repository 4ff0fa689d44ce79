/*
 * Devices that were seen: reports merged by address and type, what does not concern a ride left
 * out, the strongest first.
 */
#ifndef APP_SIGHTINGS_H
#define APP_SIGHTINGS_H

#include "port/scan.h"
#include "text/devices.h"

#define SIGHTINGS_MAX 64u

/* Zeroed: nothing was seen. Devices that offer nothing yet are in it, too: what they offer may come
 * in another report. */
struct sightings {
    size_t count;
    struct sighting list[SIGHTINGS_MAX];
};

/* The device as it is known now when that has changed and it offers something; else NULL. In a full
 * list a new device takes the place of one that offers nothing, or is left out. */
const struct sighting *sightings_add(struct sightings *sightings, const struct sighting *report);

/* Those that offer something, strongest first, those of unknown strength last and otherwise in the
 * order they were first seen. `ret` has room for SIGHTINGS_MAX. */
size_t sightings_ranked(const struct sightings *sightings, const struct sighting **ret);

/* How many of those seen may be that remembered device, and the first of them in *ret. That with
 * its address is it. Else whatever offers that kind and, where its address changes and a name is
 * known, has that name; or is on USB as it is, where it has no number yet. */
size_t sightings_find(const struct sightings *sightings, const struct device *device,
                      enum device_kind kind, const struct sighting **ret);

/* Puts the strongest of each kind into `devices` and leaves kinds that were not seen as they were.
 * A machine that is no bike is not remembered, nor is one machine both machine and sensor: a device
 * gives us one link. How many were put. */
size_t sightings_keep(const struct sightings *sightings, struct devices *devices);

#endif
