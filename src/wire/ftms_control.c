#include "wire/ftms_control.h"

#include <string.h>

#define NOW_REPEAT_MS     250u
#define REFUSED_REPEAT_MS 300u

/* ---- queues: at most one command of each kind ---- */

/* Both targets are one kind: the newer load replaces the older, whatever it is counted in. */
static uint8_t kind_of(uint8_t opcode)
{
    return opcode == FTMS_SET_RESISTANCE ? (uint8_t)FTMS_SET_POWER : opcode;
}

static void queue_remove(struct ftms_queue *queue, size_t index)
{
    queue->count--;
    for (size_t i = index; i < queue->count; i++)
        queue->commands[i] = queue->commands[i + 1];
}

static void queue_drop(struct ftms_queue *queue, uint8_t kind)
{
    for (size_t i = 0; i < queue->count; i++)
        if (kind_of(queue->commands[i].opcode) == kind) {
            queue_remove(queue, i);
            return;
        }
}

static void queue_put(struct ftms_queue *queue, const struct ftms_command *command)
{
    queue_drop(queue, kind_of(command->opcode));
    queue->commands[queue->count] = *command;
    queue->count++;
}

/* ---- procedures ---- */

static struct ftms_procedure *last_of(struct ftms_control *control)
{
    return control->open_count == 0 ? NULL : &control->open[control->open_count - 1];
}

/* The machine has it, or is about to have it. */
static bool is_out(const struct ftms_procedure *procedure)
{
    return procedure->phase == FTMS_PHASE_WRITING || procedure->phase == FTMS_PHASE_AWAITING ||
           procedure->phase == FTMS_PHASE_GIVEN_UP;
}

static void give_up(struct ftms_procedure *procedure)
{
    procedure->phase = FTMS_PHASE_GIVEN_UP;
    procedure->expires_at_ms = 0;
}

static size_t count_live(const struct ftms_control *control)
{
    size_t count = 0;

    for (size_t i = 0; i < control->open_count; i++)
        count += control->open[i].phase != FTMS_PHASE_GIVEN_UP;
    return count;
}

/* Ends without a word to the user: nobody answered, so there is no answer to tell. */
static struct ftms_procedure forget(struct ftms_control *control, size_t index)
{
    const struct ftms_procedure procedure = control->open[index];
    control->open_count--;
    for (size_t i = index; i < control->open_count; i++)
        control->open[i] = control->open[i + 1];
    return procedure;
}

static void finish(struct ftms_client *client, size_t index, uint8_t result, uint8_t att_error)
{
    struct ftms_control *control = &client->control;
    const struct ftms_procedure procedure = forget(control, index);
    struct ftms_client_event event = {
        .kind = FTMS_CLIENT_ANSWER,
        .command = procedure.command,
        .result = result,
        .att_error = att_error,
    };
    /* The other width was no better, so it was not the width. */
    if (procedure.was_resized && result != FTMS_SUCCESS)
        control->resistance_octets = (uint8_t)(3 - control->resistance_octets);
    ftms_client_emit(client, &event);
}

/* What was refused and waits to be written again must not follow a command that overtakes it. */
static void give_way(struct ftms_control *control, uint8_t kind)
{
    const struct ftms_procedure *last = last_of(control);
    if (last == NULL || is_out(last))
        return;
    if (!last->command.now || kind_of(last->command.opcode) == kind)
        (void)forget(control, control->open_count - 1u);
}

static bool is_newest_load(const struct ftms_control *control, const struct ftms_command *command)
{
    return command->opcode == control->newest_load.opcode &&
           command->value == control->newest_load.value;
}

static void note_load(struct ftms_control *control, const struct ftms_command *command)
{
    if (kind_of(command->opcode) != FTMS_SET_POWER || is_newest_load(control, command))
        return;
    control->newest_load = *command;
    for (size_t i = 0; i < control->open_count; i++)
        control->open[i].is_outdated = true;
}

void ftms_control_add(struct ftms_client *client, const struct ftms_command *command)
{
    struct ftms_control *control = &client->control;
    note_load(control, command);
    if (!command->now) {
        queue_put(&control->waiting, command);
        return;
    }
    uint8_t kind = kind_of(command->opcode);
    queue_drop(&control->waiting, FTMS_SET_POWER);
    queue_drop(&control->waiting, kind);
    if (command->opcode == FTMS_STOP_OR_PAUSE)
        queue_drop(&control->waiting, FTMS_START_OR_RESUME);
    give_way(control, kind);
    queue_put(&control->urgent, command);
}

/* ---- out ---- */

static size_t encode(const struct ftms_control *control, const struct ftms_command *command,
                     uint8_t *ret)
{
    switch (command->opcode) {
    case FTMS_SET_POWER: return ftms_encode_power(command->value, ret);
    case FTMS_SET_RESISTANCE:
        return ftms_encode_resistance(command->value, control->resistance_octets, ret);
    case FTMS_STOP_OR_PAUSE: return ftms_encode_stop(command->value == FTMS_PAUSE, ret);
    default: return ftms_encode_plain(command->opcode, ret);
    }
}

