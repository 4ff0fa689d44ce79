#include "wire/gatt_discovery.h"

#include <string.h>

#include "wire/gatt_client.h"
#include "wire/gatt_table.h"

#define LAST_HANDLE 0xFFFFu
#define INDICATIONS 2u /* the value of a client configuration */

bool gatt_discovery_is_under_way(const struct gatt_client *client)
{
    return client->phase > GATT_PHASE_IDLE && client->phase < GATT_PHASE_READY;
}

/* The last handle that can belong to a characteristic: before its neighbour, within its service. */
static uint16_t characteristic_end(const struct gatt_client *client, uint8_t index)
{
    const struct gatt_characteristic *own = &client->known.characteristics[index];
    const struct gatt_characteristic *next = own + 1;
    if (index + 1u < client->known.characteristic_count && next->service == own->service)
        return (uint16_t)(next->declaration_handle - 1);
    return client->known.services[own->service].last_handle;
}

static uint16_t range_end(const struct gatt_client *client)
{
    if (client->phase == GATT_PHASE_CHARACTERISTICS)
        return client->known.services[client->index].last_handle;
    if (client->phase == GATT_PHASE_DESCRIPTORS)
        return characteristic_end(client, client->index);
    return LAST_HANDLE;
}

/* ---- moving on; every loop here is bounded by a table ---- */

/* Without a hash nobody can tell a change from a word too many. */
static void enter_changes(struct gatt_client *client)
{
    const struct gatt_characteristic *found =
        gatt_client_find(client, GATT_SERVICE, GATT_SERVICE_CHANGED);
    const bool is_offered = found != NULL && found->client_config_handle != 0;
    client->phase = GATT_PHASE_READY;
    if (!is_offered || !client->known.has_hash)
        return;
    client->phase = GATT_PHASE_CHANGES;
    client->next_handle = found->client_config_handle;
}

static void enter_descriptors(struct gatt_client *client, uint8_t first)
{
    client->phase = GATT_PHASE_DESCRIPTORS;
    for (uint8_t i = first; i < client->known.characteristic_count; i++) {
        uint16_t value_handle = client->known.characteristics[i].value_handle;
        if (value_handle < characteristic_end(client, i)) {
            client->index = i;
            client->next_handle = (uint16_t)(value_handle + 1);
            return;
        }
    }
    enter_changes(client);
}

static void enter_characteristics(struct gatt_client *client, uint8_t index)
{
    if (index >= client->known.service_count) {
        enter_descriptors(client, 0);
        return;
    }
    client->phase = GATT_PHASE_CHARACTERISTICS;
    client->index = index;
    client->next_handle = client->known.services[index].first_handle;
}

static void enter_services(struct gatt_client *client)
{
    client->phase = GATT_PHASE_SERVICES;
    client->next_handle = 1;
}

static void enter_hash(struct gatt_client *client)
{
    client->phase = GATT_PHASE_HASH;
    client->next_handle = 1;
}

/* The range under discovery has nothing more to give. */
static void end_range(struct gatt_client *client)
{
    uint8_t following = (uint8_t)(client->index + 1);
    if (client->phase == GATT_PHASE_MTU && client->earlier != NULL)
        enter_hash(client);
    else if (client->phase <= GATT_PHASE_HASH)
        enter_services(client);
    else if (client->phase == GATT_PHASE_SERVICES)
        enter_characteristics(client, 0);
    else if (client->phase == GATT_PHASE_CHARACTERISTICS)
        enter_characteristics(client, following);
    else if (client->phase == GATT_PHASE_DESCRIPTORS)
        enter_descriptors(client, following);
    else
        client->phase = GATT_PHASE_READY;
}

/* Everything up to `handle` is known. It only ever grows, so discovery ends with any peer. */
static void advance_past(struct gatt_client *client, uint16_t handle)
{
    if (handle >= range_end(client))
        end_range(client);
    else
        client->next_handle = (uint16_t)(handle + 1);
}

void gatt_discovery_check(struct gatt_client *client)
{
    client->phase = GATT_PHASE_HASH_AGAIN;
    client->next_handle = 1;
}

/* ---- requests ---- */

