#include "wire/gatt_client.h"

#include <assert.h>
#include <string.h>

#include "wire/gatt_client_event.h"
#include "wire/gatt_discovery.h"

void gatt_client_start(struct gatt_client *client, uint64_t t_ms)
{
    (void)t_ms; /* the first wait begins when the first request is sent */
    memset(client, 0, sizeof *client);
    client->phase = GATT_PHASE_MTU;
}

void gatt_client_set_patience(struct gatt_client *client, uint32_t patience_ms)
{
    client->patience_ms = patience_ms < ATT_TRANSACTION_TIMEOUT_MS ? patience_ms : 0;
}

void gatt_client_wait_anew(struct gatt_client *client)
{
    client->transaction.is_timed = false;
}

void gatt_client_remember(struct gatt_client *client, const struct gatt_known *earlier)
{
    client->earlier = earlier;
}

uint16_t gatt_client_mtu(const struct gatt_client *client)
{
    return client->mtu == 0 ? ATT_MTU_DEFAULT : client->mtu;
}

const struct gatt_characteristic *gatt_client_find(const struct gatt_client *client,
                                                   uint16_t service, uint16_t characteristic)
{
    uint8_t in = 0;
    while (in < client->known.service_count &&
           !att_uuid_is(&client->known.services[in].uuid, service))
        in++;
    for (uint8_t i = 0; i < client->known.characteristic_count; i++) {
        const struct gatt_characteristic *found = &client->known.characteristics[i];
        if (found->service == in && att_uuid_is(&found->uuid, characteristic))
            return found;
    }
    return NULL;
}

/* ---- events ---- */

struct gatt_event_slot *gatt_client_tell(struct gatt_client *client, enum gatt_event_kind kind,
                                         uint16_t handle, uint8_t error, struct bytes_reader value)
{
    assert(client->event_count < GATT_EVENTS_MAX);
    size_t at = (client->event_first + client->event_count++) % GATT_EVENTS_MAX;
    struct gatt_event_slot *slot = &client->events[at];
    struct bytes_writer copy = bytes_writer(slot->value, sizeof slot->value);
    bytes_put_rest(&copy, &value);
    slot->kind = (uint8_t)kind;
    slot->handle = handle;
    slot->error = error;
    slot->indicated = false;
    slot->length = (uint16_t)copy.length;
    return slot;
}

bool gatt_client_next_event(struct gatt_client *client, struct gatt_event *ret)
{
    if (client->event_count == 0)
        return false;
    const struct gatt_event_slot *slot = &client->events[client->event_first];
    *ret = (struct gatt_event){.kind = (enum gatt_event_kind)slot->kind,
                               .handle = slot->handle,
                               .error = slot->error,
                               .indicated = slot->indicated,
                               .value = slot->value,
                               .length = slot->length};
    client->event_first = (uint8_t)((client->event_first + 1u) % GATT_EVENTS_MAX);
    client->event_count--;
    return true;
}

/* ---- operations ---- */

static enum result enqueue(struct gatt_client *client, struct gatt_operations *queue,
                           uint8_t opcode, uint16_t handle, struct bytes_reader value)
{
    if (client->phase == GATT_PHASE_DEAD)
        return RESULT_CLOSED;
    if (bytes_left(&value) > GATT_WRITE_MAX)
        return RESULT_RANGE;
    if (queue->count == GATT_OPERATIONS_MAX)
        return RESULT_FULL;
    struct gatt_operation *operation =
        &queue->items[(queue->first + queue->count++) % GATT_OPERATIONS_MAX];
    struct bytes_writer copy = bytes_writer(operation->value, sizeof operation->value);
    bytes_put_rest(&copy, &value);
    operation->opcode = opcode;
    operation->handle = handle;
    operation->length = (uint8_t)copy.length;
    return RESULT_OK;
}

enum result gatt_client_read(struct gatt_client *client, uint16_t handle)
{
    return enqueue(client, &client->waiting, ATT_READ_REQUEST, handle, bytes_reader(NULL, 0));
}