size_t ftms_client_encode(const struct ftms_client *client, const struct ftms_command *command,
                          uint8_t *ret)
{
    const struct ftms_control *control = &client->control;
    uint8_t frame[FTMS_COMMAND_MAX];

    if (control->handle == 0)
        return 0;
    const size_t length = encode(control, command, frame);
    ret[0] = control->by_command ? ATT_WRITE_COMMAND : ATT_WRITE_REQUEST;
    ret[1] = (uint8_t)control->handle;
    ret[2] = (uint8_t)(control->handle >> 8);
    memcpy(ret + 3, frame, length);
    return 3 + length;
}

static bool hand_over(struct ftms_client *client, struct ftms_procedure *procedure)
{
    struct ftms_control *control = &client->control;
    uint8_t frame[FTMS_COMMAND_MAX];
    size_t length = encode(control, &procedure->command, frame);
    enum result result;
    if (control->by_command)
        result = gatt_client_write_command(&client->gatt, control->handle, frame, length);
    else if (procedure->command.now)
        result = gatt_client_write_first(&client->gatt, control->handle, frame, length);
    else
        result = gatt_client_write(&client->gatt, control->handle, frame, length);
    if (result != RESULT_OK)
        return false;
    control->is_writing = !control->by_command;
    procedure->is_answered = false;
    procedure->phase = control->by_command ? FTMS_PHASE_AWAITING : FTMS_PHASE_WRITING;
    return true;
}

static void begin(struct ftms_client *client, struct ftms_queue *queue)
{
    struct ftms_control *control = &client->control;
    struct ftms_procedure procedure = {.command = queue->commands[0]};
    if (control->open_count == FTMS_PROCEDURES_MAX)
        (void)forget(control, 0);
    if (!hand_over(client, &procedure))
        return;
    control->open[control->open_count++] = procedure;
    queue_remove(queue, 0);
}

void ftms_control_send(struct ftms_client *client)
{
    struct ftms_control *control = &client->control;
    struct ftms_procedure *last = last_of(control);
    /* Only one write at a time goes down, so that a later command can still overtake the rest. */
    if (control->is_writing)
        return;
    if (last != NULL && last->phase == FTMS_PHASE_QUEUED)
        (void)hand_over(client, last);
    else if (last != NULL && last->phase == FTMS_PHASE_PAUSING)
        return;
    else if (control->urgent.count > 0)
        begin(client, &control->urgent);
    else if (control->waiting.count > 0 && count_live(control) == 0)
        begin(client, &control->waiting);
}

/* ---- in ---- */

static bool fits(const struct ftms_command *command, unsigned octets)
{
    return octets == 2 || (command->value >= 0 && command->value <= UINT8_MAX);
}

/* The printed tables and the erratum disagree on the width of command 04, and so do machines. */
static bool tries_other_width(struct ftms_control *control, struct ftms_procedure *procedure)
{
    unsigned other = 3u - control->resistance_octets;
    if (procedure->command.opcode != FTMS_SET_RESISTANCE || procedure->was_resized ||
        control->width_is_known || !fits(&procedure->command, other))
        return false;
    control->resistance_octets = (uint8_t)other;
    procedure->was_resized = true;
    procedure->phase = FTMS_PHASE_QUEUED;
    return true;
}

static void pause_until(struct ftms_procedure *procedure, uint64_t repeat_at_ms, uint8_t att_error)
{
    procedure->phase = FTMS_PHASE_PAUSING;
    procedure->repeat_at_ms = repeat_at_ms;
    procedure->att_error = att_error;
}

/* Refused while a newer one of its kind waits to be written: a load must not go before a release.
 */
static bool gives_way(const struct ftms_control *control, const struct ftms_procedure *procedure,
                      uint8_t att_error)
{
    bool is_replaced = false;

    for (size_t i = 0; i < control->urgent.count; i++)
        is_replaced = is_replaced || kind_of(control->urgent.commands[i].opcode) ==
                                         kind_of(procedure->command.opcode);
    return is_replaced && procedure->command.now && att_error == ATT_PROCEDURE_IN_PROGRESS;
}

static bool tries_again(struct ftms_control *control, struct ftms_procedure *procedure,
                        uint64_t t_ms, uint8_t att_error)
{
    if (att_error == ATT_PROCEDURE_IN_PROGRESS && procedure->command.now) {
        pause_until(procedure, t_ms + NOW_REPEAT_MS, att_error);
        return true;
    }
    if (control->urgent.count > 0)
        return false;
    if (att_error == ATT_INVALID_VALUE_LENGTH)
        return tries_other_width(control, procedure);
    bool is_passing =
        att_error == ATT_APPLICATION_ERROR || att_error == ATT_CCCD_IMPROPERLY_CONFIGURED;
    if (!is_passing || procedure->was_repeated)
        return false;
    procedure->was_repeated = true;
    pause_until(procedure, t_ms + REFUSED_REPEAT_MS, att_error);
    return true;
}

/* The oldest one that is out with that opcode, or FTMS_PROCEDURES_MAX. A load that is to rise was
 * waited for with patience, and may have what was given up for lost. */
