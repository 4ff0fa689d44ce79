#include "wire/gatt_server.h"

#include <assert.h>
#include <string.h>

#include "wire/gatt_table.h"

#define CONFIG_SIZE 2u
#define CONFIG_BITS 0x0003u /* notify and indicate; the rest is reserved */

static struct gatt_table table_of(const struct gatt_server *server)
{
    return (struct gatt_table){.attributes = server->attributes,
                               .count = server->count,
                               .client_configs = server->client_configs};
}

uint16_t gatt_server_mtu(const struct gatt_server *server)
{
    return server->mtu == 0 ? ATT_MTU_DEFAULT : server->mtu;
}

static uint16_t own_mtu(const struct gatt_server *server)
{
    return server->receive_mtu == 0 ? ATT_MTU_DEFAULT : server->receive_mtu;
}

/* ---- the table ---- */

/* The value handle of the characteristic that the attribute at `index` stands behind, or 0. */
static uint16_t owner_of(const struct gatt_attribute *attributes, size_t index)
{
    for (size_t i = index; i-- > 0;) {
        const struct gatt_attribute *attribute = &attributes[i];
        if (!att_uuid_is(&attribute->type, GATT_CHARACTERISTIC))
            continue;
        struct bytes_reader reader = bytes_reader(attribute->value, attribute->length);
        bytes_u8(&reader); /* the properties */
        return bytes_u16(&reader);
    }
    return 0;
}

static bool is_service(const struct gatt_attribute *attribute)
{
    return att_uuid_is(&attribute->type, GATT_PRIMARY_SERVICE) ||
           att_uuid_is(&attribute->type, GATT_SECONDARY_SERVICE);
}

static bool is_valid(const struct gatt_attribute *attributes, size_t index)
{
    const struct gatt_attribute *attribute = &attributes[index];
    uint16_t before = index == 0 ? 0 : attributes[index - 1].handle;
    if (attribute->handle <= before || attribute->length > ATT_VALUE_MAX ||
        (attribute->length > 0 && attribute->value == NULL))
        return false;
    if (is_service(attribute) && attribute->group_end < attribute->handle)
        return false;
    return !att_uuid_is(&attribute->type, GATT_CLIENT_CONFIG) || owner_of(attributes, index) != 0;
}

enum result gatt_server_init(struct gatt_server *server, const struct gatt_attribute *attributes,
                             size_t count, uint16_t receive_mtu)
{
    if (count > GATT_ATTRIBUTES_MAX)
        return RESULT_FULL;
    for (size_t i = 0; i < count; i++)
        if (!is_valid(attributes, i))
            return RESULT_INVALID;
    memset(server, 0, sizeof *server);
    server->attributes = attributes;
    server->count = count;
    server->receive_mtu = gatt_agreed_mtu(ATT_MTU_MAX, receive_mtu);
    return RESULT_OK;
}

/* The config of the characteristic with that value handle, or NULL when it has none. */
static const uint8_t *config_of(const struct gatt_server *server, uint16_t handle)
{
    for (size_t i = 0; i < server->count; i++)
        if (att_uuid_is(&server->attributes[i].type, GATT_CLIENT_CONFIG) &&
            owner_of(server->attributes, i) == handle)
            return server->client_configs[i];
    return NULL;
}

bool gatt_server_is_subscribed(const struct gatt_server *server, uint16_t handle)
{
    const uint8_t *config = config_of(server, handle);
    return config != NULL && (config[0] & CONFIG_BITS) != 0;
}

/* ---- queues ---- */

static struct bytes_writer begin_pdu(struct gatt_server *server)
{
    assert(server->pdu_count < GATT_SERVER_PDUS_MAX);
    size_t at = (server->pdu_first + server->pdu_count) % GATT_SERVER_PDUS_MAX;
    return bytes_writer(server->pdus[at].octets, gatt_server_mtu(server));
}

static void end_pdu(struct gatt_server *server, const struct bytes_writer *writer)
{
    size_t at = (server->pdu_first + server->pdu_count++) % GATT_SERVER_PDUS_MAX;
    assert(!writer->failed && writer->data == server->pdus[at].octets);
    server->pdus[at].length = (uint16_t)writer->length;
}

static void end_answer(struct gatt_server *server, const struct bytes_writer *writer)
{
    end_pdu(server, writer);
    server->turn = GATT_TURN_QUEUED;
}

