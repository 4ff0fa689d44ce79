#include "wire/mgmt_frame.h"

#include <assert.h>
#include <string.h>

#include "base/bytes.h"

/* ---- events ---- */

static struct device_address take_address(struct bytes_reader *reader)
{
    struct device_address address = {.type = ADDRESS_NONE};
    const uint8_t *octets = bytes_take(reader, ADDRESS_OCTETS);
    uint8_t type = bytes_u8(reader);
    if (octets != NULL)
        memcpy(address.octets, octets, sizeof address.octets);
    if (type == ADDRESS_PUBLIC || type == ADDRESS_RANDOM)
        address.type = (enum address_type)type;
    return address;
}

static void take_data(struct bytes_reader *reader, size_t length, struct mgmt_event *event)
{
    event->data = bytes_take(reader, length);
    event->length = event->data != NULL ? length : 0;
}

static void take_answer(struct bytes_reader *reader, struct mgmt_event *event)
{
    event->command = bytes_u16(reader);
    event->status = bytes_u8(reader);
    take_data(reader, bytes_left(reader), event);
}

static void take_found(struct bytes_reader *reader, struct mgmt_event *event)
{
    event->address = take_address(reader);
    event->rssi_dbm = bytes_s8(reader);
    event->flags = bytes_u32(reader);
    take_data(reader, bytes_u16(reader), event);
}

static void take_connected(struct bytes_reader *reader, struct mgmt_event *event)
{
    event->address = take_address(reader);
    event->flags = bytes_u32(reader);
    take_data(reader, bytes_u16(reader), event);
}

static bool take_parameters(struct bytes_reader *reader, struct mgmt_event *event)
{
    switch (event->code) {
    case MGMT_COMMAND_COMPLETE:
    case MGMT_COMMAND_STATUS: take_answer(reader, event); return true;
    case MGMT_INDEX_ADDED:
    case MGMT_INDEX_REMOVED: return true;
    case MGMT_NEW_SETTINGS: event->settings = bytes_u32(reader); return true;
    case MGMT_DEVICE_CONNECTED: take_connected(reader, event); return true;
    case MGMT_DEVICE_DISCONNECTED:
        event->address = take_address(reader);
        event->reason = bytes_u8(reader);
        return true;
    case MGMT_CONNECT_FAILED:
        event->address = take_address(reader);
        event->status = bytes_u8(reader);
        return true;
    case MGMT_PAIRING_CONFIRMATION: event->address = take_address(reader); return true;
    case MGMT_DEVICE_FOUND: take_found(reader, event); return true;
    case MGMT_DISCOVERING:
        (void)bytes_u8(reader); /* the type of discovery */
        event->is_on = bytes_u8(reader) != 0;
        return true;
    case MGMT_ADVERTISING_REMOVED:
        (void)bytes_u8(reader); /* the instance */
        return true;
    default: return false;
    }
}

enum result mgmt_event_decode(const uint8_t *frame, size_t length, struct mgmt_event *ret)
{
    struct bytes_reader header = bytes_reader(frame, length);
    struct mgmt_event event = {.code = bytes_u16(&header)};
    event.index = bytes_u16(&header);
    size_t parameters_length = bytes_u16(&header);
    const uint8_t *parameters = bytes_take(&header, parameters_length);
    if (header.failed)
        return RESULT_INVALID;

    struct bytes_reader reader = bytes_reader(parameters, parameters_length);
    bool is_known = take_parameters(&reader, &event);
    if (reader.failed)
        return RESULT_INVALID;
    *ret = event;
    return is_known ? RESULT_OK : RESULT_UNSUPPORTED;
}

bool mgmt_event_answers(const struct mgmt_event *event, enum mgmt_command command, uint16_t index)
{
    return (event->code == MGMT_COMMAND_COMPLETE || event->code == MGMT_COMMAND_STATUS) &&
           event->command == command && event->index == index;
}

/* ---- answers ---- */

enum result mgmt_indexes_decode(const uint8_t *data, size_t length, struct mgmt_indexes *ret)
{
    struct bytes_reader reader = bytes_reader(data, length);
    struct mgmt_indexes indexes = {0};
    uint16_t count = bytes_u16(&reader);
    for (uint16_t i = 0; i < count && !reader.failed; i++) {
        uint16_t index = bytes_u16(&reader);
        if (!reader.failed && indexes.count < MGMT_INDEXES_MAX)
            indexes.list[indexes.count++] = index;
    }
    if (reader.failed)
        return RESULT_INVALID;
    *ret = indexes;
    return RESULT_OK;
}

