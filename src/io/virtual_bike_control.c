/* The control point and the console of the virtual bike: Fitness Machine Service 1.0.1, 4.16, 4.17.
 * Status goes to the client that caused it too, which the service leaves open and machines do. */
#include "base/bytes.h"
#include "virtual_bike_parts.h"

static void release(struct virtual_bike *bike)
{
    bike->machine.load = VIRTUAL_LOAD_RELEASED;
    bike->machine.load_value = 0;
}

void virtual_control_forget(struct virtual_bike *bike)
{
    bool key_out = bike->control.key_out;
    bike->control = (struct virtual_control){.key_out = key_out};
    bike->elapsed_ms = 0;
    release(bike);
}

static void set_status(struct virtual_bike *bike, uint8_t opcode)
{
    bike->control.status[0] = opcode;
    bike->control.status_length = 1;
}

static void set_status_u8(struct virtual_bike *bike, uint8_t opcode, uint8_t parameter)
{
    set_status(bike, opcode);
    bike->control.status[1] = parameter;
    bike->control.status_length = 2;
}

static void set_status_s16(struct virtual_bike *bike, uint8_t opcode, int16_t parameter)
{
    struct bytes_writer writer = bytes_writer(bike->control.status, sizeof(bike->control.status));
    bytes_put_u8(&writer, opcode);
    bytes_put_s16(&writer, parameter);
    bike->control.status_length = writer.length;
}

static void tell_status(struct virtual_bike *bike)
{
    if (bike->control.status_length > 0)
        virtual_notify(bike, bike->table.machine_status, bike->control.status,
                       bike->control.status_length);
    bike->control.status_length = 0;
}

static enum ftms_result reset(struct virtual_bike *bike)
{
    bike->control.granted = false;
    bike->control.started = false;
    bike->elapsed_ms = 0;
    release(bike);
    set_status(bike, FTMS_STATUS_RESET);
    return FTMS_SUCCESS;
}

static enum ftms_result start(struct virtual_bike *bike)
{
    if (bike->control.started || bike->control.key_out || bike->machine.config.refuses_start)
        return FTMS_OPERATION_FAILED;
    bike->control.started = true;
    set_status(bike, FTMS_STATUS_STARTED_BY_USER);
    return FTMS_SUCCESS;
}

static enum ftms_result stop(struct virtual_bike *bike, struct bytes_reader *parameter)
{
    uint8_t how = bytes_u8(parameter); /* 1 stop, 2 pause */
    if (parameter->failed || how < 1 || how > 2)
        return FTMS_INVALID_PARAMETER;
    if (!bike->control.started)
        return FTMS_OPERATION_FAILED;
    bike->control.started = false;
    release(bike);
    set_status_u8(bike, FTMS_STATUS_STOPPED_BY_USER, how);
    return FTMS_SUCCESS;
}

static enum ftms_result set_load(struct virtual_bike *bike, enum virtual_load load, int16_t value)
{
    bool is_power = load == VIRTUAL_LOAD_POWER;
    const struct virtual_machine_config *config = &bike->machine.config;
    const struct ftms_range *range = is_power ? &config->power_w : &config->level_tenths;
    if (value < range->minimum || value > range->maximum)
        return FTMS_INVALID_PARAMETER;
    if (bike->control.key_out || (bike->machine.config.needs_start && !bike->control.started))
        return FTMS_OPERATION_FAILED;
    if (bike->machine.config.ignores_loads)
        return FTMS_SUCCESS;
    bike->machine.load = load;
    bike->machine.load_value = value;
    set_status_s16(bike, is_power ? FTMS_STATUS_POWER_CHANGED : FTMS_STATUS_RESISTANCE_CHANGED,
                   value);
    return FTMS_SUCCESS;
}

static enum ftms_result set_power(struct virtual_bike *bike, struct bytes_reader *parameter)
{
    if (!bike->machine.config.takes_power)
        return FTMS_NOT_SUPPORTED;
    int16_t power_w = bytes_s16(parameter);
    return parameter->failed ? FTMS_INVALID_PARAMETER : set_load(bike, VIRTUAL_LOAD_POWER, power_w);
}

/* Only the width that the machine's own range has. */
static enum ftms_result set_level(struct virtual_bike *bike, struct bytes_reader *parameter)
{
    if (!bike->machine.config.takes_level)
        return FTMS_NOT_SUPPORTED;
    if (bytes_left(parameter) != bike->machine.config.level_octets)
        return FTMS_INVALID_PARAMETER;
    if (bytes_left(parameter) == 1)
        return set_load(bike, VIRTUAL_LOAD_LEVEL, bytes_u8(parameter));
    return set_load(bike, VIRTUAL_LOAD_LEVEL, bytes_s16(parameter));
}

static enum ftms_result perform(struct virtual_bike *bike, uint8_t opcode,
                                struct bytes_reader *parameter)
{
    if (opcode == FTMS_REQUEST_CONTROL) {
        bike->control.granted = true;
        return FTMS_SUCCESS;
    }
    if (!bike->control.granted)
        return FTMS_CONTROL_NOT_PERMITTED;
    if (bike->machine.config.refuses_commands)
        return FTMS_OPERATION_FAILED;
    switch (opcode) {
    case FTMS_RESET: return reset(bike);
    case FTMS_START_OR_RESUME: return start(bike);
    case FTMS_STOP_OR_PAUSE: return stop(bike, parameter);
    case FTMS_SET_POWER: return set_power(bike, parameter);
    case FTMS_SET_RESISTANCE: return set_level(bike, parameter);
    default: return FTMS_NOT_SUPPORTED;
    }
}

