#include "wire/gatt_known.h"

#include <string.h>

#include "base/bytes.h"

#define FORM 1u /* the first octet; another form would have another one */

/* ---- to octets ---- */

static void put_uuid(struct bytes_writer *writer, const struct att_uuid *uuid)
{
    bytes_put_u8(writer, uuid->is_full ? 16 : 2);
    if (uuid->is_full)
        bytes_put(writer, uuid->full, sizeof uuid->full);
    else
        bytes_put_u16(writer, uuid->assigned);
}

static void put_service(struct bytes_writer *writer, const struct gatt_service *service)
{
    put_uuid(writer, &service->uuid);
    bytes_put_u16(writer, service->first_handle);
    bytes_put_u16(writer, service->last_handle);
}

static void put_characteristic(struct bytes_writer *writer, const struct gatt_characteristic *own)
{
    put_uuid(writer, &own->uuid);
    bytes_put_u8(writer, own->service);
    bytes_put_u8(writer, own->properties);
    bytes_put_u16(writer, own->declaration_handle);
    bytes_put_u16(writer, own->value_handle);
    bytes_put_u16(writer, own->client_config_handle);
}

size_t gatt_known_encode(const struct gatt_known *known, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, GATT_KNOWN_OCTETS_MAX);
    if (!known->has_hash || known->is_cut)
        return 0;
    bytes_put_u8(&writer, FORM);
    bytes_put(&writer, known->hash, sizeof known->hash);
    bytes_put_u8(&writer, known->service_count);
    bytes_put_u8(&writer, known->characteristic_count);
    for (uint8_t i = 0; i < known->service_count; i++)
        put_service(&writer, &known->services[i]);
    for (uint8_t i = 0; i < known->characteristic_count; i++)
        put_characteristic(&writer, &known->characteristics[i]);
    return writer.length;
}

/* ---- from octets ---- */

static struct att_uuid take_uuid(struct bytes_reader *reader)
{
    const size_t length = bytes_u8(reader);
    return att_uuid_take(reader, length);
}

static void take_service(struct bytes_reader *reader, struct gatt_known *known)
{
    struct gatt_service service = {.uuid = take_uuid(reader)};
    const uint8_t at = known->service_count++;
    const uint16_t before = at == 0 ? 0 : known->services[at - 1].last_handle;
    service.first_handle = bytes_u16(reader);
    service.last_handle = bytes_u16(reader);
    if (service.first_handle <= before || service.last_handle < service.first_handle)
        reader->failed = true;
    known->services[at] = service;
}

/* Their order is that of the handles, so that each ends where the next begins. */
static bool may_follow(const struct gatt_known *known, const struct gatt_characteristic *own)
{
    if (known->characteristic_count == 0)
        return true;
    const struct gatt_characteristic *last =
        &known->characteristics[known->characteristic_count - 1u];
    return own->declaration_handle > last->value_handle &&
           own->declaration_handle > last->client_config_handle;
}

static bool is_within_its_service(const struct gatt_known *known,
                                  const struct gatt_characteristic *own)
{
    if (own->service >= known->service_count)
        return false;
    const struct gatt_service *service = &known->services[own->service];
    const bool has_config = own->client_config_handle != 0;
    return own->declaration_handle >= service->first_handle &&
           own->value_handle > own->declaration_handle &&
           own->value_handle <= service->last_handle &&
           (!has_config || (own->client_config_handle > own->value_handle &&
                            own->client_config_handle <= service->last_handle));
}

static void take_characteristic(struct bytes_reader *reader, struct gatt_known *known)
{
    struct gatt_characteristic own = {.uuid = take_uuid(reader)};
    own.service = bytes_u8(reader);
    own.properties = bytes_u8(reader);
    own.declaration_handle = bytes_u16(reader);
    own.value_handle = bytes_u16(reader);
    own.client_config_handle = bytes_u16(reader);
    if (!is_within_its_service(known, &own) || !may_follow(known, &own))
        reader->failed = true;
    known->characteristics[known->characteristic_count++] = own;
}

enum result gatt_known_decode(const uint8_t *octets, size_t length, struct gatt_known *ret)
{
    struct gatt_known known = {.has_hash = true};
    struct bytes_reader reader = bytes_reader(octets, length);
    const uint8_t form = bytes_u8(&reader);
    const uint8_t *hash = bytes_take(&reader, sizeof known.hash);
    const uint8_t services = bytes_u8(&reader), characteristics = bytes_u8(&reader);
    if (reader.failed || form != FORM || services > GATT_SERVICES_MAX ||
        characteristics > GATT_CHARACTERISTICS_MAX)
        return RESULT_INVALID;
    memcpy(known.hash, hash, sizeof known.hash);
    while (known.service_count < services)
        take_service(&reader, &known);
    while (known.characteristic_count < characteristics)
        take_characteristic(&reader, &known);
    if (reader.failed || bytes_left(&reader) > 0)
        return RESULT_INVALID;
    *ret = known;
    return RESULT_OK;
}
