/* A client of a machine in any state that it can be in, and one call; that it is in such a state
 * again. It begins in one: so no row of calls leaves them.
 * In place of: src/wire/gatt_client_receive.c
 * Eva: -eva-precision 1 -eva-plevel 300 -eva-split-return full
 * Eva: -eva-use-spec gatt_client_next_pdu */
#include "any_gatt_talk.h"
#include "wire/ftms_client.h"

/* Of the setup. One more, or one less, is an alarm. */
enum { STEPS = 7 };

static struct ftms_client client;
static uint8_t heard[ATT_PDU_BUFFER];

static int16_t any_i16(void)
{
    return (int16_t)any_int(INT16_MIN, INT16_MAX);
}

static struct ftms_range any_range(void)
{
    return (struct ftms_range){any_int(INT16_MIN, UINT16_MAX), any_int(INT16_MIN, UINT16_MAX),
                               any_int(1, UINT16_MAX)};
}

static struct ftms_machine any_machine(void)
{
    return (struct ftms_machine){any_bool(), any_bool(),  any_bool(),  any_bool(),
                                 any_bool(), any_range(), any_range(), {any_u32(), any_u32()}};
}

static struct ftms_bike_data any_data(void)
{
    struct ftms_bike_data data;

    MAKE_UNKNOWN(data);
    data.more_data = any_bool();
    data.is_short = any_bool();
    return data;
}

static struct ftms_command any_command(void)
{
    return (struct ftms_command){any_u8(), any_i16(), any_bool()};
}

static struct ftms_client_event any_event(void)
{
    return (struct ftms_client_event){
        .kind = (enum ftms_client_event_kind)any_int(0, FTMS_CLIENT_FAILED),
        .machine = any_machine(),
        .data = any_data(),
        .command = any_command(),
        .result = any_u8(),
        .att_error = any_u8(),
        .status = {any_u8(), any_bool(), any_int(INT16_MIN, UINT16_MAX)},
        .training_status = any_u8(),
        .reason = any_reason(),
        .may_pass = any_bool()};
}

static struct ftms_procedure any_procedure(void)
{
    return (struct ftms_procedure){.command = any_command(),
                                   .phase = (enum ftms_phase)any_int(0, FTMS_PHASE_GIVEN_UP),
                                   .was_repeated = any_bool(),
                                   .was_resized = any_bool(),
                                   .is_outdated = any_bool(),
                                   .is_answered = any_bool(),
                                   .result = any_u8(),
                                   .att_error = any_u8(),
                                   .repeat_at_ms = any_u64(),
                                   .expires_at_ms = any_u64()};
}

static void make_any_queue(struct ftms_queue *queue)
{
    for (unsigned i = 0; i < FTMS_COMMAND_KINDS; i++)
        queue->commands[i] = any_command();
    queue->count = (uint8_t)any_int(0, FTMS_COMMAND_KINDS);
}

static void make_any_control(struct ftms_control *control)
{
    control->handle = any_u16();
    control->by_command = any_bool();
    control->is_writing = any_bool();
    control->width_is_known = any_bool();
    control->resistance_octets = any_u8();
    make_any_queue(&control->urgent);
    make_any_queue(&control->waiting);
    control->newest_load = any_command();
    for (unsigned i = 0; i < FTMS_PROCEDURES_MAX; i++)
        control->open[i] = any_procedure();
    control->open_count = (uint8_t)any_int(0, FTMS_PROCEDURES_MAX);
}

static void any_client(void)
{
    make_any_gatt_client(&client.gatt, NULL);
    client.machine = any_machine();
    make_any_control(&client.control);
    client.record.data = any_data();
    client.data_handle = any_u16();
    client.status_handle = any_u16();
    client.training_handle = any_u16();
    client.has_feature = any_bool();
    client.step = (uint8_t)any_int(0, STEPS);
    client.step_handle = any_u16();
    client.step_was_repeated = any_bool();
    client.skipped_steps = any_u32();
    client.step_repeat_at_ms = any_u64();
    client.failure = any_reason();
    client.failure_may_pass = any_bool();
    client.failure_is_told = any_bool();
    for (unsigned i = 0; i < FTMS_CLIENT_EVENTS_MAX; i++)
        client.events[i] = any_event();
    client.first_event = (uint8_t)any_int(0, FTMS_CLIENT_EVENTS_MAX - 1);
    client.event_count = (uint8_t)any_int(0, FTMS_CLIENT_EVENTS_MAX);
    client.lost_events = any_u32();
}

/* Of the state, what any_client() says. */
static void look(void)
{
    /*@ assert client.step <= STEPS; */
    /*@ assert client.first_event < FTMS_CLIENT_EVENTS_MAX; */
    /*@ assert client.event_count <= FTMS_CLIENT_EVENTS_MAX; */
    /*@ assert client.control.urgent.count <= FTMS_COMMAND_KINDS; */
    /*@ assert client.control.waiting.count <= FTMS_COMMAND_KINDS; */
    /*@ assert client.control.open_count <= FTMS_PROCEDURES_MAX; */
    for (unsigned i = 0; i < FTMS_PROCEDURES_MAX; i++) {
        /*@ assert client.control.open[i].phase <= FTMS_PHASE_GIVEN_UP; */
    }
}

static void talk(void)
{
    const struct ftms_command command = any_command();
    uint8_t said[ATT_MTU_MAX];
    struct ftms_client_event event;

    switch (any_int(0, 7)) {
    case 0: ftms_client_receive(&client, any_u64(), heard, any_size(sizeof heard)); break;
    case 1: ftms_client_tick(&client, any_u64()); break;
    case 2: (void)!ftms_client_command(&client, &command); break;
    case 3: ftms_client_encode(&client, &command, said); break;
    case 4: ftms_client_next_pdu(&client, said); break;
    case 5: ftms_client_next_event(&client, &event); break;
    case 6: ftms_client_stuck_step(&client); break;
    default: ftms_client_skip_steps(&client, any_u32()); break;
    }
}

int main(void)
{
    MAKE_UNKNOWN(heard);
    ftms_client_start(&client, any_u64());
    look();
    any_client();
    talk();
    look();
    return 0;
}
