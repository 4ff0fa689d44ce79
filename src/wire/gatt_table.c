#include "wire/gatt_table.h"

#include <string.h>

/* One octet gives the size of an entry. */
#define ENTRY_MAX 255u

struct range {
    uint16_t start, end;
};

/* How a request ends: with a response, or with an error that names a handle. */
struct outcome {
    enum att_error error;
    uint16_t handle;
};

static const struct outcome answered = {.error = ATT_OK};

static struct outcome refused(uint16_t handle, enum att_error error)
{
    return (struct outcome){.error = error, .handle = handle};
}

uint16_t gatt_agreed_mtu(uint16_t receive_mtu, uint16_t peer_mtu)
{
    uint16_t mtu = peer_mtu < receive_mtu ? peer_mtu : receive_mtu;
    return mtu < ATT_MTU_DEFAULT ? ATT_MTU_DEFAULT : mtu;
}

void gatt_put_error(struct bytes_writer *writer, uint8_t request, uint16_t handle,
                    enum att_error error)
{
    bytes_put_u8(writer, ATT_ERROR_RESPONSE);
    bytes_put_u8(writer, request);
    bytes_put_u16(writer, handle);
    bytes_put_u8(writer, (uint8_t)error);
}

void gatt_answer_mtu(const uint8_t *pdu, size_t length, uint16_t receive_mtu, uint16_t *mtu,
                     struct bytes_writer *writer)
{
    struct bytes_reader reader = bytes_reader(pdu, length);
    uint8_t opcode = bytes_u8(&reader);
    uint16_t peer_mtu = bytes_u16(&reader);
    if (reader.failed || bytes_left(&reader) > 0) {
        gatt_put_error(writer, opcode, 0, ATT_INVALID_PDU);
        return;
    }
    *mtu = gatt_agreed_mtu(receive_mtu, peer_mtu);
    bytes_put_u8(writer, ATT_MTU_RESPONSE);
    bytes_put_u16(writer, receive_mtu);
}

/* ---- attributes ---- */

const struct gatt_attribute *gatt_table_find(const struct gatt_table *table, uint16_t handle)
{
    for (size_t i = 0; i < table->count; i++)
        if (table->attributes[i].handle == handle)
            return &table->attributes[i];
    return NULL;
}

bool gatt_is_declaration(const struct att_uuid *type)
{
    return !type->is_full && type->assigned >= GATT_PRIMARY_SERVICE &&
           type->assigned <= GATT_CHARACTERISTIC;
}

static bool is_readable(const struct gatt_attribute *attribute)
{
    return gatt_is_declaration(&attribute->type) ||
           att_uuid_is(&attribute->type, GATT_CLIENT_CONFIG) ||
           (attribute->access & GATT_ACCESS_READ) != 0;
}

static struct bytes_reader value_of(const struct gatt_table *table,
                                    const struct gatt_attribute *attribute)
{
    if (table->client_configs != NULL && att_uuid_is(&attribute->type, GATT_CLIENT_CONFIG))
        return bytes_reader(table->client_configs[attribute - table->attributes], 2);
    return bytes_reader(attribute->value, attribute->length);
}

/* The first attribute within the range, or the first after `before`; NULL when there is none. */
static const struct gatt_attribute *next_in(const struct gatt_table *table, struct range range,
                                            const struct gatt_attribute *before)
{
    const size_t first = before == NULL ? 0 : (size_t)(before - table->attributes) + 1;
    for (size_t i = first; i < table->count && table->attributes[i].handle <= range.end; i++)
        if (table->attributes[i].handle >= range.start)
            return &table->attributes[i];
    return NULL;
}

static size_t room(const struct bytes_writer *writer)
{
    return writer->capacity - writer->length;
}

static size_t least(size_t one, size_t other)
{
    return one < other ? one : other;
}

/* ---- requests over a range ---- */

static enum att_error check_range(const struct bytes_reader *reader, struct range range)
{
    if (reader->failed)
        return ATT_INVALID_PDU;
    return range.start == 0 || range.start > range.end ? ATT_INVALID_HANDLE : ATT_OK;
}

