#include "machine_ftms.h"

/* A machine that has answered before and falls silent under a request is as good as gone: behind
 * that request a release may wait. As long as the radio itself may be silent (io/link_timing). The
 * first time there is less haste. A machine should let go by itself when the link ends (common
 * practice; its manual knows), and the link is called again. */
#define PATIENCE_MS       4000u
#define FIRST_PATIENCE_MS 6000u

/* ---- loads ---- */

/* The nearest number that the machine knows and that asks no more than `value` does. Safety lets
 * nothing through between a release and the machine's least, which is what a release becomes. */
static int32_t on_grid(int32_t value, const struct ftms_range *range)
{
    if (range->increment <= 0)
        return value > 0 ? value : 0;
    if (value < range->minimum)
        return range->minimum;
    if (value > range->maximum)
        value = range->maximum;
    return range->minimum + (value - range->minimum) / range->increment * range->increment;
}

static struct ftms_command command_for(const struct machine_ftms *machine, struct load load)
{
    const bool by_level =
        load.kind == LOAD_LEVEL || (load.kind == LOAD_RELEASED && !machine->takes_power);
    const int32_t wanted = load.kind == LOAD_RELEASED ? 0 : load.value;
    const struct ftms_range *range = by_level ? &machine->level_tenths : &machine->power_w;

    return (struct ftms_command){.opcode = by_level ? FTMS_SET_RESISTANCE : FTMS_SET_POWER,
                                 .value = (int16_t)on_grid(wanted, range)};
}

static struct ftms_command load_command(struct machine_ftms *machine, struct load load)
{
    const struct ftms_command command = command_for(machine, load);

    machine->last_load = load;
    machine->last_opcode = command.opcode;
    machine->last_value = command.value;
    return command;
}

static void command_machine(void *state, uint64_t t_ms, enum machine_command command,
                            struct load load, bool now)
{
    struct machine_ftms *machine = state;
    struct ftms_command sent = {0};

    (void)t_ms;
    switch (command) {
    case COMMAND_REQUEST_CONTROL: sent.opcode = FTMS_REQUEST_CONTROL; break;
    case COMMAND_START: sent.opcode = FTMS_START_OR_RESUME; break;
    case COMMAND_STOP:
        sent.opcode = FTMS_STOP_OR_PAUSE;
        sent.value = FTMS_STOP;
        break;
    case COMMAND_LOAD: sent = load_command(machine, load); break;
    case COMMAND_NONE: return;
    }
    sent.now = now;
    (void)!ftms_client_command(&machine->client, &sent);
}

static void encode(const struct machine_ftms *machine, const struct ftms_command *command,
                   struct letting_go_pdu *ret)
{
    ret->length = (uint8_t)ftms_client_encode(&machine->client, command, ret->octets);
}

static struct letting_go letting_go_of(const void *state)
{
    const struct machine_ftms *machine = state;
    const struct ftms_command release = command_for(machine, (struct load){.kind = LOAD_RELEASED});
    const struct ftms_command stop = {.opcode = FTMS_STOP_OR_PAUSE, .value = FTMS_STOP};
    struct letting_go pdus = {0};

    encode(machine, &release, &pdus.release);
    encode(machine, &stop, &pdus.stop);
    return pdus;
}

/* ---- decoded → events ---- */

/* A range that begins this high cannot be meant: octets swapped, or other units. With it a release
 * would be a load. */
#define LEAST_POWER_MAX_W      50
#define LEAST_LEVEL_MAX_TENTHS 50

static struct ftms_range believed(bool has_range, const struct ftms_range *range, int32_t least_max)
{
    if (!has_range || range->minimum > least_max || range->minimum < 0)
        return (struct ftms_range){0};
    return *range;
}

static struct event on_ready(struct machine_ftms *machine, const struct ftms_machine *is)
{
    const struct ftms_range power_w =
        believed(is->has_power_range, &is->power_w, LEAST_POWER_MAX_W);
    const struct ftms_range level_tenths =
        believed(is->has_level_range, &is->level_tenths, LEAST_LEVEL_MAX_TENTHS);

    machine->takes_power = is->takes_power;
    machine->power_w = power_w;
    machine->level_tenths = level_tenths;
    machine->known = machine->client.gatt.known;
    gatt_client_set_patience(&machine->client.gatt, PATIENCE_MS);
    return (struct event){.kind = EVENT_MACHINE,
                          .machine = {
                              .takes_power = is->takes_power,
                              .takes_level = is->takes_level,
                              .power_min_w = power_w.minimum,
                              .power_max_w = power_w.maximum,
                              .level_min_tenths = level_tenths.minimum,
                              .level_max_tenths = level_tenths.maximum,
                              .level_step_tenths = level_tenths.increment,
                          }};
}

static struct event on_data(const struct ftms_bike_data *data)
{
    struct event event = {.kind = EVENT_TELEMETRY};
    struct telemetry *telemetry = &event.telemetry;

    if (data->has & FTMS_BIKE_POWER) {
        telemetry->has |= HAS_POWER;
        telemetry->power_w = data->power_w;
    }
    if (data->has & FTMS_BIKE_CADENCE) {
        telemetry->has |= HAS_CADENCE;
        telemetry->cadence_rpm = (data->cadence_half_rpm + 1) / 2;
    }
    if (data->has & FTMS_BIKE_DISTANCE) {
        telemetry->has |= HAS_DISTANCE;
        telemetry->distance_m = (int32_t)data->distance_m;
    }
    if ((data->has & FTMS_BIKE_HEART_RATE) && data->heart_bpm > 0) {
        telemetry->has |= HAS_HEART;
        telemetry->heart_bpm = data->heart_bpm;
    }
    return event;
}

