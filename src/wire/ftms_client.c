#include "wire/ftms_client.h"

#include <string.h>

#include "wire/ftms_control.h"
#include "wire/gatt.h"

#define REFUSED_REPEAT_MS 300u

#define NOTIFICATIONS 1u /* the values of a client configuration */
#define INDICATIONS   2u

/* The control point comes first: some machines take no command until it is set. */
static const struct ftms_step {
    uint16_t characteristic;
    uint8_t configuration; /* 0: a read */
} steps[] = {
    {FTMS_CONTROL_POINT, INDICATIONS},
    {FTMS_MACHINE_STATUS, NOTIFICATIONS},
    {FTMS_TRAINING_STATUS, NOTIFICATIONS},
    {FTMS_INDOOR_BIKE_DATA, NOTIFICATIONS},
    {FTMS_FEATURE, 0},
    {FTMS_RESISTANCE_RANGE, 0},
    {FTMS_POWER_RANGE, 0},
};
#define STEP_COUNT (sizeof steps / sizeof steps[0])

/* ---- events ---- */

void ftms_client_emit(struct ftms_client *client, const struct ftms_client_event *event)
{
    if (client->event_count == FTMS_CLIENT_EVENTS_MAX) {
        client->lost_events++;
        return;
    }
    size_t free = (client->first_event + client->event_count) % FTMS_CLIENT_EVENTS_MAX;
    client->events[free] = *event;
    client->event_count++;
}

/* Kept beside the other events, so that there is always room for it. */
static void fail(struct ftms_client *client, const char *reason)
{
    if (client->failure == NULL)
        client->failure = reason;
}

bool ftms_client_next_event(struct ftms_client *client, struct ftms_client_event *ret)
{
    if (client->event_count > 0) {
        *ret = client->events[client->first_event];
        client->first_event = (uint8_t)((client->first_event + 1u) % FTMS_CLIENT_EVENTS_MAX);
        client->event_count--;
        return true;
    }
    if (client->failure == NULL || client->failure_is_told)
        return false;
    client->failure_is_told = true;
    *ret = (struct ftms_client_event){.kind = FTMS_CLIENT_FAILED,
                                      .reason = client->failure,
                                      .may_pass = client->failure_may_pass};
    return true;
}

/* ---- setup ---- */

static const struct gatt_characteristic *find(const struct ftms_client *client, uint16_t number)
{
    return gatt_client_find(&client->gatt, FTMS_SERVICE, number);
}

static uint16_t handle_of(const struct ftms_client *client, uint16_t number)
{
    const struct gatt_characteristic *found = find(client, number);
    return found == NULL ? 0 : found->value_handle;
}

/* Why this is no bike, or NULL. Advertised machine types are often wrong; what is there counts. */
static const char *what_is_missing(const struct ftms_client *client)
{
    const struct gatt_characteristic *data = find(client, FTMS_INDOOR_BIKE_DATA);
    if (data != NULL)
        return data->client_config_handle == 0 ? "this bike has no way to turn its data on" : NULL;
    for (unsigned number = FTMS_FEATURE; number <= FTMS_MACHINE_STATUS; number++)
        if (find(client, (uint16_t)number) != NULL)
            return "this fitness machine is not a bike";
    return "this device is not a fitness machine";
}

/* What the service asks for, unless the machine only offers the other. */
static uint8_t configuration_of(const struct ftms_step *step, uint8_t properties)
{
    switch (properties & (GATT_NOTIFY | GATT_INDICATE)) {
    case GATT_NOTIFY: return NOTIFICATIONS;
    case GATT_INDICATE: return INDICATIONS;
    default: return step->configuration;
    }
}

static bool start_step(struct ftms_client *client)
{
    const struct ftms_step *step = &steps[client->step];
    const struct gatt_characteristic *found = find(client, step->characteristic);
    bool is_read = step->configuration == 0;
    if (found == NULL || (!is_read && found->client_config_handle == 0))
        return false;
    client->step_repeat_at_ms = 0;
    client->step_handle = is_read ? found->value_handle : found->client_config_handle;
    if (is_read)
        return gatt_client_read(&client->gatt, client->step_handle) == RESULT_OK;
    const uint8_t value[] = {configuration_of(step, found->properties), 0};
    return gatt_client_write(&client->gatt, client->step_handle, value, sizeof value) == RESULT_OK;
}