static struct range take_range(struct bytes_reader *reader)
{
    struct range range = {.start = bytes_u16(reader)};
    range.end = bytes_u16(reader);
    return range;
}

static size_t uuid_size(const struct att_uuid *uuid)
{
    return uuid->is_full ? sizeof uuid->full : 2;
}

static void put_uuid(struct bytes_writer *writer, const struct att_uuid *uuid)
{
    if (uuid->is_full)
        bytes_put(writer, uuid->full, sizeof uuid->full);
    else
        bytes_put_u16(writer, uuid->assigned);
}

static struct outcome find_information(const struct gatt_table *table, struct bytes_reader *reader,
                                       struct bytes_writer *writer)
{
    struct range range = take_range(reader);
    enum att_error error = bytes_left(reader) > 0 ? ATT_INVALID_PDU : check_range(reader, range);
    if (error != ATT_OK)
        return refused(error == ATT_INVALID_PDU ? 0 : range.start, error);
    const struct gatt_attribute *found = next_in(table, range, NULL);
    if (found == NULL)
        return refused(range.start, ATT_ATTRIBUTE_NOT_FOUND);
    size_t size = uuid_size(&found->type);
    bytes_put_u8(writer, ATT_FIND_INFORMATION_RESPONSE);
    bytes_put_u8(writer, found->type.is_full ? 2 : 1);
    for (; found != NULL && uuid_size(&found->type) == size && room(writer) >= 2 + size;
         found = next_in(table, range, found)) {
        bytes_put_u16(writer, found->handle);
        put_uuid(writer, &found->type);
    }
    return answered;
}

static bool has_value(const struct gatt_table *table, const struct gatt_attribute *attribute,
                      const struct bytes_reader *wanted)
{
    struct bytes_reader value = value_of(table, attribute);
    size_t length = bytes_left(wanted);
    return value.length == length &&
           (length == 0 || memcmp(value.data, wanted->data + wanted->at, length) == 0);
}

static struct outcome find_by_type_value(const struct gatt_table *table,
                                         struct bytes_reader *reader, struct bytes_writer *writer)
{
    struct range range = take_range(reader);
    uint16_t type = bytes_u16(reader);
    enum att_error error = check_range(reader, range);
    if (error != ATT_OK)
        return refused(error == ATT_INVALID_PDU ? 0 : range.start, error);
    bytes_put_u8(writer, ATT_FIND_BY_TYPE_VALUE_RESPONSE);
    for (const struct gatt_attribute *found = next_in(table, range, NULL);
         found != NULL && room(writer) >= 4; found = next_in(table, range, found)) {
        if (!att_uuid_is(&found->type, type) || !has_value(table, found, reader))
            continue;
        bytes_put_u16(writer, found->handle);
        bytes_put_u16(writer, found->group_end != 0 ? found->group_end : found->handle);
    }
    return writer->length > 1 ? answered : refused(range.start, ATT_ATTRIBUTE_NOT_FOUND);
}

/* Entries of one size; the first sets it. Unreadable attributes end the list, or fail it. */
static struct outcome put_entries(const struct gatt_table *table, struct range range,
                                  const struct att_uuid *type, size_t head,
                                  struct bytes_writer *writer)
{
    size_t size = 0;
    for (const struct gatt_attribute *found = next_in(table, range, NULL); found != NULL;
         found = next_in(table, range, found)) {
        if (!att_uuid_equal(&found->type, type))
            continue;
        if (!is_readable(found) && size == 0)
            return refused(found->handle, ATT_READ_NOT_PERMITTED);
        struct bytes_reader value = value_of(table, found);
        size_t entry = least(head + value.length, least(writer->capacity - 2, ENTRY_MAX));
        if (!is_readable(found) || (size != 0 && entry != size) || room(writer) < entry)
            break;
        size = entry;
        bytes_put_u16(writer, found->handle);
        if (head > 2)
            bytes_put_u16(writer, found->group_end);
        bytes_put(writer, value.data, entry - head);
    }
    writer->data[1] = (uint8_t)size;
    return size > 0 ? answered : refused(range.start, ATT_ATTRIBUTE_NOT_FOUND);
}