static enum machine_command command_of(uint8_t opcode)
{
    switch (opcode) {
    case FTMS_REQUEST_CONTROL: return COMMAND_REQUEST_CONTROL;
    case FTMS_START_OR_RESUME: return COMMAND_START;
    case FTMS_STOP_OR_PAUSE: return COMMAND_STOP;
    case FTMS_SET_POWER:
    case FTMS_SET_RESISTANCE: return COMMAND_LOAD;
    default: return COMMAND_NONE;
    }
}

static enum answer answer_of(const struct ftms_client_event *event)
{
    if (event->att_error != 0)
        return ANSWER_ERROR;
    switch (event->result) {
    case FTMS_SUCCESS: return ANSWER_ACCEPTED;
    case FTMS_OPERATION_FAILED: return ANSWER_ALREADY;
    case FTMS_CONTROL_NOT_PERMITTED: return ANSWER_NOT_PERMITTED;
    default: return ANSWER_REFUSED;
    }
}

static struct event on_answer(const struct machine_ftms *machine,
                              const struct ftms_client_event *answered)
{
    struct event event = {.kind = EVENT_ANSWER};

    event.answer.command = command_of(answered->command.opcode);
    event.answer.answer = answer_of(answered);
    if (event.answer.command == COMMAND_LOAD) {
        /* Several loads become the same number (below the machine's least): the last one counts. */
        const enum load_kind kind =
            answered->command.opcode == FTMS_SET_POWER ? LOAD_POWER : LOAD_LEVEL;
        event.answer.load = answered->command.opcode == machine->last_opcode &&
                                    answered->command.value == machine->last_value
                                ? machine->last_load
                                : (struct load){kind, answered->command.value};
    }
    return event;
}

static enum machine_status status_of(const struct ftms_status *status)
{
    switch (status->opcode) {
    case FTMS_STATUS_RESET: return STATUS_RESET;
    case FTMS_STATUS_STOPPED_BY_USER:
        return status->has_parameter && status->parameter == 2 ? STATUS_PAUSED : STATUS_STOPPED;
    case FTMS_STATUS_SAFETY_KEY: return STATUS_SAFETY_KEY;
    case FTMS_STATUS_STARTED_BY_USER: return STATUS_STARTED;
    case FTMS_STATUS_CONTROL_LOST: return STATUS_CONTROL_LOST;
    default: return STATUS_NONE;
    }
}

/* One silence may be of the radio; at the same question twice it is the machine's own. */
static void on_failed(struct machine_ftms *machine)
{
    const unsigned stuck = ftms_client_stuck_step(&machine->client);

    machine->skipped_steps |= stuck & machine->stuck_step;
    machine->stuck_step = stuck;
}

/* False: nothing that concerns a ride. */
static bool make_news(struct machine_ftms *machine, const struct ftms_client_event *event,
                      struct machine_news *ret)
{
    *ret = (struct machine_news){0};
    switch (event->kind) {
    case FTMS_CLIENT_READY: ret->event = on_ready(machine, &event->machine); return true;
    case FTMS_CLIENT_DATA: ret->event = on_data(&event->data); return ret->event.telemetry.has != 0;
    case FTMS_CLIENT_ANSWER: ret->event = on_answer(machine, event); return true;
    case FTMS_CLIENT_STATUS:
        ret->event.kind = EVENT_STATUS;
        ret->event.status.status = status_of(&event->status);
        return ret->event.status.status != STATUS_NONE;
    case FTMS_CLIENT_FAILED:
        on_failed(machine);
        ret->failure = event->reason;
        ret->may_pass = event->may_pass;
        return true;
    case FTMS_CLIENT_RECORD:
    case FTMS_CLIENT_TRAINING: return false;
    }
    return false;
}

static bool next_news(void *state, struct machine_news *ret)
{
    struct machine_ftms *machine = state;
    struct ftms_client_event event;

    while (ftms_client_next_event(&machine->client, &event))
        if (make_news(machine, &event, ret))
            return true;
    return false;
}

/* ---- the link ---- */

static void start(void *state, uint64_t t_ms, bool was_ready)
{
    struct machine_ftms *machine = state;
    struct gatt_client *gatt = &machine->client.gatt;

    ftms_client_start(&machine->client, t_ms);
    ftms_client_skip_steps(&machine->client, machine->skipped_steps);
    gatt_client_remember(gatt, &machine->known);
    gatt_client_set_patience(gatt, was_ready ? PATIENCE_MS : FIRST_PATIENCE_MS);
}

static void receive(void *state, uint64_t t_ms, const uint8_t *packet, size_t length)
{
    struct machine_ftms *machine = state;
    ftms_client_receive(&machine->client, t_ms, packet, length);
}

static void tick(void *state, uint64_t t_ms, bool is_securing)
{
    struct machine_ftms *machine = state;

    if (is_securing)
        gatt_client_wait_anew(&machine->client.gatt);
    ftms_client_tick(&machine->client, t_ms);
}

static size_t next_packet(void *state, uint8_t *ret)
{
    struct machine_ftms *machine = state;
    return ftms_client_next_pdu(&machine->client, ret);
}

const struct machine_protocol machine_ftms = {
    .start = start,
    .receive = receive,
    .tick = tick,
    .command = command_machine,
    .next_packet = next_packet,
    .next_news = next_news,
    .letting_go = letting_go_of,
};