size_t gatt_server_next_pdu(struct gatt_server *server, uint8_t *ret)
{
    if (server->pdu_count == 0)
        return 0;
    const struct gatt_server_pdu *next = &server->pdus[server->pdu_first];
    memcpy(ret, next->octets, next->length);
    server->pdu_first = (uint8_t)((server->pdu_first + 1u) % GATT_SERVER_PDUS_MAX);
    server->pdu_count--;
    if (ret[0] == ATT_INDICATION)
        server->indication = GATT_INDICATION_SENT;
    else if (ret[0] != ATT_NOTIFICATION)
        server->turn = GATT_TURN_PEER;
    return next->length;
}

static void tell(struct gatt_server *server, enum gatt_server_event_kind kind, uint16_t handle,
                 bool is_command, struct bytes_reader value)
{
    assert(server->event_count < GATT_SERVER_EVENTS_MAX);
    size_t at = (server->event_first + server->event_count++) % GATT_SERVER_EVENTS_MAX;
    struct gatt_server_event_slot *slot = &server->events[at];
    struct bytes_writer copy = bytes_writer(slot->value, sizeof slot->value);
    bytes_put_rest(&copy, &value);
    slot->kind = (uint8_t)kind;
    slot->handle = handle;
    slot->is_command = is_command;
    slot->length = (uint16_t)copy.length;
}

bool gatt_server_next_event(struct gatt_server *server, struct gatt_server_event *ret)
{
    if (server->event_count == 0)
        return false;
    const struct gatt_server_event_slot *slot = &server->events[server->event_first];
    *ret = (struct gatt_server_event){.kind = (enum gatt_server_event_kind)slot->kind,
                                      .handle = slot->handle,
                                      .is_command = slot->is_command,
                                      .value = slot->value,
                                      .length = slot->length};
    server->event_first = (uint8_t)((server->event_first + 1u) % GATT_SERVER_EVENTS_MAX);
    server->event_count--;
    return true;
}

/* ---- what we start ---- */

static enum result send_value(struct gatt_server *server, uint8_t opcode, uint16_t handle,
                              struct bytes_reader value)
{
    const uint8_t *config = config_of(server, handle);
    uint8_t wanted = opcode == ATT_INDICATION ? 2 : 1;
    if (config == NULL || (config[0] & wanted) == 0)
        return RESULT_REFUSED;
    if (server->pdu_count + 1u >= GATT_SERVER_PDUS_MAX) /* the last place is for an answer */
        return RESULT_FULL;
    struct bytes_writer writer = begin_pdu(server);
    bytes_put_u8(&writer, opcode);
    bytes_put_u16(&writer, handle);
    size_t room = writer.capacity - writer.length, length = bytes_left(&value);
    if (length > room)
        length = room;
    bytes_put(&writer, bytes_take(&value, length), length);
    end_pdu(server, &writer);
    return RESULT_OK;
}

enum result gatt_server_notify(struct gatt_server *server, uint16_t handle, const uint8_t *value,
                               size_t length)
{
    return send_value(server, ATT_NOTIFICATION, handle, bytes_reader(value, length));
}

enum result gatt_server_indicate(struct gatt_server *server, uint16_t handle, const uint8_t *value,
                                 size_t length)
{
    if (server->indication != GATT_INDICATION_NONE)
        return RESULT_BUSY;
    enum result result = send_value(server, ATT_INDICATION, handle, bytes_reader(value, length));
    if (result == RESULT_OK) {
        server->indication = GATT_INDICATION_QUEUED;
        server->indicated_handle = handle;
    }
    return result;
}

/* ---- writes ---- */

static void answer_write(struct gatt_server *server, uint16_t handle, enum att_error error)
{
    struct bytes_writer writer = begin_pdu(server);
    if (error == ATT_OK)
        bytes_put_u8(&writer, ATT_WRITE_RESPONSE);
    else
        gatt_put_error(&writer, ATT_WRITE_REQUEST, handle, error);
    end_answer(server, &writer);
}

void gatt_server_answer_write(struct gatt_server *server, enum att_error error)
{
    if (server->turn == GATT_TURN_USER)
        answer_write(server, server->written_handle, error);
}