static size_t find_open(const struct ftms_control *control, uint8_t opcode)
{
    size_t oldest = FTMS_PROCEDURES_MAX;

    for (size_t i = control->open_count; i > 0; i--) {
        const struct ftms_procedure *procedure = &control->open[i - 1];
        if (!is_out(procedure) || procedure->command.opcode != opcode)
            continue;
        if (procedure->phase != FTMS_PHASE_GIVEN_UP || oldest == FTMS_PROCEDURES_MAX ||
            control->open[oldest].command.now)
            oldest = i - 1;
    }
    return oldest;
}

static void answered(struct ftms_client *client, size_t index, uint8_t result)
{
    struct ftms_control *control = &client->control;
    struct ftms_procedure *procedure = &control->open[index];
    bool is_last = index + 1u == control->open_count && control->urgent.count == 0;
    if (result == FTMS_INVALID_PARAMETER && is_last && tries_other_width(control, procedure))
        return;
    if (result == FTMS_SUCCESS && procedure->command.opcode == FTMS_SET_RESISTANCE)
        control->width_is_known = true;
    for (size_t i = 0; i < index; i++)
        if (control->open[i].phase != FTMS_PHASE_GIVEN_UP)
            give_up(&control->open[i]);
    finish(client, index, result, ATT_OK);
}

/* A load as the newest is, and another one between: told, it would pass for the newest. */
static bool is_of_earlier_equal(const struct ftms_control *control,
                                const struct ftms_procedure *procedure)
{
    return procedure->phase == FTMS_PHASE_GIVEN_UP && procedure->is_outdated &&
           is_newest_load(control, &procedure->command);
}

void ftms_control_indicated(struct ftms_client *client, const uint8_t *value, size_t length)
{
    struct ftms_control *control = &client->control;
    struct ftms_response response;
    /* A lone result octet does not say what it answers: taken only when that is plain. */
    const struct ftms_procedure *last = last_of(control);
    if (last == NULL || (length == 1 && count_live(control) != 1))
        return;
    if (ftms_decode_response(value, length, last->command.opcode, &response) != RESULT_OK)
        return;
    size_t index = find_open(control, response.request);
    if (index == FTMS_PROCEDURES_MAX)
        return;
    /* Some machines indicate before they respond. It may as well be a late answer to another: what
     * is refused by the response then was not done. */
    control->open[index].is_answered = control->open[index].phase == FTMS_PHASE_WRITING;
    if (control->open[index].is_answered)
        control->open[index].result = response.result;
    else if (is_of_earlier_equal(control, &control->open[index]))
        (void)forget(control, index);
    else if (control->open[index].phase == FTMS_PHASE_GIVEN_UP)
        finish(client, index, response.result, ATT_OK);
    else
        answered(client, index, response.result);
}

void ftms_control_written(struct ftms_client *client, uint64_t t_ms, uint8_t att_error)
{
    struct ftms_control *control = &client->control;
    struct ftms_procedure *last = last_of(control);
    control->is_writing = false;
    if (last == NULL || last->phase != FTMS_PHASE_WRITING)
        return;
    if (att_error == ATT_OK) {
        last->phase = FTMS_PHASE_AWAITING;
        last->expires_at_ms = t_ms + FTMS_ANSWER_MS;
        if (last->is_answered)
            answered(client, control->open_count - 1u, last->result);
    } else if (gives_way(control, last, att_error)) {
        (void)forget(control, control->open_count - 1u);
    } else if (!tries_again(control, last, t_ms, att_error)) {
        finish(client, control->open_count - 1u, FTMS_OPERATION_FAILED, att_error);
    }
}

/* An indication that was lost must not keep the queue shut for the rest of the ride. True when one
 * that nobody waits for will not come any more either. */
static bool has_run_out(struct ftms_procedure *procedure, uint64_t t_ms)
{
    const bool is_given_up = procedure->phase == FTMS_PHASE_GIVEN_UP;
    if (!is_given_up && procedure->phase != FTMS_PHASE_AWAITING)
        return false;
    if (procedure->expires_at_ms == 0)
        procedure->expires_at_ms = t_ms + (is_given_up ? FTMS_GIVEN_UP_MS : FTMS_ANSWER_MS);
    else if (t_ms >= procedure->expires_at_ms && is_given_up)
        return true;
    else if (t_ms >= procedure->expires_at_ms)
        give_up(procedure);
    return false;
}

static void expire(struct ftms_control *control, uint64_t t_ms)
{
    for (size_t i = 0; i < control->open_count;)
        if (has_run_out(&control->open[i], t_ms))
            (void)forget(control, i);
        else
            i++;
}

void ftms_control_tick(struct ftms_client *client, uint64_t t_ms)
{
    struct ftms_procedure *last = last_of(&client->control);
    if (last != NULL && last->phase == FTMS_PHASE_PAUSING && t_ms >= last->repeat_at_ms)
        last->phase = FTMS_PHASE_QUEUED;
    expire(&client->control, t_ms);
}
