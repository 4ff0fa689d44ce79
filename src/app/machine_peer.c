#include "machine_peer.h"

/* A machine that has answered before and falls silent under a request is as good as gone: behind
 * that request a release may wait. As long as the radio itself may be silent (io/link_timing). The
 * first time there is less haste. A machine should let go by itself when the link ends (common
 * practice; its manual knows), and the link is called again. */
#define PATIENCE_MS       4000u
#define FIRST_PATIENCE_MS 6000u

/* ---- letting go as bare octets ---- */

static struct ftms_command release_of(const struct machine_peer *peer);

static void encode(const struct machine_peer *peer, const struct ftms_command *command,
                   struct letting_go_pdu *ret)
{
    ret->length = (uint8_t)ftms_client_encode(&peer->client, command, ret->octets);
}

static struct letting_go letting_go_of(const struct machine_peer *peer)
{
    const struct ftms_command release = release_of(peer);
    const struct ftms_command stop = {.opcode = FTMS_STOP_OR_PAUSE, .value = FTMS_STOP};
    struct letting_go pdus = {0};

    encode(peer, &release, &pdus.release);
    encode(peer, &stop, &pdus.stop);
    return pdus;
}

/* Before a command goes out, and again when the machine's answers change how it is written. */
static void tell_guard(const struct machine_peer *peer)
{
    if (peer->guarded == NULL || !peer->is_asked)
        return;
    struct letting_go pdus = letting_go_of(peer);
    const int fd = link_descriptor(peer->link, &pdus.way);
    guarded_hold(peer->guarded, fd, &pdus);
}

static bool is_taken(const struct machine_peer *peer)
{
    return peer->guarded != NULL && guarded_is_taken(peer->guarded);
}

/* On a link that is given up, past whatever is still open on it, as app/letting_go.c does: a
 * machine that hears it lets go, and one that is gone is none the worse. */
static void release_unheard(const struct machine_peer *peer)
{
    if (!peer->is_open || !peer->is_asked || is_taken(peer))
        return;
    const struct letting_go pdus = letting_go_of(peer);
    if (pdus.release.length == 0)
        return;
    (void)!link_send(peer->link, pdus.release.octets, pdus.release.length);
    (void)!link_send(peer->link, pdus.stop.octets, pdus.stop.length);
}

/* ---- decoded → events ---- */

static void tell(struct machine_peer *peer, const struct event *event)
{
    peer->on_event(peer->user, event);
}

void machine_peer_fail(struct machine_peer *peer, const char *why)
{
    const struct event down = {.kind = EVENT_LINK, .link = {LINK_MACHINE, false}};

    if (peer->failure == NULL)
        peer->failure = why;
    if (peer->is_open)
        peer->is_ready = false;
    release_unheard(peer);
    machine_peer_close(peer);
    tell(peer, &down);
}

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

static void on_ready(struct machine_peer *peer, const struct ftms_machine *machine)
{
    struct event event = {.kind = EVENT_MACHINE};

    peer->power_w = believed(machine->has_power_range, &machine->power_w, LEAST_POWER_MAX_W);
    peer->level_tenths =
        believed(machine->has_level_range, &machine->level_tenths, LEAST_LEVEL_MAX_TENTHS);
    peer->machine = (struct machine){
        .takes_power = machine->takes_power,
        .takes_level = machine->takes_level,
        .power_min_w = peer->power_w.minimum,
        .power_max_w = peer->power_w.maximum,
        .level_min_tenths = peer->level_tenths.minimum,
        .level_max_tenths = peer->level_tenths.maximum,
        .level_step_tenths = peer->level_tenths.increment,
    };
    peer->was_ready = peer->is_ready = true;
    peer->known = peer->client.gatt.known;
    gatt_client_set_patience(&peer->client.gatt, PATIENCE_MS);
    event.machine = peer->machine;
    peer->failure = NULL; /* it is back, if it was lost */
    tell(peer, &event);
}