static void indicate(struct virtual_bike *bike, uint8_t request)
{
    struct virtual_control *control = &bike->control;
    const uint8_t result = (uint8_t)control->result;
    uint8_t octets[FTMS_COMMAND_MAX] = {result};
    const size_t length =
        bike->machine.config.short_answers ? 1 : ftms_encode_response(request, result, octets);
    control->unconfirmed =
        gatt_server_indicate(&bike->server, bike->table.control_point, octets, length) == RESULT_OK;
}

static void answer(struct virtual_bike *bike)
{
    bike->control.answering = false;
    indicate(bike, bike->control.request);
    tell_status(bike);
}

/* Once more, for a command that was answered long ago. */
void virtual_control_confirmed(struct virtual_bike *bike)
{
    bike->control.unconfirmed = false;
    if (bike->machine.config.double_answers && !bike->control.is_repeating)
        indicate(bike, bike->control.request_before);
    bike->control.is_repeating = bike->control.unconfirmed;
}

static void show_training(struct virtual_bike *bike)
{
    enum virtual_training status = VIRTUAL_IDLE;
    if (bike->control.started)
        status = bike->machine.load == VIRTUAL_LOAD_POWER ? VIRTUAL_WATT_CONTROL : VIRTUAL_MANUAL;
    if (bike->table.training == NULL || bike->table.training[1] == status)
        return;
    bike->table.training[1] = (uint8_t)status;
    virtual_notify(bike, bike->table.training_status, bike->table.training, 2);
}

static void answer_due(struct virtual_bike *bike)
{
    if (bike->control.answering && bike->now_ms >= bike->control.answer_at_ms)
        answer(bike);
    show_training(bike);
}

static enum att_error refusal(const struct virtual_bike *bike,
                              const struct gatt_server_event *event)
{
    const uint32_t moody_every = bike->machine.config.moody_every;
    if (moody_every > 0 && bike->control.writes % moody_every == 0)
        return ATT_APPLICATION_ERROR;
    if (event->length == 0)
        return ATT_INVALID_VALUE_LENGTH;
    if (!gatt_server_is_subscribed(&bike->server, bike->table.control_point))
        return ATT_CCCD_IMPROPERLY_CONFIGURED;
    if (bike->control.answering || bike->control.unconfirmed)
        return ATT_PROCEDURE_IN_PROGRESS;
    return ATT_OK;
}

void virtual_control_written(struct virtual_bike *bike, const struct gatt_server_event *event)
{
    struct virtual_control *control = &bike->control;
    control->writes++;
    enum att_error error = refusal(bike, event);
    struct bytes_reader reader = bytes_reader(event->value, event->length);
    uint8_t opcode = bytes_u8(&reader);
    if (error == ATT_OK && !bike->machine.config.never_answers) {
        control->request_before = control->request;
        control->request = opcode;
        control->result = perform(bike, opcode, &reader);
        control->answering = true;
        control->answer_at_ms = bike->now_ms + bike->machine.config.answer_delay_ms;
    }
    if (!event->is_command)
        gatt_server_answer_write(&bike->server, error);
    answer_due(bike);
}

/* True in the one step of the ride that reaches at_ms. */
static bool happens_now(const struct virtual_bike *bike, uint32_t at_ms)
{
    uint32_t ride_ms = virtual_ride_ms(bike);
    return at_ms > 0 && ride_ms >= at_ms && ride_ms - at_ms < VIRTUAL_STEP_MS;
}

static void pull_key(struct virtual_bike *bike)
{
    bike->control.key_out = true;
    bike->control.started = false;
    release(bike);
    set_status(bike, FTMS_STATUS_SAFETY_KEY);
    tell_status(bike);
}

static void press_stop(struct virtual_bike *bike)
{
    bike->control.started = false;
    release(bike);
    set_status_u8(bike, FTMS_STATUS_STOPPED_BY_USER, 1);
    tell_status(bike);
}

/* Puts the key back too. */
static void press_start(struct virtual_bike *bike)
{
    bike->control.key_out = false;
    bike->control.started = true;
    set_status(bike, FTMS_STATUS_STARTED_BY_USER);
    tell_status(bike);
}

/* The brake goes on as it was told: no specification says otherwise. */
static void lose_control(struct virtual_bike *bike)
{
    bike->control.granted = false;
    set_status(bike, FTMS_STATUS_CONTROL_LOST);
    tell_status(bike);
}

void virtual_control_step(struct virtual_bike *bike)
{
    const struct virtual_machine_config *config = &bike->machine.config;
    if (happens_now(bike, config->safety_key_at_ms))
        pull_key(bike);
    if (happens_now(bike, config->stopped_at_ms))
        press_stop(bike);
    if (happens_now(bike, config->started_at_ms))
        press_start(bike);
    if (happens_now(bike, config->control_lost_at_ms))
        lose_control(bike);
    answer_due(bike);
}

static uint64_t sooner(const struct virtual_bike *bike, uint32_t at_ms, uint64_t than_ms)
{
    uint64_t t_ms = bike->began_ms + at_ms;
    return at_ms > virtual_ride_ms(bike) && t_ms < than_ms ? t_ms : than_ms;
}

uint64_t virtual_control_next_ms(const struct virtual_bike *bike)
{
    const struct virtual_machine_config *config = &bike->machine.config;
    uint64_t next_ms = bike->control.answering ? bike->control.answer_at_ms : VIRTUAL_BIKE_NEVER;
    next_ms = sooner(bike, config->safety_key_at_ms, next_ms);
    next_ms = sooner(bike, config->stopped_at_ms, next_ms);
    next_ms = sooner(bike, config->started_at_ms, next_ms);
    return sooner(bike, config->control_lost_at_ms, next_ms);
}
