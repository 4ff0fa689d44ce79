#include "wire/sensor_client.h"

#include "wire/cadence.h"
#include "wire/cycling_power.h"

/* What to subscribe to, and what to say of it. */
struct sensor_service {
    uint16_t service, measurement;
    const char *measures_nothing, *has_no_switch, *needs_pairing, *refuses, *is_silent,
        *has_changed, *says_nothing;
};

#define SERVICE(service, measurement, what, noun)                                                 \
    {                                                                                             \
        service, measurement, "this device measures no " what,                                    \
            "this " noun " has no way to turn its data on", "this " noun " needs pairing first",  \
            "this " noun " refuses to send its data", "the " noun " has stopped answering",       \
            "the " noun " has changed what it offers", "the " noun " does not say what it offers" \
    }

static const struct sensor_service services[SENSOR_KIND_COUNT] = {
    [SENSOR_STRAP] = SERVICE(HEART_RATE_SERVICE, HEART_RATE_MEASUREMENT, "heart rate", "strap"),
    [SENSOR_POWER] =
        SERVICE(CYCLING_POWER_SERVICE, CYCLING_POWER_MEASUREMENT, "power", "power sensor"),
    [SENSOR_CADENCE] = SERVICE(CADENCE_SERVICE, CADENCE_MEASUREMENT, "cadence", "cadence sensor"),
};

static void emit(struct sensor_client *client, const struct sensor_client_event *event)
{
    if (client->event_count == SENSOR_CLIENT_EVENTS_MAX) {
        client->lost_events++;
        return;
    }
    size_t free = (client->first_event + client->event_count) % SENSOR_CLIENT_EVENTS_MAX;
    client->events[free] = *event;
    client->event_count++;
}

/* Kept beside the other events, so that there is always room for it. */
static void fail(struct sensor_client *client, const char *reason)
{
    if (client->failure == NULL)
        client->failure = reason;
}

bool sensor_client_next_event(struct sensor_client *client, struct sensor_client_event *ret)
{
    if (client->event_count > 0) {
        *ret = client->events[client->first_event];
        client->first_event = (uint8_t)((client->first_event + 1u) % SENSOR_CLIENT_EVENTS_MAX);
        client->event_count--;
        return true;
    }
    if (client->failure == NULL || client->failure_is_told)
        return false;
    client->failure_is_told = true;
    *ret = (struct sensor_client_event){.kind = SENSOR_CLIENT_FAILED, .reason = client->failure};
    return true;
}

/* A sensor may count the turns of a wheel alone, and is told from its feature where it has one. */
static void ask_for_feature(struct sensor_client *client)
{
    const struct gatt_characteristic *feature =
        gatt_client_find(&client->gatt, CADENCE_SERVICE, CADENCE_FEATURE);

    if (client->sensor == SENSOR_CADENCE && feature != NULL)
        (void)!gatt_client_read(&client->gatt, feature->value_handle);
}

static void feature_told(struct sensor_client *client, const struct gatt_event *event)
{
    bool counts_crank;

    if (event->error == ATT_OK &&
        cadence_feature_decode(event->value, event->length, &counts_crank) == RESULT_OK &&
        !counts_crank)
        fail(client, "this sensor counts turns of a wheel, not of the crank");
}

static void discovered(struct sensor_client *client)
{
    static const uint8_t notifications[] = {1, 0};
    const struct sensor_service *wanted = &services[client->sensor];
    const struct gatt_characteristic *found =
        gatt_client_find(&client->gatt, wanted->service, wanted->measurement);
    if (found == NULL) {
        fail(client, wanted->measures_nothing);
        return;
    }
    if (found->client_config_handle == 0) {
        fail(client, wanted->has_no_switch);
        return;
    }
    client->value_handle = found->value_handle;
    client->config_handle = found->client_config_handle;
    /* The queue is empty, so it cannot be full; a link that died is told by GATT_DEAD. */
    ask_for_feature(client);
    (void)!gatt_client_write(&client->gatt, client->config_handle, notifications,
                             sizeof notifications);
}

