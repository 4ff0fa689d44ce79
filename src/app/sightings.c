#include "sightings.h"

#include <limits.h>
#include <string.h>

enum { TYPE_BIKE = 1 << 5 };

static struct sighting *find(struct sightings *sightings, const struct device_address *address)
{
    for (size_t i = 0; i < sightings->count; i++)
        if (device_address_is(&sightings->list[i].address, address))
            return &sightings->list[i];
    return NULL;
}

static struct sighting *find_useless(struct sightings *sightings)
{
    for (size_t i = 0; i < sightings->count; i++)
        if (sightings->list[i].offers == 0)
            return &sightings->list[i];
    return NULL;
}

static struct sighting *place_for(struct sightings *sightings, const struct device_address *address)
{
    struct sighting *place = find(sightings, address);
    if (place != NULL)
        return place;
    place = sightings->count < SIGHTINGS_MAX ? &sightings->list[sightings->count++]
                                             : find_useless(sightings);
    if (place != NULL)
        *place = (struct sighting){.address = *address};
    return place;
}

static bool learn(struct sighting *known, const struct sighting *report)
{
    const struct sighting before = *known;
    known->offers |= report->offers;
    if (report->signal_dbm != 0)
        known->signal_dbm = report->signal_dbm;
    if (report->has_machine_types) {
        known->has_machine_types = true;
        known->is_available = report->is_available;
        known->machine_types = report->machine_types;
    }
    if (report->name[0] != '\0')
        memcpy(known->name, report->name, sizeof known->name);
    return known->offers != before.offers || known->signal_dbm != before.signal_dbm ||
           known->has_machine_types != before.has_machine_types ||
           known->is_available != before.is_available ||
           known->machine_types != before.machine_types || strcmp(known->name, before.name) != 0;
}

const struct sighting *sightings_add(struct sightings *sightings, const struct sighting *report)
{
    struct sighting *known = place_for(sightings, &report->address);
    return known != NULL && learn(known, report) && known->offers != 0 ? known : NULL;
}

static int strength(const struct sighting *sighting)
{
    return sighting->signal_dbm != 0 ? sighting->signal_dbm : INT_MIN;
}

size_t sightings_ranked(const struct sightings *sightings, const struct sighting **ret)
{
    size_t count = 0;
    for (size_t i = 0; i < sightings->count; i++) {
        const struct sighting *sighting = &sightings->list[i];
        size_t at = count;
        if (sighting->offers == 0)
            continue;
        for (; at > 0 && strength(ret[at - 1]) < strength(sighting); at--)
            ret[at] = ret[at - 1];
        ret[at] = sighting;
        count++;
    }
    return count;
}

static bool offers(const struct sighting *sighting, enum device_kind kind)
{
    return (sighting->offers & 1u << kind) != 0;
}

/* Without having its address. */
static bool may_be(const struct sighting *sighting, const struct device *device,
                   enum device_kind kind)
{
    if (!offers(sighting, kind))
        return false;
    if (device->address.type == ADDRESS_USB)
        return sighting->address.type == ADDRESS_USB && device_address_usb(&device->address) == 0;
    return device_address_changes(&device->address) && device->name[0] != '\0' &&
           strcmp(sighting->name, device->name) == 0;
}

size_t sightings_find(const struct sightings *sightings, const struct device *device,
                      enum device_kind kind, const struct sighting **ret)
{
    size_t count = 0;
    for (size_t i = 0; i < sightings->count; i++) {
        if (device_address_is(&sightings->list[i].address, &device->address)) {
            *ret = &sightings->list[i];
            return 1;
        }
    }
    for (size_t i = 0; i < sightings->count; i++)
        if (may_be(&sightings->list[i], device, kind) && count++ == 0)
            *ret = &sightings->list[i];
    return count;
}

/* Whether a machine says of itself that it is one, but no bike. */
static bool is_other_machine(const struct sighting *sighting)
{
    return sighting->has_machine_types && (sighting->machine_types & TYPE_BIKE) == 0;
}

static bool serves_as(const struct sighting *sighting, enum device_kind kind)
{
    if (kind == DEVICE_MACHINE)
        return offers(sighting, kind) && !is_other_machine(sighting);
    return offers(sighting, kind) && !offers(sighting, DEVICE_MACHINE);
}

size_t sightings_keep(const struct sightings *sightings, struct devices *devices)
{
    const struct sighting *ranked[SIGHTINGS_MAX];
    size_t count = sightings_ranked(sightings, ranked);
    size_t kept = 0;
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        size_t i = 0;
        while (i < count && !serves_as(ranked[i], kind))
            i++;
        if (i == count)
            continue;
        devices->list[kind].address = ranked[i]->address;
        memcpy(devices->list[kind].name, ranked[i]->name, sizeof devices->list[kind].name);
        kept++;
    }
    return kept;
}
