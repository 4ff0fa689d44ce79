#include "recording_table.h"

#include <string.h>

/* ---- the table ---- */

/* The attribute of that handle, made where there is none; NULL where there cannot be one. */
static struct gatt_attribute *attribute_of(struct recording *recording, uint16_t handle)
{
    struct gatt_attribute *list = recording->attributes;
    size_t at = 0;

    while (at < recording->attribute_count && list[at].handle < handle)
        at++;
    if (at < recording->attribute_count && list[at].handle == handle)
        return &list[at];
    if (handle == 0 || recording->attribute_count == GATT_ATTRIBUTES_MAX)
        return NULL;
    memmove(&list[at + 1], &list[at], (recording->attribute_count - at) * sizeof *list);
    recording->attribute_count++;
    list[at] = (struct gatt_attribute){.handle = handle};
    return &list[at];
}

/* What was told first stands: later ones are other values, or other tables. */
static void set_value(struct gatt_attribute *attribute, struct bytes_reader value)
{
    const size_t length = bytes_left(&value);

    if (attribute->value != NULL || length == 0 || length > ATT_VALUE_MAX)
        return;
    attribute->length = (uint16_t)length;
    attribute->value = bytes_take(&value, length);
}

static struct bytes_reader part_of(struct bytes_reader *reader, size_t length)
{
    return bytes_reader(bytes_take(reader, length), reader->failed ? 0 : length);
}

static bool take_uuid(struct bytes_reader value, struct att_uuid *ret)
{
    const struct att_uuid uuid = att_uuid_take(&value, bytes_left(&value));

    if (!value.failed)
        *ret = uuid;
    return !value.failed;
}

/* ---- answers ---- */

static void learn_service(struct recording *recording, uint16_t handle, uint16_t end,
                          struct bytes_reader value)
{
    struct gatt_attribute *service = end < handle ? NULL : attribute_of(recording, handle);

    if (service == NULL)
        return;
    service->type = (struct att_uuid){.assigned = GATT_PRIMARY_SERVICE};
    service->group_end = end;
    set_value(service, value);
}

static uint8_t access_of(uint8_t properties)
{
    return (uint8_t)(((properties & GATT_READ) != 0 ? GATT_ACCESS_READ : 0) |
                     ((properties & GATT_WRITE) != 0 ? GATT_ACCESS_WRITE : 0) |
                     ((properties & GATT_WRITE_NO_RESPONSE) != 0 ? GATT_ACCESS_WRITE_COMMAND : 0));
}

static void learn_characteristic(struct recording *recording, struct bytes_reader declaration)
{
    const uint8_t properties = bytes_u8(&declaration);
    const uint16_t handle = bytes_u16(&declaration);
    struct att_uuid type;

    if (!take_uuid(part_of(&declaration, bytes_left(&declaration)), &type))
        return;
    struct gatt_attribute *value = attribute_of(recording, handle);
    if (value == NULL)
        return;
    value->type = type;
    value->access |= access_of(properties);
}

static void learn_entry(struct recording *recording, const struct att_uuid *type, uint16_t handle,
                        struct bytes_reader value)
{
    struct gatt_attribute *attribute = attribute_of(recording, handle);

    if (attribute == NULL)
        return;
    attribute->type = *type;
    attribute->access |= GATT_ACCESS_READ;
    set_value(attribute, value);
    if (att_uuid_is(type, GATT_CHARACTERISTIC))
        learn_characteristic(recording, value);
}

/* Read By Type and Read By Group Type: entries of one size, whose type the request tells. */
static void learn_list(struct recording *recording, const struct recording_pdu *request,
                       struct bytes_reader response, bool is_group)
{
    const size_t size = bytes_u8(&response);
    const size_t head = is_group ? 4 : 2;
    struct bytes_reader asked = bytes_reader(request->octets, request->length);
    struct att_uuid type;

