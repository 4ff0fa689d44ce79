#include "wire/gatt_client.h"

#include "wire/gatt_client_event.h"
#include "wire/gatt_discovery.h"
#include "wire/gatt_table.h"

/* One slot stays free for GATT_DEAD, which may come with any call. */
static bool has_room(const struct gatt_client *client)
{
    return client->event_count + 1u < GATT_EVENTS_MAX && client->answer_count < GATT_ANSWERS_MAX;
}

static struct bytes_reader no_value(void)
{
    return bytes_reader(NULL, 0);
}

static void die(struct gatt_client *client, uint8_t error)
{
    /* However the hash was not confirmed, it is the tables that are no longer believed. */
    if (client->phase == GATT_PHASE_HASH_AGAIN && error != ATT_OK)
        error = ATT_DATABASE_OUT_OF_SYNC;
    client->phase = GATT_PHASE_DEAD;
    client->transaction.opcode = 0;
    gatt_client_tell(client, GATT_DEAD, 0, error, no_value());
}

/* ---- responses ---- */

static void end_read(struct gatt_client *client, uint8_t error)
{
    struct gatt_long_read *read = &client->read;
    read->is_open = false;
    size_t length = error == ATT_OK ? read->length : 0;
    gatt_client_tell(client, GATT_READ_DONE, read->handle, error,
                     bytes_reader(read->value, length));
}

/* A part that fills its PDU may have a sequel, and one that does not has none. */
static void take_part(struct gatt_client *client, struct bytes_reader part)
{
    struct gatt_long_read *read = &client->read;
    struct bytes_writer value = {read->value, sizeof read->value, read->length, false};
    bytes_put_rest(&value, &part);
    if (value.failed) {
        end_read(client, ATT_UNLIKELY_ERROR);
        return;
    }
    read->length = (uint16_t)value.length;
    bool is_full = bytes_left(&part) + 1 >= gatt_client_mtu(client);
    if (!is_full || read->length == sizeof read->value)
        end_read(client, ATT_OK);
}

static void fail_operation(struct gatt_client *client, struct gatt_transaction ended, uint8_t error)
{
    bool is_end_of_value = ended.opcode == ATT_READ_BLOB_REQUEST &&
                           (error == ATT_INVALID_OFFSET || error == ATT_ATTRIBUTE_NOT_LONG);
    if (ended.opcode == ATT_WRITE_REQUEST)
        gatt_client_tell(client, GATT_WRITE_DONE, ended.handle, error, no_value());
    else
        end_read(client, is_end_of_value ? ATT_OK : error);
}

static void take_error(struct gatt_client *client, struct gatt_transaction ended, uint8_t error)
{
    const bool is_discovery = gatt_discovery_is_under_way(client);
    const bool is_out_of_sync =
        error == ATT_DATABASE_OUT_OF_SYNC && client->phase > GATT_PHASE_HASH;

    if (is_out_of_sync || (is_discovery && gatt_discovery_take_error(client, error) != RESULT_OK))
        die(client, error);
    else if (!is_discovery)
        fail_operation(client, ended, error);
    else if (client->phase == GATT_PHASE_READY)
        gatt_client_tell(client, GATT_DISCOVERED, 0, ATT_OK, no_value());
}

/* The code of an Error Response to that request; anything odd is "unlikely", never success. */
static uint8_t error_of(struct bytes_reader reader, uint8_t request)
{
    uint8_t named = bytes_u8(&reader);
    bytes_u16(&reader);
    uint8_t error = bytes_u8(&reader);
    bool is_whole = !reader.failed && bytes_left(&reader) == 0;
    return is_whole && named == request && error != ATT_OK ? error : ATT_UNLIKELY_ERROR;
}

static void take_fitting(struct gatt_client *client, struct gatt_transaction ended,
                         struct bytes_reader reader)
{
    if (gatt_discovery_is_under_way(client)) {
        const bool is_news = client->phase != GATT_PHASE_HASH_AGAIN;
        if (gatt_discovery_take(client, reader) != RESULT_OK)
            die(client, ATT_UNLIKELY_ERROR);
        else if (is_news && client->phase == GATT_PHASE_READY)
            gatt_client_tell(client, GATT_DISCOVERED, 0, ATT_OK, no_value());
    } else if (ended.opcode == ATT_WRITE_REQUEST) {
        gatt_client_tell(client, GATT_WRITE_DONE, ended.handle, ATT_OK, no_value());
    } else {
        take_part(client, reader);
    }
}

static void take_misfit(struct gatt_client *client, struct gatt_transaction ended)
{
    const bool is_optional =
        client->phase <= GATT_PHASE_HASH || client->phase == GATT_PHASE_CHANGES;
    if (gatt_discovery_is_under_way(client) && !is_optional)
        die(client, ATT_UNLIKELY_ERROR);
    else
        take_error(client, ended, ATT_UNLIKELY_ERROR);
}

static void take_response(struct gatt_client *client, uint8_t opcode, struct bytes_reader reader)
{
    struct gatt_transaction ended = client->transaction;
    if (ended.opcode == 0) {
        client->stray_pdus++;
        return;
    }
    client->transaction.opcode = 0;
    if (opcode == ATT_ERROR_RESPONSE)
        take_error(client, ended, error_of(reader, ended.opcode));
    else if (opcode == ended.opcode + 1)
        take_fitting(client, ended, reader);
    else
        take_misfit(client, ended);
}

