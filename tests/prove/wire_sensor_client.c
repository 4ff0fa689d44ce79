/* A client of each kind of sensor in any state that it can be in, and one call; that it is in such
 * a state again. It begins in one: so no row of calls leaves them.
 * In place of: src/wire/gatt_client_receive.c
 * Eva: -eva-precision 1 -eva-plevel 1000 -eva-split-return full
 * Eva: -eva-use-spec gatt_client_next_pdu */
#include "any_gatt_talk.h"
#include "wire/sensor_client.h"

static struct sensor_client client;
static uint8_t heard[ATT_PDU_BUFFER];

static void any_event(struct sensor_client_event *event)
{
    event->kind = (enum sensor_client_event_kind)any_int(0, SENSOR_CLIENT_FAILED);
    event->heart.heart_bpm = any_u16();
    event->heart.contact = (enum heart_contact)any_int(0, HEART_CONTACT_GOOD);
    event->heart.has_energy = any_bool();
    event->heart.energy_kj = any_u16();
    event->heart.rr_count = any_u8();
    MAKE_UNKNOWN(event->heart.rr_1024);
    event->effort = (struct sensor_effort){any_bool(), any_bool(), any_int(INT16_MIN, INT16_MAX),
                                           any_int(0, CRANK_RPM_MAX)};
    event->reason = any_reason();
}

static void any_client(void)
{
    client.sensor = (enum sensor_kind)any_int(0, SENSOR_KIND_COUNT - 1);
    make_any_gatt_client(&client.gatt, NULL);
    client.value_handle = any_u16();
    client.config_handle = any_u16();
    client.crank = (struct crank){
        any_bool(), any_bool(), {any_u16(), any_u16()}, any_u64(), any_int(0, CRANK_RPM_MAX)};
    client.failure = any_reason();
    client.failure_is_told = any_bool();
    for (unsigned i = 0; i < SENSOR_CLIENT_EVENTS_MAX; i++)
        any_event(&client.events[i]);
    client.first_event = (uint8_t)any_int(0, SENSOR_CLIENT_EVENTS_MAX - 1);
    client.event_count = (uint8_t)any_int(0, SENSOR_CLIENT_EVENTS_MAX);
    client.lost_events = any_u32();
}

/* Of the state, what any_client() says. */
static void look(void)
{
    /*@ assert client.sensor < SENSOR_KIND_COUNT; */
    /*@ assert 0 <= client.crank.rpm <= CRANK_RPM_MAX; */
    /*@ assert client.first_event < SENSOR_CLIENT_EVENTS_MAX; */
    /*@ assert client.event_count <= SENSOR_CLIENT_EVENTS_MAX; */
}

static void talk(void)
{
    uint8_t said[ATT_MTU_MAX];
    struct sensor_client_event event;

    switch (any_int(0, 3)) {
    case 0: sensor_client_receive(&client, any_u64(), heard, any_size(sizeof heard)); break;
    case 1: sensor_client_tick(&client, any_u64()); break;
    case 2: sensor_client_next_pdu(&client, said); break;
    default: sensor_client_next_event(&client, &event); break;
    }
}

int main(void)
{
    MAKE_UNKNOWN(heard);
    sensor_client_start(&client, (enum sensor_kind)any_int(0, SENSOR_KIND_COUNT - 1), any_u64());
    look();
    any_client();
    talk();
    look();
    return 0;
}
