#include "io/sighting.h"

#include "text/devices.h"

struct sighting sighting_from(const struct advertisement *said,
                              const struct device_address *address, int16_t signal_dbm)
{
    struct sighting sighting = {
        .address = *address,
        .offers = said->offers,
        .signal_dbm = signal_dbm,
        .has_machine_types = said->has_machine_types,
        .is_available = said->is_available,
        .machine_types = said->machine_types,
    };
    device_name_from(said->name, said->name_length, sighting.name);
    return sighting;
}
