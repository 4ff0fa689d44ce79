#include "wire/peripheral_data.h"

#include <assert.h>
#include <string.h>

#include "base/bytes.h"
#include "base/device.h"
#include "wire/advertisement.h"
#include "wire/cadence.h"
#include "wire/cycling_power.h"
#include "wire/ftms.h"
#include "wire/heart_rate.h"

/* Types of structures: Assigned Numbers, "Common Data Types". */
enum { ALL_SERVICES = 0x03, SHORT_NAME = 0x08, WHOLE_NAME = 0x09, SERVICE_DATA = 0x16 };

enum { IS_AVAILABLE = 0x01, NAME_ROOM = PERIPHERAL_DATA_MAX - 2 };

static const uint16_t services[DEVICE_KIND_COUNT] = {
    [DEVICE_MACHINE] = FTMS_SERVICE,
    [DEVICE_STRAP] = HEART_RATE_SERVICE,
    [DEVICE_POWER] = CYCLING_POWER_SERVICE,
    [DEVICE_CADENCE] = CADENCE_SERVICE,
};

static bool does_offer(uint32_t offers, enum device_kind kind)
{
    return (offers & 1u << kind) != 0;
}

size_t peripheral_data_encode(uint32_t offers, uint8_t ret[PERIPHERAL_DATA_MAX])
{
    struct bytes_writer writer = bytes_writer(ret, PERIPHERAL_DATA_MAX);
    uint8_t count = 0;

    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++)
        count += does_offer(offers, kind);
    bytes_put_u8(&writer, (uint8_t)(1 + 2 * count));
    bytes_put_u8(&writer, ALL_SERVICES);
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++)
        if (does_offer(offers, kind))
            bytes_put_u16(&writer, services[kind]);
    if (does_offer(offers, DEVICE_MACHINE)) {
        bytes_put_u8(&writer, 6);
        bytes_put_u8(&writer, SERVICE_DATA);
        bytes_put_u16(&writer, FTMS_SERVICE);
        bytes_put_u8(&writer, IS_AVAILABLE);
        bytes_put_u16(&writer, MACHINE_BIKE);
    }
    assert(!writer.failed);
    return writer.length;
}

size_t peripheral_response_encode(const char *name, uint8_t ret[PERIPHERAL_DATA_MAX])
{
    struct bytes_writer writer = bytes_writer(ret, PERIPHERAL_DATA_MAX);
    const size_t length = strlen(name);
    const size_t kept = length <= NAME_ROOM ? length : NAME_ROOM;

    bytes_put_u8(&writer, (uint8_t)(1 + kept));
    bytes_put_u8(&writer, kept == length ? WHOLE_NAME : SHORT_NAME);
    bytes_put(&writer, (const uint8_t *)name, kept);
    return writer.length;
}