static void on_data(struct machine_peer *peer, const struct ftms_bike_data *data)
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
    if (telemetry->has != 0)
        tell(peer, &event);
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

static void on_answer(struct machine_peer *peer, const struct ftms_client_event *answered)
{
    struct event event = {.kind = EVENT_ANSWER};

    event.answer.command = command_of(answered->command.opcode);
    event.answer.answer = answer_of(answered);
    if (event.answer.command == COMMAND_LOAD) {
        /* Several loads become the same number (below the machine's least): the last one counts. */
        const enum load_kind kind =
            answered->command.opcode == FTMS_SET_POWER ? LOAD_POWER : LOAD_LEVEL;
        event.answer.load = answered->command.opcode == peer->last_opcode &&
                                    answered->command.value == peer->last_value
                                ? peer->last_load
                                : (struct load){kind, answered->command.value};
    }
    tell(peer, &event);
}

static void on_status(struct machine_peer *peer, const struct ftms_status *status)
{
    struct event event = {.kind = EVENT_STATUS};

    switch (status->opcode) {
    case FTMS_STATUS_RESET: event.status.status = STATUS_RESET; break;
    case FTMS_STATUS_STOPPED_BY_USER:
        event.status.status =
            status->has_parameter && status->parameter == 2 ? STATUS_PAUSED : STATUS_STOPPED;
        break;
    case FTMS_STATUS_SAFETY_KEY: event.status.status = STATUS_SAFETY_KEY; break;
    case FTMS_STATUS_STARTED_BY_USER: event.status.status = STATUS_STARTED; break;
    case FTMS_STATUS_CONTROL_LOST: event.status.status = STATUS_CONTROL_LOST; break;
    default: return;
    }
    tell(peer, &event);
}

static void fail_or_call_anew(struct machine_peer *peer, const char *why, bool may_pass)
{
    if (!may_pass || peer->was_ready || peer->call_anew == NULL) {
        machine_peer_fail(peer, why);
        return;
    }
    peer->failure = why;
    machine_peer_close(peer);
    peer->call_anew(peer->call_user);
}

/* One silence may be of the radio; at the same question twice it is the machine's own. */
static void on_failed(struct machine_peer *peer, const struct ftms_client_event *event)
{
    const unsigned stuck = ftms_client_stuck_step(&peer->client);

    peer->skipped_steps |= stuck & peer->stuck_step;
    peer->stuck_step = stuck;
    fail_or_call_anew(peer, event->reason, event->may_pass);
}

static void on_client_event(struct machine_peer *peer, const struct ftms_client_event *event)
{
    switch (event->kind) {
    case FTMS_CLIENT_READY: on_ready(peer, &event->machine); return;
    case FTMS_CLIENT_DATA: on_data(peer, &event->data); return;
    case FTMS_CLIENT_ANSWER: on_answer(peer, event); return;
    case FTMS_CLIENT_STATUS: on_status(peer, &event->status); return;
    case FTMS_CLIENT_FAILED: on_failed(peer, event); return;
    case FTMS_CLIENT_RECORD:
    case FTMS_CLIENT_TRAINING: return;
    }
}

/* ---- bytes ---- */

/* That the peer is gone is for the link to tell, which knows why; that the guard has taken it, for
 * the guard. */
static void send_pdu(struct machine_peer *peer, const uint8_t *pdu, size_t length)
{
    if (is_taken(peer))
        return;
    if (peer->is_open && link_send(peer->link, pdu, length) == RESULT_FULL)
        machine_peer_fail(peer, "it does not take what is sent to it");
}

static void pump(struct machine_peer *peer)
{
    uint8_t pdu[ATT_MTU_MAX];
    struct ftms_client_event event;

    for (size_t length; (length = ftms_client_next_pdu(&peer->client, pdu)) > 0;)
        send_pdu(peer, pdu, length);
    while (peer->is_open && ftms_client_next_event(&peer->client, &event))
        on_client_event(peer, &event);
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    struct machine_peer *peer = user;

    /* After a sleep: what the machine said to the guard is none of ours. */
    if (peer->guarded != NULL)
        guarded_look(peer->guarded);
    if (!peer->is_open)
        return;
    ftms_client_receive(&peer->client, loop_now_ms(peer->loop), pdu, length);
    pump(peer);
}