static enum att_error write_config(struct gatt_server *server, size_t index, bool is_command,
                                   struct bytes_reader value)
{
    uint16_t bits = bytes_u16(&value);
    if (value.failed || bytes_left(&value) > 0)
        return ATT_INVALID_VALUE_LENGTH;
    if ((bits & ~CONFIG_BITS) != 0)
        return ATT_VALUE_NOT_ALLOWED;
    struct bytes_writer config = bytes_writer(server->client_configs[index], CONFIG_SIZE);
    bytes_put_u16(&config, bits);
    tell(server, GATT_SERVER_SUBSCRIBED, owner_of(server->attributes, index), is_command,
         bytes_reader(server->client_configs[index], CONFIG_SIZE));
    return ATT_OK;
}

/* What to answer at once; a write that waits for the user hands the turn on and gives ATT_OK. */
static enum att_error take_write(struct gatt_server *server, uint16_t handle, bool is_command,
                                 struct bytes_reader value)
{
    struct gatt_table table = table_of(server);
    const struct gatt_attribute *attribute = gatt_table_find(&table, handle);
    uint8_t wanted = is_command ? GATT_ACCESS_WRITE_COMMAND : GATT_ACCESS_WRITE;
    if (attribute == NULL)
        return ATT_INVALID_HANDLE;
    if (att_uuid_is(&attribute->type, GATT_CLIENT_CONFIG))
        return write_config(server, (size_t)(attribute - server->attributes), is_command, value);
    if ((attribute->access & wanted) == 0)
        return ATT_WRITE_NOT_PERMITTED;
    if (bytes_left(&value) > ATT_VALUE_MAX)
        return ATT_INVALID_VALUE_LENGTH;
    tell(server, GATT_SERVER_WRITTEN, handle, is_command, value);
    if (!is_command) {
        server->written_handle = handle;
        server->turn = GATT_TURN_USER;
    }
    return ATT_OK;
}

static void take_write_request(struct gatt_server *server, struct bytes_reader reader)
{
    uint16_t handle = bytes_u16(&reader);
    enum att_error error =
        reader.failed ? ATT_INVALID_PDU : take_write(server, handle, false, reader);
    if (server->turn != GATT_TURN_USER)
        answer_write(server, handle, error);
}

static void take_command(struct gatt_server *server, uint8_t opcode, struct bytes_reader reader)
{
    uint16_t handle = bytes_u16(&reader);
    bool is_write = opcode == ATT_WRITE_COMMAND && !reader.failed;
    if (!is_write || take_write(server, handle, true, reader) != ATT_OK)
        server->stray_pdus++;
}

/* ---- receiving ---- */

static void take_request(struct gatt_server *server, const uint8_t *pdu, size_t length)
{
    if (server->turn != GATT_TURN_PEER) {
        server->early_requests++;
        return;
    }
    if (pdu[0] == ATT_WRITE_REQUEST) {
        take_write_request(server, bytes_reader(pdu + 1, length - 1));
        return;
    }
    struct gatt_table table = table_of(server);
    struct bytes_writer writer = begin_pdu(server);
    if (pdu[0] == ATT_MTU_REQUEST)
        gatt_answer_mtu(pdu, length, own_mtu(server), &server->mtu, &writer);
    else
        gatt_table_answer(&table, pdu, length, &writer);
    end_answer(server, &writer);
}

static void take_confirmation(struct gatt_server *server)
{
    if (server->indication != GATT_INDICATION_SENT) {
        server->stray_pdus++;
        return;
    }
    server->indication = GATT_INDICATION_NONE;
    tell(server, GATT_SERVER_CONFIRMED, server->indicated_handle, false, bytes_reader(NULL, 0));
}

static void dispatch(struct gatt_server *server, const uint8_t *pdu, size_t length)
{
    switch (att_kind(pdu[0])) {
    case ATT_KIND_REQUEST: take_request(server, pdu, length); break;
    case ATT_KIND_COMMAND: take_command(server, pdu[0], bytes_reader(pdu + 1, length - 1)); break;
    case ATT_KIND_CONFIRMATION: take_confirmation(server); break;
    case ATT_KIND_RESPONSE:
    case ATT_KIND_NOTIFICATION:
    case ATT_KIND_INDICATION: server->stray_pdus++; break;
    }
}

void gatt_server_receive(struct gatt_server *server, const uint8_t *pdu, size_t length)
{
    if (server->event_count == GATT_SERVER_EVENTS_MAX ||
        server->pdu_count == GATT_SERVER_PDUS_MAX) {
        server->dropped_pdus++;
        return;
    }
    if (length > gatt_server_mtu(server))
        server->long_pdus++;
    if (length == 0)
        server->stray_pdus++;
    else
        dispatch(server, pdu, length);
}