uint16_t gatt_discovery_put_request(const struct gatt_client *client, struct bytes_writer *writer)
{
    if (client->phase == GATT_PHASE_MTU) {
        bytes_put_u8(writer, ATT_MTU_REQUEST);
        bytes_put_u16(writer, ATT_MTU_MAX);
        return 0;
    }
    if (client->phase == GATT_PHASE_CHANGES) {
        bytes_put_u8(writer, ATT_WRITE_REQUEST);
        bytes_put_u16(writer, client->next_handle);
        bytes_put_u16(writer, INDICATIONS);
        return client->next_handle;
    }
    uint8_t opcode = client->phase == GATT_PHASE_SERVICES      ? ATT_READ_BY_GROUP_TYPE_REQUEST
                     : client->phase == GATT_PHASE_DESCRIPTORS ? ATT_FIND_INFORMATION_REQUEST
                                                               : ATT_READ_BY_TYPE_REQUEST;
    bytes_put_u8(writer, opcode);
    bytes_put_u16(writer, client->next_handle);
    bytes_put_u16(writer, range_end(client));
    if (opcode == ATT_READ_BY_GROUP_TYPE_REQUEST)
        bytes_put_u16(writer, GATT_PRIMARY_SERVICE);
    else if (opcode == ATT_READ_BY_TYPE_REQUEST)
        bytes_put_u16(writer, client->phase == GATT_PHASE_CHARACTERISTICS ? GATT_CHARACTERISTIC
                                                                          : GATT_DATABASE_HASH);
    return client->next_handle;
}

/* ---- responses ---- */

/* Entries of `size` octets each, at least one, none cut. */
static bool has_whole_entries(const struct bytes_reader *reader, size_t size)
{
    size_t left = bytes_left(reader);
    return left > 0 && left % size == 0;
}

static enum result take_services(struct gatt_client *client, struct bytes_reader *reader)
{
    uint8_t size = bytes_u8(reader);
    if ((size != 4 + 2 && size != 4 + 16) || !has_whole_entries(reader, size))
        return RESULT_INVALID;
    uint16_t lowest = client->next_handle, last = 0;
    while (bytes_left(reader) > 0) {
        struct gatt_service service = {.first_handle = bytes_u16(reader)};
        service.last_handle = bytes_u16(reader);
        service.uuid = att_uuid_take(reader, size - 4u);
        bool is_after_last = last < LAST_HANDLE && service.first_handle >= lowest;
        if (!is_after_last || service.last_handle < service.first_handle)
            return RESULT_INVALID;
        if (client->known.service_count == GATT_SERVICES_MAX) {
            client->known.is_cut = true;
            end_range(client);
            return RESULT_OK;
        }
        client->known.services[client->known.service_count++] = service;
        last = service.last_handle;
        lowest = (uint16_t)(last + 1);
    }
    advance_past(client, last);
    return RESULT_OK;
}

static enum result take_characteristics(struct gatt_client *client, struct bytes_reader *reader)
{
    uint8_t size = bytes_u8(reader);
    if ((size != 5 + 2 && size != 5 + 16) || !has_whole_entries(reader, size))
        return RESULT_INVALID;
    uint16_t end = range_end(client), before = (uint16_t)(client->next_handle - 1);
    while (bytes_left(reader) > 0) {
        struct gatt_characteristic found = {.service = client->index};
        found.declaration_handle = bytes_u16(reader);
        found.properties = bytes_u8(reader);
        found.value_handle = bytes_u16(reader);
        found.uuid = att_uuid_take(reader, size - 5u);
        if (found.declaration_handle <= before || found.value_handle <= found.declaration_handle ||
            found.value_handle > end)
            return RESULT_INVALID;
        if (client->known.characteristic_count == GATT_CHARACTERISTICS_MAX) {
            client->known.is_cut = true;
            enter_descriptors(client, 0);
            return RESULT_OK;
        }
        client->known.characteristics[client->known.characteristic_count++] = found;
        before = found.declaration_handle;
    }
    advance_past(client, before);
    return RESULT_OK;
}

