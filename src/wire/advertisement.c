#include "wire/advertisement.h"

#include <string.h>

#include "base/bytes.h"
#include "base/device.h"
#include "wire/att.h"
#include "wire/ftms.h"
#include "wire/heart_rate.h"

/* Assigned Numbers, "Common Data Types" and "16-bit UUIDs". */
enum {
    SOME_SERVICES_16 = 0x02,
    ALL_SERVICES_16 = 0x03,
    SOME_SERVICES_128 = 0x06,
    ALL_SERVICES_128 = 0x07,
    SHORT_NAME = 0x08,
    WHOLE_NAME = 0x09,
    SERVICE_DATA_16 = 0x16
};
enum { POWER_SERVICE = 0x1818, CADENCE_SERVICE = 0x1816 };
enum { UUID_OCTETS = 16 };

void advertisement_add_service(struct advertisement *known, uint16_t service)
{
    switch (service) {
    case FTMS_SERVICE: known->offers |= 1u << DEVICE_MACHINE; break;
    case HEART_RATE_SERVICE: known->offers |= 1u << DEVICE_STRAP; break;
    case POWER_SERVICE: known->offers |= 1u << DEVICE_POWER; break;
    case CADENCE_SERVICE: known->offers |= 1u << DEVICE_CADENCE; break;
    default: break;
    }
}

/* The specification lets a machine list its service nowhere but here. */
void advertisement_add_machine(struct advertisement *known, const uint8_t *service_data,
                               size_t length)
{
    struct bytes_reader reader = bytes_reader(service_data, length);
    uint8_t flags = bytes_u8(&reader);
    uint16_t types = bytes_u16(&reader);
    advertisement_add_service(known, FTMS_SERVICE);
    if (reader.failed)
        return;
    known->has_machine_types = true;
    known->is_available = (flags & 0x01u) != 0;
    known->machine_types = types;
}

void advertisement_add_name(struct advertisement *known, const char *name, size_t length,
                            bool is_whole)
{
    if (length == 0 || (known->name_is_whole && !is_whole))
        return;
    known->name_length =
        (uint8_t)(length < ADVERTISEMENT_NAME_MAX ? length : ADVERTISEMENT_NAME_MAX);
    known->name_is_whole = is_whole;
    memcpy(known->name, name, known->name_length);
}

static void read_services_16(struct advertisement *known, struct bytes_reader *reader)
{
    while (bytes_left(reader) >= 2)
        advertisement_add_service(known, bytes_u16(reader));
}

/* A service of the standards may be written in full: its number in front of the base UUID. */
static void read_services_128(struct advertisement *known, struct bytes_reader *reader)
{
    while (bytes_left(reader) >= UUID_OCTETS) {
        const struct att_uuid service = att_uuid_take(reader, UUID_OCTETS);
        if (!service.is_full)
            advertisement_add_service(known, service.assigned);
    }
}

static void read_service_data(struct advertisement *known, struct bytes_reader *reader)
{
    uint16_t service = bytes_u16(reader);
    size_t length = bytes_left(reader);
    const uint8_t *data = bytes_take(reader, length);
    if (!reader->failed && service == FTMS_SERVICE)
        advertisement_add_machine(known, data, length);
}

static void read_structure(struct advertisement *known, const uint8_t *data, size_t length)
{
    struct bytes_reader reader = bytes_reader(data, length);
    switch (bytes_u8(&reader)) {
    case SOME_SERVICES_16:
    case ALL_SERVICES_16: read_services_16(known, &reader); break;
    case SOME_SERVICES_128:
    case ALL_SERVICES_128: read_services_128(known, &reader); break;
    case SHORT_NAME:
        advertisement_add_name(known, (const char *)data + 1, length - 1, false);
        break;
    case WHOLE_NAME: advertisement_add_name(known, (const char *)data + 1, length - 1, true); break;
    case SERVICE_DATA_16: read_service_data(known, &reader); break;
    default: break;
    }
}

void advertisement_read(struct advertisement *known, const uint8_t *report, size_t length)
{
    struct bytes_reader reader = bytes_reader(report, length);
    while (bytes_left(&reader) > 0) {
        size_t structure_length = bytes_u8(&reader);
        const uint8_t *structure = bytes_take(&reader, structure_length);
        /* A length of zero is the early end of the data. */
        if (structure == NULL || structure_length == 0)
            return;
        read_structure(known, structure, structure_length);
    }
}