static void on_opened(void *user)
{
    struct machine_peer *peer = user;
    const struct event up = {.kind = EVENT_LINK, .link = {LINK_MACHINE, true}};

    peer->is_open = true;
    peer->is_ready = false;
    tell(peer, &up);
    ftms_client_start(&peer->client, loop_now_ms(peer->loop));
    ftms_client_skip_steps(&peer->client, peer->skipped_steps);
    gatt_client_remember(&peer->client.gatt, &peer->known);
    gatt_client_set_patience(&peer->client.gatt, peer->was_ready ? PATIENCE_MS : FIRST_PATIENCE_MS);
    pump(peer);
}

/* A radio may lose a link in its first second; a socket that closes is closed on purpose. */
static void on_closed(void *user, const char *why)
{
    struct machine_peer *peer = user;
    const bool was_open = peer->is_open;

    peer->is_open = false;
    fail_or_call_anew(peer, why, was_open && peer->is_on_air);
}

struct link_user machine_peer_user(struct machine_peer *peer)
{
    return (struct link_user){on_opened, on_received, on_closed, peer};
}

void machine_peer_tick(struct machine_peer *peer)
{
    if (!peer->is_open)
        return;
    if (link_is_securing(peer->link))
        gatt_client_wait_anew(&peer->client.gatt);
    ftms_client_tick(&peer->client, loop_now_ms(peer->loop));
    pump(peer);
    tell_guard(peer);
}

void machine_peer_close(struct machine_peer *peer)
{
    if (peer->guarded != NULL)
        guarded_let_go(peer->guarded);
    link_close(peer->link);
    peer->link = NULL;
    peer->is_open = peer->is_asked = false;
}

/* ---- commands ---- */

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

static struct ftms_command command_for(const struct machine_peer *peer, struct load load)
{
    const bool by_level =
        load.kind == LOAD_LEVEL || (load.kind == LOAD_RELEASED && !peer->machine.takes_power);
    const int32_t wanted = load.kind == LOAD_RELEASED ? 0 : load.value;
    const struct ftms_range *range = by_level ? &peer->level_tenths : &peer->power_w;

    return (struct ftms_command){.opcode = by_level ? FTMS_SET_RESISTANCE : FTMS_SET_POWER,
                                 .value = (int16_t)on_grid(wanted, range)};
}

static struct ftms_command release_of(const struct machine_peer *peer)
{
    return command_for(peer, (struct load){.kind = LOAD_RELEASED});
}

static struct ftms_command load_command(struct machine_peer *peer, struct load load, bool now)
{
    struct ftms_command command = command_for(peer, load);

    command.now = now;
    peer->last_load = load;
    peer->last_opcode = command.opcode;
    peer->last_value = command.value;
    return command;
}

void machine_peer_command(struct machine_peer *peer, enum machine_command command, struct load load,
                          bool now)
{
    struct ftms_command sent = {.now = now};

    switch (command) {
    case COMMAND_REQUEST_CONTROL: sent.opcode = FTMS_REQUEST_CONTROL; break;
    case COMMAND_START: sent.opcode = FTMS_START_OR_RESUME; break;
    case COMMAND_STOP:
        sent.opcode = FTMS_STOP_OR_PAUSE;
        sent.value = 1;
        break;
    case COMMAND_LOAD: sent = load_command(peer, load, now); break;
    case COMMAND_NONE: return;
    }
    if (!peer->is_open)
        return;
    peer->is_asked = true;
    tell_guard(peer);
    /* A command that cannot be queued stays unanswered, which the ride notices. */
    (void)!ftms_client_command(&peer->client, &sent);
    pump(peer);
}