static enum result take_descriptors(struct gatt_client *client, struct bytes_reader *reader)
{
    uint8_t format = bytes_u8(reader);
    size_t uuid_length = format == 1 ? 2 : 16;
    if (format < 1 || format > 2 || !has_whole_entries(reader, 2 + uuid_length))
        return RESULT_INVALID;
    uint16_t end = range_end(client), before = (uint16_t)(client->next_handle - 1);
    while (bytes_left(reader) > 0) {
        uint16_t handle = bytes_u16(reader);
        struct att_uuid type = att_uuid_take(reader, uuid_length);
        if (handle <= before || handle > end)
            return RESULT_INVALID;
        bool is_config = att_uuid_is(&type, GATT_CLIENT_CONFIG);
        if (is_config)
            client->known.characteristics[client->index].client_config_handle = handle;
        /* A declaration here is of a neighbour the table had no place for: beyond it lies his. */
        if (is_config || gatt_is_declaration(&type)) {
            end_range(client);
            return RESULT_OK;
        }
        before = handle;
    }
    advance_past(client, before);
    return RESULT_OK;
}

static void take_mtu(struct gatt_client *client, struct bytes_reader *reader)
{
    uint16_t peer_mtu = bytes_u16(reader);
    if (!reader->failed && bytes_left(reader) == 0)
        client->mtu = gatt_agreed_mtu(ATT_MTU_MAX, peer_mtu);
    end_range(client);
}

/* One hash and nothing else; with anything else there is none: NULL. */
static const uint8_t *hash_in(struct bytes_reader *reader)
{
    const size_t size = bytes_u8(reader);
    const bool is_whole = size == 2 + GATT_HASH_OCTETS && bytes_left(reader) == size;
    (void)bytes_u16(reader);
    return is_whole ? bytes_take(reader, GATT_HASH_OCTETS) : NULL;
}

static bool has_that_hash(const struct gatt_known *known, const uint8_t *hash)
{
    return known->has_hash && hash != NULL && memcmp(known->hash, hash, GATT_HASH_OCTETS) == 0;
}

/* It is asked for before the tables, so that tables which change meanwhile are kept with a hash
 * that will not be met again. */
static void take_hash(struct gatt_client *client, struct bytes_reader *reader)
{
    const struct gatt_known *earlier = client->earlier;
    const uint8_t *hash = hash_in(reader);
    end_range(client);
    if (hash == NULL)
        return;
    client->known.has_hash = true;
    memcpy(client->known.hash, hash, GATT_HASH_OCTETS);
    if (earlier->is_cut || !has_that_hash(earlier, hash))
        return;
    client->known = *earlier;
    enter_changes(client);
}

static enum result take_hash_again(struct gatt_client *client, struct bytes_reader *reader)
{
    if (!has_that_hash(&client->known, hash_in(reader)))
        return RESULT_INVALID;
    /* Also when it was told of another change meanwhile: that came before this answer. */
    client->is_in_doubt = false;
    end_range(client);
    return RESULT_OK;
}

enum result gatt_discovery_take(struct gatt_client *client, struct bytes_reader reader)
{
    switch (client->phase) {
    case GATT_PHASE_MTU: take_mtu(client, &reader); return RESULT_OK;
    case GATT_PHASE_HASH: take_hash(client, &reader); return RESULT_OK;
    case GATT_PHASE_SERVICES: return take_services(client, &reader);
    case GATT_PHASE_CHARACTERISTICS: return take_characteristics(client, &reader);
    case GATT_PHASE_DESCRIPTORS: return take_descriptors(client, &reader);
    case GATT_PHASE_CHANGES: end_range(client); return RESULT_OK;
    case GATT_PHASE_HASH_AGAIN: return take_hash_again(client, &reader);
    case GATT_PHASE_IDLE:
    case GATT_PHASE_READY:
    case GATT_PHASE_DEAD: break;
    }
    return RESULT_INVALID;
}

enum result gatt_discovery_take_error(struct gatt_client *client, uint8_t error)
{
    const bool is_end = error == ATT_ATTRIBUTE_NOT_FOUND;

    if ((client->phase == GATT_PHASE_SERVICES && !is_end) || client->phase == GATT_PHASE_HASH_AGAIN)
        return RESULT_REFUSED;
    if (!is_end &&
        (client->phase == GATT_PHASE_CHARACTERISTICS || client->phase == GATT_PHASE_DESCRIPTORS))
        client->known.is_cut = true;
    end_range(client);
    return RESULT_OK;
}
