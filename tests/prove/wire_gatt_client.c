/* A client in any state that it can be in, and one call; that it is in such a state again. It
 * begins in one: so no row of calls leaves them.
 * Eva: -eva-precision 1 -eva-plevel 100000 -eva-split-return full
 * Eva: -eva-slevel-function gatt_client_receive:100,dispatch:50,talk:50
 * Eva: -eva-interprocedural-splits -eva-split-limit 600 */
#include "any_gatt_client.h"

static struct gatt_client client;
static struct gatt_known earlier;
static uint8_t heard[ATT_PDU_BUFFER];

static void talk(void)
{
    const uint16_t handle = (uint16_t)any_int(0, UINT16_MAX);
    uint8_t said[ATT_MTU_MAX];
    struct gatt_event event;

    switch (any_int(0, 11)) {
    case 0: gatt_client_receive(&client, any_u64(), heard, any_size(sizeof heard)); break;
    case 1: gatt_client_tick(&client, any_u64()); break;
    case 2: gatt_client_set_patience(&client, any_u32()); break;
    case 3: gatt_client_wait_anew(&client); break;
    case 4: gatt_client_remember(&client, &earlier); break;
    case 5: (void)!gatt_client_read(&client, handle); break;
    case 6: (void)!gatt_client_write(&client, handle, heard, any_size(sizeof heard)); break;
    case 7: (void)!gatt_client_write_first(&client, handle, heard, any_size(sizeof heard)); break;
    case 8: (void)!gatt_client_write_command(&client, handle, heard, any_size(sizeof heard)); break;
    case 9: gatt_client_next_pdu(&client, said); break;
    case 10: gatt_client_next_event(&client, &event); break;
    default: gatt_client_find(&client, handle, (uint16_t)any_int(0, UINT16_MAX)); break;
    }
}

int main(void)
{
    MAKE_UNKNOWN(heard);
    earlier = any_known();
    gatt_client_start(&client, any_u64());
    look_at_gatt_client(&client);
    make_any_gatt_client(&client, &earlier);
    /*@ dynamic_split client.phase; */
    /*@ dynamic_split client.mtu == 0; */
    talk();
    look_at_gatt_client(&client);
    return 0;
}
