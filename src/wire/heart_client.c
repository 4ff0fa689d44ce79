#include "wire/heart_client.h"

static void emit(struct heart_client *client, const struct heart_client_event *event)
{
    if (client->event_count == HEART_CLIENT_EVENTS_MAX) {
        client->lost_events++;
        return;
    }
    size_t free = (client->first_event + client->event_count) % HEART_CLIENT_EVENTS_MAX;
    client->events[free] = *event;
    client->event_count++;
}

/* Kept beside the other events, so that there is always room for it. */
static void fail(struct heart_client *client, const char *reason)
{
    if (client->failure == NULL)
        client->failure = reason;
}

bool heart_client_next_event(struct heart_client *client, struct heart_client_event *ret)
{
    if (client->event_count > 0) {
        *ret = client->events[client->first_event];
        client->first_event = (uint8_t)((client->first_event + 1u) % HEART_CLIENT_EVENTS_MAX);
        client->event_count--;
        return true;
    }
    if (client->failure == NULL || client->failure_is_told)
        return false;
    client->failure_is_told = true;
    *ret = (struct heart_client_event){.kind = HEART_CLIENT_FAILED, .reason = client->failure};
    return true;
}

static void discovered(struct heart_client *client)
{
    const struct gatt_characteristic *found =
        gatt_client_find(&client->gatt, HEART_RATE_SERVICE, HEART_RATE_MEASUREMENT);
    if (found == NULL) {
        fail(client, "this device measures no heart rate");
        return;
    }
    if (found->client_config_handle == 0) {
        fail(client, "this strap has no way to turn its data on");
        return;
    }
    static const uint8_t notifications[] = {1, 0};
    client->value_handle = found->value_handle;
    client->config_handle = found->client_config_handle;
    /* The queue is empty, so it cannot be full; a link that died is told by GATT_DEAD. */
    (void)!gatt_client_write(&client->gatt, client->config_handle, notifications,
                             sizeof notifications);
}

static void subscribed(struct heart_client *client, uint8_t att_error)
{
    static const struct heart_client_event ready = {.kind = HEART_CLIENT_READY};
    if (att_error == ATT_OK)
        emit(client, &ready);
    else
        fail(client, att_error_wants_pairing(att_error) ? "this strap needs pairing first"
                                                        : "this strap refuses to send its data");
}

static void notified(struct heart_client *client, const struct gatt_event *event)
{
    struct heart_client_event data = {.kind = HEART_CLIENT_DATA};
    if (event->handle == 0 || event->handle != client->value_handle)
        return;
    if (heart_rate_decode(event->value, event->length, &data.heart) == RESULT_OK)
        emit(client, &data);
}

static void handle_event(struct heart_client *client, const struct gatt_event *event)
{
    switch (event->kind) {
    case GATT_DISCOVERED: discovered(client); break;
    case GATT_NOTIFIED: notified(client, event); break;
    case GATT_WRITE_DONE: subscribed(client, event->error); break;
    case GATT_READ_DONE: break; /* nothing is read */
    case GATT_DEAD:
        fail(client, event->error == ATT_OK ? "the strap has stopped answering"
                     : event->error == ATT_DATABASE_OUT_OF_SYNC
                         ? "the strap has changed what it offers"
                         : "the strap does not say what it offers");
        break;
    }
}

static void handle_events(struct heart_client *client)
{
    struct gatt_event event;
    while (gatt_client_next_event(&client->gatt, &event))
        if (client->failure == NULL)
            handle_event(client, &event);
}

void heart_client_start(struct heart_client *client, uint64_t t_ms)
{
    *client = (struct heart_client){0};
    gatt_client_start(&client->gatt, t_ms);
}

void heart_client_receive(struct heart_client *client, uint64_t t_ms, const uint8_t *pdu,
                          size_t length)
{
    gatt_client_receive(&client->gatt, t_ms, pdu, length);
    handle_events(client);
}

void heart_client_tick(struct heart_client *client, uint64_t t_ms)
{
    gatt_client_tick(&client->gatt, t_ms);
    handle_events(client);
}

size_t heart_client_next_pdu(struct heart_client *client, uint8_t *ret)
{
    return gatt_client_next_pdu(&client->gatt, ret);
}