enum result mgmt_info_decode(const uint8_t *data, size_t length, struct mgmt_info *ret)
{
    static const uint8_t no_address[ADDRESS_OCTETS];
    struct bytes_reader reader = bytes_reader(data, length);
    const uint8_t *address = bytes_take(&reader, ADDRESS_OCTETS);
    (void)bytes_take(&reader, 3); /* version of the Core specification, manufacturer */
    uint32_t supported = bytes_u32(&reader);
    uint32_t settings = bytes_u32(&reader);
    (void)bytes_take(&reader, 3); /* class of device */
    const uint8_t *name = bytes_take(&reader, MGMT_NAME_MAX + 1);
    if (reader.failed)
        return RESULT_INVALID;

    *ret = (struct mgmt_info){.supported = supported, .settings = settings};
    memcpy(ret->address.octets, address, ADDRESS_OCTETS);
    if (memcmp(address, no_address, ADDRESS_OCTETS) != 0)
        ret->address.type = ADDRESS_PUBLIC;
    memcpy(ret->name, name, MGMT_NAME_MAX);
    return RESULT_OK;
}

/* ---- commands ---- */

static struct bytes_writer begin(enum mgmt_command command, uint16_t index, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, MGMT_COMMAND_MAX);
    bytes_put_u16(&writer, (uint16_t)command);
    bytes_put_u16(&writer, index);
    bytes_put_u16(&writer, 0);
    return writer;
}

static size_t end(const struct bytes_writer *writer)
{
    struct bytes_writer length = bytes_writer(writer->data + 4, 2);
    assert(!writer->failed);
    bytes_put_u16(&length, (uint16_t)(writer->length - MGMT_HEADER_OCTETS));
    return writer->length;
}

static void put_address(struct bytes_writer *writer, const struct device_address *address)
{
    bytes_put(writer, address->octets, ADDRESS_OCTETS);
    bytes_put_u8(writer, (uint8_t)address->type);
}

size_t mgmt_encode(enum mgmt_command command, uint16_t index, uint8_t *ret)
{
    struct bytes_writer writer = begin(command, index, ret);
    return end(&writer);
}

size_t mgmt_encode_octet(enum mgmt_command command, uint16_t index, uint8_t value, uint8_t *ret)
{
    struct bytes_writer writer = begin(command, index, ret);
    bytes_put_u8(&writer, value);
    return end(&writer);
}

size_t mgmt_encode_address(enum mgmt_command command, uint16_t index,
                           const struct device_address *address, uint8_t *ret)
{
    struct bytes_writer writer = begin(command, index, ret);
    put_address(&writer, address);
    return end(&writer);
}

size_t mgmt_encode_connection(uint16_t index, const struct mgmt_connection *connection,
                              uint8_t *ret)
{
    struct bytes_writer writer = begin(MGMT_LOAD_CONNECTION_PARAMETERS, index, ret);
    bytes_put_u16(&writer, 1);
    put_address(&writer, &connection->address);
    bytes_put_u16(&writer, connection->interval_min_1250us);
    bytes_put_u16(&writer, connection->interval_max_1250us);
    bytes_put_u16(&writer, connection->latency);
    bytes_put_u16(&writer, connection->timeout_10ms);
    return end(&writer);
}

size_t mgmt_encode_advertising(uint16_t index, const struct mgmt_advertising *advertising,
                               uint8_t *ret)
{
    struct bytes_writer writer = begin(MGMT_ADD_ADVERTISING, index, ret);
    bytes_put_u8(&writer, advertising->instance);
    bytes_put_u32(&writer, advertising->flags);
    bytes_put_u16(&writer, 0); /* seconds until the next instance's turn: the default */
    bytes_put_u16(&writer, 0); /* seconds until it goes away: never */
    bytes_put_u8(&writer, advertising->data_length);
    bytes_put_u8(&writer, advertising->response_length);
    bytes_put(&writer, advertising->data, advertising->data_length);
    bytes_put(&writer, advertising->response, advertising->response_length);
    return end(&writer);
}