/* Read By Type and Read By Group Type differ in what stands before each value. */
static struct outcome read_by_type(const struct gatt_table *table, uint8_t request,
                                   struct bytes_reader *reader, struct bytes_writer *writer)
{
    bool is_group = request == ATT_READ_BY_GROUP_TYPE_REQUEST;
    struct range range = take_range(reader);
    size_t type_length = bytes_left(reader);
    if (type_length != 2 && type_length != 16)
        return refused(0, ATT_INVALID_PDU);
    struct att_uuid type = att_uuid_take(reader, type_length);
    if (check_range(reader, range) != ATT_OK)
        return refused(range.start, ATT_INVALID_HANDLE);
    if (is_group && !att_uuid_is(&type, GATT_PRIMARY_SERVICE) &&
        !att_uuid_is(&type, GATT_SECONDARY_SERVICE))
        return refused(range.start, ATT_UNSUPPORTED_GROUP_TYPE);
    bytes_put_u8(writer, (uint8_t)(request + 1));
    bytes_put_u8(writer, 0); /* the size of an entry, set when it is known */
    return put_entries(table, range, &type, is_group ? 4 : 2, writer);
}

/* ---- requests for one attribute ---- */

static struct outcome read_value(const struct gatt_table *table, uint8_t request,
                                 struct bytes_reader *reader, struct bytes_writer *writer)
{
    uint16_t handle = bytes_u16(reader);
    uint16_t offset = request == ATT_READ_BLOB_REQUEST ? bytes_u16(reader) : 0;
    if (reader->failed || bytes_left(reader) > 0)
        return refused(0, ATT_INVALID_PDU);
    const struct gatt_attribute *attribute = gatt_table_find(table, handle);
    if (attribute == NULL)
        return refused(handle, ATT_INVALID_HANDLE);
    if (!is_readable(attribute))
        return refused(handle, ATT_READ_NOT_PERMITTED);
    struct bytes_reader value = value_of(table, attribute);
    if (offset > value.length)
        return refused(handle, ATT_INVALID_OFFSET);
    bytes_take(&value, offset);
    bytes_put_u8(writer, (uint8_t)(request + 1));
    size_t part = least(bytes_left(&value), room(writer));
    bytes_put(writer, bytes_take(&value, part), part);
    return answered;
}

static struct outcome refuse_write(struct bytes_reader *reader)
{
    uint16_t handle = bytes_u16(reader);
    return reader->failed ? refused(0, ATT_INVALID_PDU) : refused(handle, ATT_INVALID_HANDLE);
}

static struct outcome answer(const struct gatt_table *table, uint8_t request,
                             struct bytes_reader *reader, struct bytes_writer *writer)
{
    switch (request) {
    case ATT_FIND_INFORMATION_REQUEST: return find_information(table, reader, writer);
    case ATT_FIND_BY_TYPE_VALUE_REQUEST: return find_by_type_value(table, reader, writer);
    case ATT_READ_BY_TYPE_REQUEST:
    case ATT_READ_BY_GROUP_TYPE_REQUEST: return read_by_type(table, request, reader, writer);
    case ATT_READ_REQUEST:
    case ATT_READ_BLOB_REQUEST: return read_value(table, request, reader, writer);
    case ATT_WRITE_REQUEST: return refuse_write(reader);
    default: return refused(0, ATT_REQUEST_NOT_SUPPORTED);
    }
}

void gatt_table_answer(const struct gatt_table *table, const uint8_t *pdu, size_t length,
                       struct bytes_writer *writer)
{
    struct bytes_reader reader = bytes_reader(pdu, length);
    uint8_t request = bytes_u8(&reader);
    struct outcome outcome = answer(table, request, &reader, writer);
    if (outcome.error == ATT_OK)
        return;
    writer->length = 0;
    gatt_put_error(writer, request, outcome.handle, outcome.error);
}