static void subscribed(struct sensor_client *client, uint8_t att_error)
{
    static const struct sensor_client_event ready = {.kind = SENSOR_CLIENT_READY};
    if (att_error == ATT_OK)
        emit(client, &ready);
    else
        fail(client, att_error_wants_pairing(att_error) ? services[client->sensor].needs_pairing
                                                        : services[client->sensor].refuses);
}

static void take_heart(struct sensor_client *client, const struct gatt_event *event)
{
    struct sensor_client_event data = {.kind = SENSOR_CLIENT_HEART};

    if (heart_rate_decode(event->value, event->length, &data.heart) == RESULT_OK)
        emit(client, &data);
}

static void take_turns(struct sensor_client *client, uint64_t t_ms, struct crank_count count,
                       struct sensor_effort *effort)
{
    effort->has_cadence = crank_take(&client->crank, t_ms, count, &effort->cadence_rpm);
}

static void take_power(struct sensor_client *client, uint64_t t_ms, const struct gatt_event *event)
{
    struct sensor_client_event data = {.kind = SENSOR_CLIENT_EFFORT};
    struct sensor_effort *effort = &data.effort;
    struct cycling_power power;

    if (cycling_power_decode(event->value, event->length, &power) != RESULT_OK)
        return;
    if (power.has_crank)
        take_turns(client, t_ms, power.crank, effort);
    effort->has_power = true;
    effort->power_w = effort->has_cadence && effort->cadence_rpm == 0 ? 0 : power.power_w;
    emit(client, &data);
}

static void take_cadence(struct sensor_client *client, uint64_t t_ms,
                         const struct gatt_event *event)
{
    struct sensor_client_event data = {.kind = SENSOR_CLIENT_EFFORT};
    struct cadence_frame frame;

    if (cadence_decode(event->value, event->length, &frame) != RESULT_OK || !frame.has_crank)
        return;
    take_turns(client, t_ms, frame.crank, &data.effort);
    if (data.effort.has_cadence)
        emit(client, &data);
}

static void notified(struct sensor_client *client, uint64_t t_ms, const struct gatt_event *event)
{
    if (event->handle == 0 || event->handle != client->value_handle)
        return;
    switch (client->sensor) {
    case SENSOR_STRAP: take_heart(client, event); return;
    case SENSOR_POWER: take_power(client, t_ms, event); return;
    case SENSOR_CADENCE: take_cadence(client, t_ms, event); return;
    case SENSOR_KIND_COUNT: return;
    }
}

static void handle_event(struct sensor_client *client, uint64_t t_ms,
                         const struct gatt_event *event)
{
    const struct sensor_service *words = &services[client->sensor];

    switch (event->kind) {
    case GATT_DISCOVERED: discovered(client); break;
    case GATT_NOTIFIED: notified(client, t_ms, event); break;
    case GATT_WRITE_DONE: subscribed(client, event->error); break;
    case GATT_READ_DONE: feature_told(client, event); break;
    case GATT_DEAD:
        fail(client, event->error == ATT_OK                     ? words->is_silent
                     : event->error == ATT_DATABASE_OUT_OF_SYNC ? words->has_changed
                                                                : words->says_nothing);
        break;
    }
}

static void handle_events(struct sensor_client *client, uint64_t t_ms)
{
    struct gatt_event event;
    while (gatt_client_next_event(&client->gatt, &event))
        if (client->failure == NULL)
            handle_event(client, t_ms, &event);
}

void sensor_client_start(struct sensor_client *client, enum sensor_kind sensor, uint64_t t_ms)
{
    *client = (struct sensor_client){.sensor = sensor};
    gatt_client_start(&client->gatt, t_ms);
}

void sensor_client_receive(struct sensor_client *client, uint64_t t_ms, const uint8_t *pdu,
                           size_t length)
{
    gatt_client_receive(&client->gatt, t_ms, pdu, length);
    handle_events(client, t_ms);
}

void sensor_client_tick(struct sensor_client *client, uint64_t t_ms)
{
    gatt_client_tick(&client->gatt, t_ms);
    handle_events(client, t_ms);
}

size_t sensor_client_next_pdu(struct sensor_client *client, uint8_t *ret)
{
    return gatt_client_next_pdu(&client->gatt, ret);
}
