/* A server of every kind of attribute in any state that it can be in, and one call; that it is in
 * such a state again. It begins in one: so no row of calls leaves them.
 * Eva: -eva-precision 1 -eva-plevel 100000 -eva-slevel 1000 -eva-split-return full */
#include "unknown.h"
#include "wire/gatt_server.h"

enum { SHORT = 5, LONG = ATT_VALUE_MAX };

static const uint8_t service[] = {0x26, 0x18}, characteristic[] = {0x3A, 3, 0, 0xD9, 0x2A};
static uint8_t value[LONG];
static const struct gatt_attribute attributes[] = {
    {.handle = 1,
     .group_end = 6,
     .type = {.assigned = GATT_PRIMARY_SERVICE},
     .length = sizeof service,
     .value = service},
    {.handle = 2,
     .type = {.assigned = GATT_CHARACTERISTIC},
     .length = sizeof characteristic,
     .value = characteristic},
    {.handle = 3,
     .type = {.assigned = 0x2AD9},
     .access = GATT_ACCESS_READ | GATT_ACCESS_WRITE | GATT_ACCESS_WRITE_COMMAND,
     .length = LONG,
     .value = value},
    {.handle = 4, .type = {.assigned = GATT_CLIENT_CONFIG}},
    {.handle = 5, .type = {.is_full = true, .full = {1}}, .length = SHORT, .value = value},
    {.handle = 6, .type = {.assigned = 0x2ACC}},
};
#define ATTRIBUTE_COUNT (sizeof attributes / sizeof attributes[0])

static struct gatt_server server;
static uint8_t heard[ATT_PDU_BUFFER];

/* More than it can be in: any that keeps what is held true by each call. */
static void any_server(void)
{
    server.mtu = (uint16_t)any_int(0, ATT_MTU_MAX);
    MAKE_UNKNOWN(server.client_configs);
    server.indication =
        (enum gatt_server_indication)any_int(GATT_INDICATION_NONE, GATT_INDICATION_SENT);
    server.written_handle = (uint16_t)any_int(0, UINT16_MAX);
    server.indicated_handle = (uint16_t)any_int(0, UINT16_MAX);
    for (unsigned i = 0; i < GATT_SERVER_PDUS_MAX; i++) {
        MAKE_UNKNOWN(server.pdus[i].octets);
        server.pdus[i].length = (uint16_t)any_int(0, ATT_MTU_MAX);
    }
    server.pdu_first = (uint8_t)any_int(0, GATT_SERVER_PDUS_MAX - 1);
    server.turn = (enum gatt_server_turn)any_int(GATT_TURN_PEER, GATT_TURN_USER);
    server.pdu_count = (uint8_t)any_int(0, GATT_SERVER_PDUS_MAX - 1);
    if (any_bool()) {
        server.turn = GATT_TURN_QUEUED;
        server.pdu_count = (uint8_t)any_int(0, GATT_SERVER_PDUS_MAX);
    }
    for (unsigned i = 0; i < GATT_SERVER_EVENTS_MAX; i++) {
        MAKE_UNKNOWN(server.events[i].value);
        server.events[i].kind = (uint8_t)any_int(GATT_SERVER_WRITTEN, GATT_SERVER_CONFIRMED);
        server.events[i].is_command = any_bool();
        server.events[i].handle = (uint16_t)any_int(0, UINT16_MAX);
        server.events[i].length = (uint16_t)any_int(0, ATT_VALUE_MAX);
    }
    server.event_first = (uint8_t)any_int(0, GATT_SERVER_EVENTS_MAX - 1);
    server.event_count = (uint8_t)any_int(0, GATT_SERVER_EVENTS_MAX);
}

/* Of the state, what any_server() says. */
static void look(void)
{
    /*@ assert server.mtu <= ATT_MTU_MAX; */
    /*@ assert server.turn <= GATT_TURN_QUEUED && server.indication <= GATT_INDICATION_SENT; */
    /*@ assert server.pdu_first < GATT_SERVER_PDUS_MAX; */
    /*@ assert server.pdu_count < GATT_SERVER_PDUS_MAX || server.turn == GATT_TURN_QUEUED; */
    /*@ assert server.pdu_count <= GATT_SERVER_PDUS_MAX; */
    for (unsigned i = 0; i < GATT_SERVER_PDUS_MAX; i++) {
        /*@ assert server.pdus[i].length <= ATT_MTU_MAX; */
    }
    /*@ assert server.event_first < GATT_SERVER_EVENTS_MAX; */
    /*@ assert server.event_count <= GATT_SERVER_EVENTS_MAX; */
    for (unsigned i = 0; i < GATT_SERVER_EVENTS_MAX; i++) {
        const struct gatt_server_event_slot *event = &server.events[i];
        /*@ assert event->kind <= GATT_SERVER_CONFIRMED && event->length <= ATT_VALUE_MAX; */
    }
}

/* With a value that fits a write after its opcode and handle, or with one too many. */
static size_t any_length(void)
{
    return (size_t)(any_bool() ? any_int(0, 3 + ATT_VALUE_MAX)
                               : any_int(4 + ATT_VALUE_MAX, ATT_PDU_BUFFER));
}

static void talk(void)
{
    const uint16_t handle = (uint16_t)any_int(0, UINT16_MAX);
    uint8_t said[ATT_MTU_MAX];
    struct gatt_server_event event;

    switch (any_int(0, 6)) {
    case 0:
        MAKE_UNKNOWN(heard);
        gatt_server_receive(&server, heard, any_length());
        break;
    case 1: gatt_server_answer_write(&server, (enum att_error)any_int(0, UINT8_MAX)); break;
    case 2: (void)!gatt_server_notify(&server, handle, value, any_size(sizeof value)); break;
    case 3: (void)!gatt_server_indicate(&server, handle, value, any_size(sizeof value)); break;
    case 4: gatt_server_is_subscribed(&server, handle); break;
    case 5: gatt_server_next_pdu(&server, said); break;
    default: gatt_server_next_event(&server, &event); break;
    }
}

int main(void)
{
    MAKE_UNKNOWN(value);
    const uint16_t mtu = (uint16_t)any_int(0, UINT16_MAX);
    const enum result result = gatt_server_init(&server, attributes, ATTRIBUTE_COUNT, mtu);
    /*@ assert result == RESULT_OK; */
    look();
    any_server();
    talk();
    look();
    return 0;
}