    (void)bytes_take(&asked, 5);
    if (!take_uuid(part_of(&asked, bytes_left(&asked)), &type) || size < head ||
        (is_group && !att_uuid_is(&type, GATT_PRIMARY_SERVICE)))
        return;
    while (bytes_left(&response) >= size) {
        struct bytes_reader entry = part_of(&response, size);
        const uint16_t handle = bytes_u16(&entry);
        const uint16_t end = is_group ? bytes_u16(&entry) : 0;
        const struct bytes_reader value = part_of(&entry, size - head);
        if (is_group)
            learn_service(recording, handle, end, value);
        else
            learn_entry(recording, &type, handle, value);
    }
}

static void learn_found_service(struct recording *recording, const struct recording_pdu *request,
                                struct bytes_reader response)
{
    struct bytes_reader asked = bytes_reader(request->octets, request->length);

    (void)bytes_take(&asked, 7);
    const struct bytes_reader value = part_of(&asked, bytes_left(&asked));
    while (bytes_left(&response) >= 4) {
        const uint16_t handle = bytes_u16(&response);
        learn_service(recording, handle, bytes_u16(&response), value);
    }
}

/* Values and declarations are known by now: what is new is a descriptor. */
static void learn_information(struct recording *recording, struct bytes_reader response)
{
    const size_t size = bytes_u8(&response) == 1 ? 2 : 16;

    while (bytes_left(&response) >= 2 + size) {
        struct gatt_attribute *attribute = attribute_of(recording, bytes_u16(&response));
        const struct att_uuid type = att_uuid_take(&response, size);
        if (attribute != NULL)
            attribute->type = type;
    }
}

static void learn_read(struct recording *recording, const struct recording_pdu *request,
                       struct bytes_reader response)
{
    struct bytes_reader asked = bytes_reader(request->octets, request->length);

    (void)bytes_u8(&asked);
    struct gatt_attribute *attribute = attribute_of(recording, bytes_u16(&asked));
    if (attribute == NULL)
        return;
    attribute->access |= GATT_ACCESS_READ;
    set_value(attribute, response);
}

static void learn(struct recording *recording, const struct recording_pdu *request,
                  const struct recording_pdu *answer)
{
    struct bytes_reader response = bytes_reader(answer->octets, answer->length);

    switch (bytes_u8(&response)) {
    case ATT_FIND_INFORMATION_RESPONSE: learn_information(recording, response); return;
    case ATT_FIND_BY_TYPE_VALUE_RESPONSE: learn_found_service(recording, request, response); return;
    case ATT_READ_BY_TYPE_RESPONSE: learn_list(recording, request, response, false); return;
    case ATT_READ_BY_GROUP_TYPE_RESPONSE: learn_list(recording, request, response, true); return;
    case ATT_READ_RESPONSE: learn_read(recording, request, response); return;
    default: return;
    }
}

/* What no server would have: no type, a service that ends before it begins, a client config behind
 * no characteristic. */
static bool is_sound(const struct gatt_attribute *attribute, bool has_characteristic)
{
    const struct att_uuid *type = &attribute->type;

    if (att_uuid_is(type, GATT_PRIMARY_SERVICE) || att_uuid_is(type, GATT_SECONDARY_SERVICE))
        return attribute->group_end >= attribute->handle;
    if (att_uuid_is(type, GATT_CLIENT_CONFIG))
        return has_characteristic;
    return type->is_full || type->assigned != 0;
}

static void tidy(struct recording *recording)
{
    bool has_characteristic = false;
    size_t kept = 0;

    for (size_t i = 0; i < recording->attribute_count; i++) {
        const struct gatt_attribute *attribute = &recording->attributes[i];
        const bool is_kept = is_sound(attribute, has_characteristic);
        has_characteristic |=
            att_uuid_is(&attribute->type, GATT_CHARACTERISTIC) && attribute->length > 3;
        if (is_kept)
            recording->attributes[kept++] = *attribute;
    }
    recording->attribute_count = kept;
}

void recording_learn_table(struct recording *recording)
{
    for (size_t i = 0; i < recording->exchange_count; i++) {
        const struct recording_exchange *exchange = &recording->exchanges[i];
        if (exchange->response != RECORDING_NONE &&
            recording_is_by_peer(recording, &recording->pdus[exchange->response]))
            learn(recording, &recording->pdus[exchange->request],
                  &recording->pdus[exchange->response]);
    }
    tidy(recording);
}