static void get_ready(struct ftms_client *client)
{
    struct ftms_machine *machine = &client->machine;
    machine->has_control_point = client->control.handle != 0 && client->has_feature;
    if (machine->has_control_point) {
        machine->takes_power = (machine->feature.target & FTMS_TAKES_POWER) != 0;
        machine->takes_level = (machine->feature.target & FTMS_TAKES_RESISTANCE) != 0;
    }
    struct ftms_client_event event = {.kind = FTMS_CLIENT_READY, .machine = *machine};
    ftms_client_emit(client, &event);
}

static bool is_skipped(const struct ftms_client *client)
{
    return (client->skipped_steps >> client->step & 1u) != 0;
}

/* Goes on with the first step that the machine has. */
static void run_setup(struct ftms_client *client)
{
    client->step_was_repeated = false;
    while (client->step < STEP_COUNT && (is_skipped(client) || !start_step(client)))
        client->step++;
    if (client->step < STEP_COUNT)
        return;
    client->step_handle = 0;
    get_ready(client);
}

static void discovered(struct ftms_client *client)
{
    const char *missing = what_is_missing(client);
    if (missing != NULL) {
        fail(client, missing);
        return;
    }
    client->data_handle = handle_of(client, FTMS_INDOOR_BIKE_DATA);
    client->status_handle = handle_of(client, FTMS_MACHINE_STATUS);
    client->training_handle = handle_of(client, FTMS_TRAINING_STATUS);
    client->control.resistance_octets = 2;
    run_setup(client);
}

static void subscribed_to_control(struct ftms_client *client)
{
    const struct gatt_characteristic *found = find(client, FTMS_CONTROL_POINT);
    uint8_t ways = found->properties & (GATT_WRITE | GATT_WRITE_NO_RESPONSE);
    client->control.handle = found->value_handle;
    client->control.by_command = ways == GATT_WRITE_NO_RESPONSE;
}

/* A range that makes no sense, or none at all, only means that there is none to clamp to. */
static void take_value(struct ftms_client *client, const struct gatt_event *event)
{
    struct ftms_machine *machine = &client->machine;
    uint16_t number = steps[client->step].characteristic;
    if (number == FTMS_FEATURE) {
        client->has_feature =
            ftms_decode_feature(event->value, event->length, &machine->feature) == RESULT_OK;
    } else if (number == FTMS_POWER_RANGE) {
        machine->has_power_range =
            ftms_decode_range(number, event->value, event->length, &machine->power_w) == RESULT_OK;
    } else {
        client->control.resistance_octets = (uint8_t)ftms_resistance_octets(event->length);
        machine->has_level_range = ftms_decode_range(number, event->value, event->length,
                                                     &machine->level_tenths) == RESULT_OK;
    }
}

static void step_done(struct ftms_client *client, uint64_t t_ms, const struct gatt_event *event)
{
    uint16_t number = steps[client->step].characteristic;
    bool is_read = event->kind == GATT_READ_DONE;
    if (event->error == ATT_APPLICATION_ERROR && !client->step_was_repeated) {
        client->step_was_repeated = true; /* seen to pass by itself */
        client->step_repeat_at_ms = t_ms + REFUSED_REPEAT_MS;
        return;
    }
    if (att_error_wants_pairing(event->error))
        fail(client, "this machine needs pairing first");
    else if (event->error != ATT_OK && number == FTMS_INDOOR_BIKE_DATA)
        fail(client, "this bike refuses to send its data");
    else if (event->error == ATT_OK && is_read)
        take_value(client, event);
    else if (event->error == ATT_OK && number == FTMS_CONTROL_POINT)
        subscribed_to_control(client);
    if (client->failure != NULL)
        return;
    client->step++;
    run_setup(client);
}

/* ---- values that come by themselves ---- */

static void take_data(struct ftms_client *client, const struct gatt_event *notified)
{
    struct ftms_client_event event = {.kind = FTMS_CLIENT_DATA};
    if (ftms_decode_bike_data(notified->value, notified->length, &event.data) != RESULT_OK)
        return;
    ftms_client_emit(client, &event);
    struct ftms_client_event closed = {.kind = FTMS_CLIENT_RECORD};
    if (ftms_record_add(&client->record, &event.data, &closed.data))
        ftms_client_emit(client, &closed);
}

static void take_status(struct ftms_client *client, const struct gatt_event *notified)
{
    struct ftms_client_event event = {.kind = FTMS_CLIENT_STATUS};
    if (ftms_decode_status(notified->value, notified->length, &event.status) == RESULT_OK)
        ftms_client_emit(client, &event);
}

