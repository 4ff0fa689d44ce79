/* A central that says anything at any time to a server of every kind of attribute, which may be
 * left undrained.
 * Eva: -eva-precision 1 -eva-plevel 300 */
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

static void talk(void)
{
    const uint16_t handle = (uint16_t)any_int(0, UINT16_MAX);
    uint8_t said[ATT_MTU_MAX];
    struct gatt_server_event event;

    switch (any_int(0, 6)) {
    case 0:
        MAKE_UNKNOWN(heard);
        gatt_server_receive(&server, heard, any_size(sizeof heard));
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
    if (gatt_server_init(&server, attributes, ATTRIBUTE_COUNT, (uint16_t)any_int(0, UINT16_MAX)) !=
        RESULT_OK)
        return 0;
    /*@ widen_hints global:"all", 7, 8, 23, 24, 95, 96, 512, 517; */
    while (any_bool())
        talk();
    return 0;
}