/* ---- what the peer starts ---- */

/* The next free slot, for whose PDU the caller sets the length; has_room() has said that it is. */
static struct gatt_answer *new_answer(struct gatt_client *client)
{
    return &client->answers[(client->answer_first + client->answer_count++) % GATT_ANSWERS_MAX];
}

static void take_notification(struct gatt_client *client, uint8_t opcode,
                              struct bytes_reader reader)
{
    uint16_t handle = bytes_u16(&reader);
    if (reader.failed || bytes_left(&reader) > ATT_VALUE_MAX) {
        client->stray_pdus++;
        return;
    }
    gatt_client_tell(client, GATT_NOTIFIED, handle, ATT_OK, reader)->indicated =
        opcode == ATT_INDICATION;
}

/* The next value, with its length before it; it has failed where there is none that is whole. */
static struct bytes_reader next_value(struct bytes_reader *reader)
{
    const size_t length = bytes_u16(reader);
    const size_t end = reader->at + length;
    if (reader->failed || end > reader->length || length > ATT_VALUE_MAX)
        return (struct bytes_reader){.failed = true};
    struct bytes_reader value = *reader;
    value.length = reader->at = end;
    return value;
}

/* Several at once: Bluetooth Core 5.2, Vol 3 Part F 3.4.7.4. Who wants that says so in the peer's
 * Client Supported Features, where a bond keeps it (Part G 7.2). So it may be another program of
 * this computer that did, and bluetoothd does with whatever it pairs: then nothing comes alone. */
static void take_notifications(struct gatt_client *client, struct bytes_reader reader)
{
    do {
        const uint16_t handle = bytes_u16(&reader);
        const struct bytes_reader value = next_value(&reader);
        if (value.failed || !has_room(client)) {
            client->stray_pdus++;
            return;
        }
        gatt_client_tell(client, GATT_NOTIFIED, handle, ATT_OK, value);
    } while (bytes_left(&reader) > 0);
}

/* Who asks for it is told when attributes come, go or move: Bluetooth Core 5.1, Vol 3 Part G 7.1.
 * Which ones does not matter here. */
static bool is_of_changes(const struct gatt_client *client, struct bytes_reader reader)
{
    const struct gatt_characteristic *changes =
        gatt_client_find(client, GATT_SERVICE, GATT_SERVICE_CHANGED);
    const uint16_t handle = bytes_u16(&reader);
    return !reader.failed && changes != NULL && changes->value_handle == handle;
}

static void confirm(struct gatt_client *client)
{
    *new_answer(client) = (struct gatt_answer){.length = 1, .pdu = {ATT_CONFIRMATION}};
}

static void take_request(struct gatt_client *client, const uint8_t *pdu, size_t length)
{
    static const struct gatt_table empty;
    struct gatt_answer *answer = new_answer(client);
    struct bytes_writer writer = bytes_writer(answer->pdu, sizeof answer->pdu);
    if (pdu[0] == ATT_MTU_REQUEST)
        gatt_answer_mtu(pdu, length, ATT_MTU_MAX, &client->mtu, &writer);
    else
        gatt_table_answer(&empty, pdu, length, &writer);
    answer->length = (uint8_t)writer.length;
}

/* ---- receiving ---- */

static void dispatch(struct gatt_client *client, const uint8_t *pdu, size_t length)
{
    struct bytes_reader reader = bytes_reader(pdu, length);
    uint8_t opcode = bytes_u8(&reader);
    switch (att_kind(opcode)) {
    case ATT_KIND_RESPONSE: take_response(client, opcode, reader); break;
    case ATT_KIND_REQUEST: take_request(client, pdu, length); break;
    case ATT_KIND_INDICATION:
        confirm(client);
        if (is_of_changes(client, reader))
            client->is_in_doubt = true;
        else
            take_notification(client, opcode, reader);
        break;
    case ATT_KIND_NOTIFICATION:
        if (opcode == ATT_MULTIPLE_NOTIFICATION)
            take_notifications(client, reader);
        else
            take_notification(client, opcode, reader);
        break;
    case ATT_KIND_COMMAND:
    case ATT_KIND_CONFIRMATION: client->stray_pdus++; break;
    }
}

void gatt_client_tick(struct gatt_client *client, uint64_t t_ms)
{
    struct gatt_transaction *open = &client->transaction;
    if (client->phase == GATT_PHASE_DEAD || open->opcode == 0)
        return;
    if (!open->is_timed) {
        open->is_timed = true;
        open->started_ms = t_ms;
    }
    const uint32_t patience_ms =
        client->patience_ms == 0 ? ATT_TRANSACTION_TIMEOUT_MS : client->patience_ms;
    if (t_ms >= open->started_ms && t_ms - open->started_ms >= patience_ms)
        die(client, ATT_OK);
}

void gatt_client_receive(struct gatt_client *client, uint64_t t_ms, const uint8_t *pdu,
                         size_t length)
{
    gatt_client_tick(client, t_ms);
    if (client->phase == GATT_PHASE_DEAD)
        return;
    if (!has_room(client)) {
        client->dropped_pdus++;
        return;
    }
    if (length > gatt_client_mtu(client))
        client->long_pdus++;
    if (length == 0)
        client->stray_pdus++;
    else
        dispatch(client, pdu, length);
}