static void take_training(struct ftms_client *client, const struct gatt_event *notified)
{
    struct ftms_client_event event = {.kind = FTMS_CLIENT_TRAINING};
    struct ftms_training_status training;
    if (ftms_decode_training_status(notified->value, notified->length, &training) != RESULT_OK)
        return;
    event.training_status = training.status;
    ftms_client_emit(client, &event);
}

static void notified(struct ftms_client *client, const struct gatt_event *event)
{
    if (event->handle == 0) /* no attribute has it, but ours are 0 when they are missing */
        return;
    if (event->handle == client->data_handle)
        take_data(client, event);
    else if (event->handle == client->status_handle)
        take_status(client, event);
    else if (event->handle == client->training_handle)
        take_training(client, event);
    else if (event->handle == client->control.handle)
        ftms_control_indicated(client, event->value, event->length);
}

/* ---- the calls ---- */

static void handle_event(struct ftms_client *client, uint64_t t_ms, const struct gatt_event *event)
{
    switch (event->kind) {
    case GATT_DISCOVERED: discovered(client); break;
    case GATT_NOTIFIED: notified(client, event); break;
    case GATT_READ_DONE:
    case GATT_WRITE_DONE:
        if (client->step < STEP_COUNT && event->handle == client->step_handle)
            step_done(client, t_ms, event);
        else if (event->handle == client->control.handle)
            ftms_control_written(client, t_ms, event->error);
        break;
    case GATT_DEAD:
        client->failure_may_pass = event->error == ATT_OK;
        /* What it has may lie elsewhere now. */
        if (event->error == ATT_DATABASE_OUT_OF_SYNC)
            client->control.handle = 0;
        fail(client, event->error == ATT_OK ? "the machine has stopped answering"
                     : event->error == ATT_DATABASE_OUT_OF_SYNC
                         ? "the machine has changed what it offers"
                         : "the machine does not say what it offers");
        break;
    }
}

static void handle_events(struct ftms_client *client, uint64_t t_ms)
{
    struct gatt_event event;
    while (gatt_client_next_event(&client->gatt, &event))
        if (client->failure == NULL)
            handle_event(client, t_ms, &event);
}

void ftms_client_start(struct ftms_client *client, uint64_t t_ms)
{
    memset(client, 0, sizeof *client);
    gatt_client_start(&client->gatt, t_ms);
}

unsigned ftms_client_stuck_step(const struct ftms_client *client)
{
    if (client->gatt.phase != GATT_PHASE_DEAD || client->step == STEP_COUNT ||
        client->step_handle == 0)
        return 0;
    const uint16_t number = steps[client->step].characteristic;
    return number == FTMS_MACHINE_STATUS || number == FTMS_TRAINING_STATUS ? 1u << client->step : 0;
}

void ftms_client_skip_steps(struct ftms_client *client, unsigned skipped)
{
    client->skipped_steps = skipped;
}

void ftms_client_receive(struct ftms_client *client, uint64_t t_ms, const uint8_t *pdu,
                         size_t length)
{
    gatt_client_receive(&client->gatt, t_ms, pdu, length);
    handle_events(client, t_ms);
}

void ftms_client_tick(struct ftms_client *client, uint64_t t_ms)
{
    gatt_client_tick(&client->gatt, t_ms);
    handle_events(client, t_ms);
    ftms_control_tick(client, t_ms);
    if (client->step < STEP_COUNT && client->step_repeat_at_ms != 0 &&
        t_ms >= client->step_repeat_at_ms)
        (void)start_step(client);
}

static bool is_command(uint8_t opcode)
{
    switch (opcode) {
    case FTMS_REQUEST_CONTROL:
    case FTMS_START_OR_RESUME:
    case FTMS_STOP_OR_PAUSE:
    case FTMS_SET_POWER:
    case FTMS_SET_RESISTANCE: return true;
    default: return false;
    }
}

enum result ftms_client_command(struct ftms_client *client, const struct ftms_command *command)
{
    if (client->failure != NULL)
        return RESULT_CLOSED;
    if (client->step < STEP_COUNT)
        return RESULT_BUSY;
    if (!client->machine.has_control_point)
        return RESULT_UNSUPPORTED;
    if (!is_command(command->opcode))
        return RESULT_INVALID;
    ftms_control_add(client, command);
    return RESULT_OK;
}

size_t ftms_client_next_pdu(struct ftms_client *client, uint8_t *ret)
{
    ftms_control_send(client);
    return gatt_client_next_pdu(&client->gatt, ret);
}