enum result gatt_client_write(struct gatt_client *client, uint16_t handle, const uint8_t *value,
                              size_t length)
{
    return enqueue(client, &client->waiting, ATT_WRITE_REQUEST, handle,
                   bytes_reader(value, length));
}

enum result gatt_client_write_first(struct gatt_client *client, uint16_t handle,
                                    const uint8_t *value, size_t length)
{
    return enqueue(client, &client->first, ATT_WRITE_REQUEST, handle, bytes_reader(value, length));
}

enum result gatt_client_write_command(struct gatt_client *client, uint16_t handle,
                                      const uint8_t *value, size_t length)
{
    return enqueue(client, &client->waiting, ATT_WRITE_COMMAND, handle,
                   bytes_reader(value, length));
}

/* ---- sending ---- */

static size_t next_answer(struct gatt_client *client, uint8_t *ret)
{
    const struct gatt_answer *next = &client->answers[client->answer_first];
    memcpy(ret, next->pdu, next->length);
    client->answer_first = (uint8_t)((client->answer_first + 1u) % GATT_ANSWERS_MAX);
    client->answer_count--;
    return next->length;
}

static void begin(struct gatt_client *client, uint8_t opcode, uint16_t handle)
{
    client->transaction = (struct gatt_transaction){.opcode = opcode, .handle = handle};
}

static void put_discovery(struct gatt_client *client, struct bytes_writer *writer)
{
    uint16_t handle = gatt_discovery_put_request(client, writer);
    begin(client, writer->data[0], handle);
}

static void put_blob(struct gatt_client *client, struct bytes_writer *writer)
{
    bytes_put_u8(writer, ATT_READ_BLOB_REQUEST);
    bytes_put_u16(writer, client->read.handle);
    bytes_put_u16(writer, client->read.length);
    begin(client, ATT_READ_BLOB_REQUEST, client->read.handle);
}

static void put_operation(struct gatt_client *client, struct gatt_operations *queue,
                          struct bytes_writer *writer)
{
    const struct gatt_operation *next = &queue->items[queue->first];
    queue->first = (uint8_t)((queue->first + 1u) % GATT_OPERATIONS_MAX);
    queue->count--;
    bytes_put_u8(writer, next->opcode);
    bytes_put_u16(writer, next->handle);
    bytes_put(writer, next->value, next->length);
    if (next->opcode == ATT_WRITE_COMMAND)
        return;
    if (next->opcode == ATT_READ_REQUEST) {
        client->read.is_open = true;
        client->read.handle = next->handle;
        client->read.length = 0;
    }
    begin(client, next->opcode, next->handle);
}

static bool is_command_next(const struct gatt_operations *queue)
{
    return queue->count > 0 && queue->items[queue->first].opcode == ATT_WRITE_COMMAND;
}

static void put_next(struct gatt_client *client, struct bytes_writer *writer)
{
    bool is_idle = client->transaction.opcode == 0;
    if (client->is_in_doubt && client->phase == GATT_PHASE_READY) {
        if (!is_idle)
            return; /* nothing more goes to handles in doubt */
        gatt_discovery_check(client);
    }
    if (gatt_discovery_is_under_way(client)) {
        if (is_idle)
            put_discovery(client, writer);
    } else if (client->phase != GATT_PHASE_READY) {
        return;
    } else if (is_idle && client->first.count > 0) {
        put_operation(client, &client->first, writer);
    } else if (is_idle && client->read.is_open) {
        put_blob(client, writer);
    } else if (is_command_next(&client->waiting) || (is_idle && client->waiting.count > 0)) {
        put_operation(client, &client->waiting, writer);
    }
}

size_t gatt_client_next_pdu(struct gatt_client *client, uint8_t *ret)
{
    if (client->phase == GATT_PHASE_DEAD)
        return 0;
    if (client->answer_count > 0)
        return next_answer(client, ret);
    struct bytes_writer writer = bytes_writer(ret, gatt_client_mtu(client));
    put_next(client, &writer);
    assert(!writer.failed); /* every request of ours fits the smallest MTU */
    return writer.length;
}
